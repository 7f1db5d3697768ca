"""The service for systemd: what stands in it, and what systemd itself finds of it where it is at hand."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from collector import cli
from collector.daemon import FINISH_S, JOIN_S
from collector.service import STOP_S, Scope, unit
from collector.settings import SerialSettings
from tests.fakes_advice import bed, garden

needs_systemd = pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="no systemd on this machine")
# Of 10, by `systemd-analyze security`: below this it calls a service OK.
EXPOSURE_MOST = 3.0
GARDEN = """
[garden]
name = "Terrace 100%"
latitude_deg = 36.0
longitude_deg = -5.0
[store]
path = "garden.db"
[[serial]]
port = "/dev/ttyUSB0"
[[bed]]
id = "upper"
"""


def text(scope, *, file=Path("/srv/my garden/100%.toml"), **more):
    told = garden(bed(), path=Path("/var/lib/cooldepth/garden.db"), **more)
    return unit(scope, told, file, ["/opt/cool depth/bin/cooldepth"], user="gardener", listen=["--port", "8050"])


@pytest.fixture
def written(tmp_path, request):
    """The service of a garden in a folder of its own, by the command."""
    (tmp_path / "garden.toml").write_text(GARDEN)
    words = ["check", "--garden", str(tmp_path / "garden.toml"), "--systemd", request.param, "--into", str(tmp_path)]
    assert cli.main([*words, "--run-as", "gardener"]) == 0
    return tmp_path / "cooldepth.service"


def test_the_call_is_quoted_as_systemd_reads_it():
    call = re.search(r"^ExecStart=(.*)$", text(Scope.SYSTEM), re.MULTILINE)[1]
    assert call == '"/opt/cool depth/bin/cooldepth" run --garden "/srv/my garden/100%%.toml" --port 8050'


def test_it_may_write_where_store_and_garden_file_are_and_touch_serial_ports_only_where_there_are_some():
    without = text(Scope.SYSTEM)
    assert 'ReadWritePaths=/var/lib/cooldepth "/srv/my garden"' in without
    assert "PrivateDevices=yes" in without
    assert "DeviceAllow" not in without
    wired = text(Scope.SYSTEM, serial=(SerialSettings("/dev/ttyUSB0"),))
    assert "DeviceAllow=char-ttyUSB rw" in wired
    assert "PrivateDevices" not in wired
    assert "User=" not in text(Scope.USER)  # it is the user's who starts it


def test_it_waits_for_no_network_and_gives_the_end_the_time_that_it_takes():
    assert "network-online" not in text(Scope.SYSTEM)
    assert STOP_S > FINISH_S + JOIN_S


@needs_systemd
@pytest.mark.parametrize("written", ["user", "system"], indirect=True)
def test_systemd_finds_it_sound(written, capsys):
    mode = ["--user"] if "default.target" in written.read_text() else []
    done = subprocess.run(["systemd-analyze", "verify", *mode, str(written)], capture_output=True, text=True, check=False)
    assert "cooldepth.service" not in done.stdout + done.stderr
    assert capsys.readouterr().err == ""


@needs_systemd
@pytest.mark.parametrize("written", ["system"], indirect=True)
def test_systemd_finds_little_that_it_may_do(written):
    call = ["systemd-analyze", "security", "--offline=true", "--no-pager", str(written)]
    said = subprocess.run(call, capture_output=True, text=True, check=False).stdout
    assert float(re.search(r"Overall exposure level for .*: ([\d.]+)", said)[1]) <= EXPOSURE_MOST


def test_root_and_a_folder_that_is_not_there_are_refused(tmp_path, capsys):
    (tmp_path / "garden.toml").write_text(GARDEN)
    words = ["check", "--garden", str(tmp_path / "garden.toml"), "--systemd", "system"]
    assert cli.main([*words, "--run-as", "root"]) == 1
    assert "the service needs no root" in capsys.readouterr().err
    assert cli.main([*words, "--run-as", "gardener", "--into", str(tmp_path / "gone")]) == 1
    assert "cannot be written: No such file or directory" in capsys.readouterr().err
