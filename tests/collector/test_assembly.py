"""The collector put together: what it tells of itself reaches the notices and the pages, and its figures are served."""

from __future__ import annotations

import re
import socket
import time
import urllib.request

import pytest

from collector import assembly, self_watch, wiring
from collector.stores.season import SqliteSeason
from tests.real.mosquitto import free_port

GARDEN = """
[garden]
latitude_deg = 36.0
longitude_deg = -5.0
[store]
path = "garden.db"
[metrics]
port = {port}
[[bed]]
id = "upper"
[[bed.probe]]
id = "t12"
quantity = "soil_temperature"
depth_cm = 12
address = "stake/t12"
"""


@pytest.fixture
def garden(tmp_path):
    (tmp_path / "garden.toml").write_text(GARDEN.format(port=free_port()))
    return wiring.read_garden(tmp_path / "garden.toml")


@pytest.fixture
def season(garden):
    one = SqliteSeason(garden.store_path)
    yield one
    one.close()


def titles(season):
    return [notice.title for notice in season.notices(10)]


def test_an_absence_is_told_at_the_next_start_and_not_again_at_the_one_after(garden, season):
    season.report([], round(time.time() * 1000) - 20 * 60_000)
    with assembly.open_daemon(garden) as daemon:
        daemon.report([])
        daemon.report([])
        assert titles(season) == ["The collector was not running"]
    with assembly.open_daemon(garden) as daemon:
        daemon.report([])
        (notice,) = season.notices(10)
        assert notice.cleared_ms is not None


def test_a_disk_that_fills_is_told_on_the_pages_and_as_a_notice(garden, season, monkeypatch):
    monkeypatch.setattr(self_watch.DiskWatch, "look", lambda _self: (self_watch.Due.SOON, "900 MB are left."))
    with assembly.open_daemon(garden) as daemon:
        daemon.report([])
        assert titles(season) == ["The disk of the collector fills"]
        assert "900 MB are left." in season.last_report().troubles


def test_figures_are_served_as_long_as_it_is_open(garden):
    address = f"http://127.0.0.1:{garden.metrics_port}/metrics"
    with assembly.open_daemon(garden):
        text = urllib.request.urlopen(address, timeout=5).read().decode()
        assert re.search(r"^cooldepth_readings_total 0\.0$", text, re.MULTILINE)
    with pytest.raises(OSError, match="refused"):
        urllib.request.urlopen(address, timeout=5)


def test_where_the_port_of_the_figures_is_taken_readings_are_taken_all_the_same_and_it_is_told(garden, season):
    with socket.create_server(("127.0.0.1", garden.metrics_port)), assembly.open_daemon(garden) as daemon:
        daemon.report([])
        (told,) = season.last_report().troubles
        assert told.startswith(f"figures are not served: port {garden.metrics_port}: Address already in use")
