"""The command line as its contract says: columns, exit statuses, and errors that explain themselves."""

import csv
import io
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import argon2
import pytest

from collector.cli import main
from collector.model import Batch, Flag, Reading, Refusal
from collector.stores.sqlite import SqliteReadings, SqliteReadingStore

GARDEN = """
[garden]
name = "Test"
latitude_deg = 36.0
longitude_deg = -5.0
timezone = "Europe/Madrid"

[store]
kind = "sqlite"
path = "garden.db"

[[bed]]
id = "upper"
name = "Upper bed"
area_m2 = 4.0
soil = "loam"

  [[bed.probe]]
  id = "t12"
  quantity = "soil_temperature"
  depth_cm = 12
  address = "stake/t12"

  [[bed.probe]]
  id = "m12"
  quantity = "soil_moisture"
  depth_cm = 12.5
  address = "stake/m12"
"""


@pytest.fixture
def garden(tmp_path):
    path = tmp_path / "garden.toml"
    path.write_text(GARDEN)
    return path


def put(garden: Path, **batch):
    store = SqliteReadingStore(garden.parent / "garden.db")
    store.commit(Batch(**batch))
    store.close()


def test_export_writes_the_columns_of_the_contract_oldest_first(garden, capsys):
    late = Reading("t12", 1776067200123, 17.4375, 17.4375, 1776067200500)
    early = Reading("m12", 1776060000000, 0.231, 23.1, 1776067200500, Flag.JUMP | Flag.STUCK)
    put(garden, readings=(late, early))
    assert main(["export", "--garden", str(garden), "--format", "csv"]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "time_utc,probe,quantity,depth_cm,value,unit,raw,flags",
        "2026-04-13T06:00:00.000Z,m12,soil_moisture,12.5,0.231,/,23.1,stuck jump",
        "2026-04-13T08:00:00.123Z,t12,soil_temperature,12,17.4375,Cel,17.4375,",
    ]


def test_export_takes_probes_and_a_span(garden, capsys):
    put(garden, readings=tuple(Reading("t12", 1776067200000 + hour * 3600_000, 17.0, 17.0, 0) for hour in range(24)))
    span = ["--from", "2026-04-13T10:00:00Z", "--to", "2026-04-13T14:00:00+02:00"]
    assert main(["export", "--garden", str(garden), "--probe", "t12", *span]) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert [row["time_utc"] for row in rows] == ["2026-04-13T10:00:00.000Z", "2026-04-13T11:00:00.000Z"]


def test_export_of_a_probe_that_is_not_there_names_those_that_are(garden, capsys):
    assert main(["export", "--garden", str(garden), "--probe", "t13"]) == 2
    assert "no probe 't13'; it has m12, t12" in capsys.readouterr().err


def test_export_of_a_garden_that_has_heard_nothing_is_the_header_alone(garden, capsys):
    assert main(["export", "--garden", str(garden)]) == 0
    assert capsys.readouterr().out.splitlines() == ["time_utc,probe,quantity,depth_cm,value,unit,raw,flags"]


def test_refused_lists_what_was_refused_with_its_payload(garden, capsys):
    put(garden, refusals=(Refusal(1776067200000, "mqtt garden/x", "not JSON", b"\x00[{", 3),))
    assert main(["refused", "--garden", str(garden), "--format", "csv"]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "received_utc,source,reason,payload_base64",
        "2026-04-13T08:00:00.000Z,mqtt garden/x,not JSON,AFt7",
    ]


def test_import_writes_what_it_can_lists_the_rest_and_changes_nothing_the_second_time(garden, capsys):
    table = garden.parent / "old.csv"
    table.write_text(
        "probe,value,time_utc\nt12,16.5,2026-04-01T06:00:00Z\nt99,16.5,2026-04-01T06:00:00Z\nt12,warm,2026-04-01T07:00:00Z\n"
    )
    for _ in range(2):
        assert main(["import", "--garden", str(garden), "--yes", str(table)]) == 1
        told = capsys.readouterr()
        assert f"{table}:3: " in told.err
        assert f"{table}:4: " in told.err
        assert "1 readings stored, 2 rows refused" in told.out
        readings = SqliteReadings(garden.parent / "garden.db")
        assert [(each.probe_id, each.value) for each in readings.readings(["t12"], 0, 2**62)] == [("t12", 16.5)]
        readings.close()


def test_import_without_yes_only_judges_the_file(garden, capsys):
    table = garden.parent / "old.csv"
    table.write_text("time_utc,probe,value\n2026-04-01T06:00:00Z,t12,16.5\n")
    assert main(["import", "--garden", str(garden), str(table)]) == 0
    assert "nothing is written without --yes" in capsys.readouterr().out
    readings = SqliteReadings(garden.parent / "garden.db")
    assert dict(readings.latest()) == {}
    readings.close()


def test_import_of_a_file_that_is_not_there_is_explained(garden, capsys):
    assert main(["import", "--garden", str(garden), "--yes", "nowhere.csv"]) == 1
    assert "nowhere.csv: cannot be read" in capsys.readouterr().err


def test_five_mistakes_in_a_garden_file_are_told_at_once(garden, capsys):
    wrong = GARDEN.replace("latitude_deg = 36.0", "latitude_deg = 136.0").replace("depth_cm = 12\n", "deph_cm = 12\n")
    wrong = wrong.replace("area_m2 = 4.0", 'area_m2 = "four"').replace('soil = "loam"', 'soil = "lome"')
    garden.write_text(wrong.replace("Europe/Madrid", "Europe/Madrit"))
    assert main(["check", "--garden", str(garden)]) == 2
    told = capsys.readouterr().err
    for expected in ("latitude_deg", "depth_cm?", "area_m2", "loam", "Europe/Madrid"):
        assert expected in told


def test_check_says_of_everything_whether_it_can_be_reached(garden, capsys):
    assert main(["check", "--garden", str(garden), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert all(each["well"] for each in found)
    assert str(garden.parent / "garden.db") in " ".join(each["what"] for each in found)


def test_check_names_a_broker_that_is_away(garden, capsys):
    garden.write_text(GARDEN + '\n[mqtt]\nhost = "127.0.0.1"\nport = 9\ntopics = ["garden/#"]\n')
    assert main(["check", "--garden", str(garden)]) == 1
    told = capsys.readouterr().out
    assert "127.0.0.1:9" in told
    assert "trying again" not in told  # it ends here


def test_a_password_becomes_a_hash_that_verifies_it(garden, capsys, monkeypatch):
    monkeypatch.setattr(sys, "stdin", io.StringIO("mulch and moonlight\n"))
    assert main(["user", "--stdin"]) == 0
    name, _, value = capsys.readouterr().out.strip().partition("=")
    assert name == "COOLDEPTH_PASSWORD_HASH"
    assert argon2.PasswordHasher().verify(value.strip("'"), "mulch and moonlight")


def test_a_short_password_is_not_taken(capsys, monkeypatch):
    monkeypatch.setattr(sys, "stdin", io.StringIO("garlic\n"))
    assert main(["user", "--stdin"]) == 1
    assert "want at least 10 characters, got 6" in capsys.readouterr().err


@pytest.mark.parametrize(
    "command", ["demo", "run", "collect", "serve", "check", "export", "refused", "import", "forecast", "user"]
)
def test_every_command_has_help_with_an_example(command, capsys):
    with pytest.raises(SystemExit) as ended:
        main([command, "--help"])
    assert ended.value.code == 0
    assert f"example: cooldepth {command}" in capsys.readouterr().out


def test_a_wrong_call_exits_with_2(capsys):
    with pytest.raises(SystemExit) as ended:
        main(["export", "--from", "yesterday"])
    assert ended.value.code == 2
    assert "'yesterday' is no time; want" in capsys.readouterr().err


def test_output_that_nobody_reads_on_ends_quietly(garden):
    put(garden, readings=tuple(Reading("t12", 1776067200000 + n, 17.0, 17.0, 0) for n in range(20_000)))
    piped = f"{sys.executable} -m collector export --garden {garden} | head -n 1"
    done = subprocess.run(["sh", "-c", piped], capture_output=True, text=True, check=True)
    assert done.stdout.startswith("time_utc,")
    assert done.stderr == ""


def test_collect_ends_with_0_when_it_is_told_to_stop(garden):
    with subprocess.Popen(
        [sys.executable, "-m", "collector", "collect", "--garden", str(garden)],
        stderr=subprocess.PIPE,
        text=True,
        env=dict(os.environ),
    ) as process:
        for _ in range(200):
            if (garden.parent / "garden.db").exists():
                break
            time.sleep(0.05)
        time.sleep(0.5)
        process.send_signal(signal.SIGTERM)
        _, told = process.communicate(timeout=15)
    assert process.returncode == 0
    assert "everything acknowledged is stored" in told
