"""`cooldepth calibrate` and `recalibrate`: a calibration entered a month late, replayed, taken back."""

import json

import pytest

from collector.cli import main
from collector.model import Reading
from tests.collector.test_cli import GARDEN, put

DAY_MS = 86_400_000
NOON_MS = 1_776_081_600_000  # 2026-04-13T12:00:00Z


@pytest.fixture
def garden(tmp_path):
    path = tmp_path / "garden.toml"
    path.write_text(GARDEN)
    put(path, readings=tuple(Reading("t12", NOON_MS + day * DAY_MS, 15.4, 15.4, NOON_MS + day * DAY_MS) for day in range(4)))
    return path


def call(garden, *words):
    command, *rest = words
    return main([command, "--garden", str(garden), *rest])


def exported(garden, capsys):
    capsys.readouterr()
    assert call(garden, "export") == 0
    return [line.split(",")[4] for line in capsys.readouterr().out.splitlines()[1:]]


def test_entered_late_it_is_replayed_from_its_date_on_and_taken_back(garden, capsys):
    assert call(garden, "calibrate", "add", "--probe", "t12", "--point", "0.4=0", "--from", "2026-04-15", "--note", "ice") == 0
    told = capsys.readouterr()
    assert told.out == "1  t12 from 2026-04-15T00:00:00.000Z  points 0.4=0 (takes Cel): ice\n"
    assert "recalibrate --garden" in told.err
    assert exported(garden, capsys) == ["15.4"] * 4
    assert call(garden, "recalibrate", "--probe", "t12", "--from", "2026-04-15") == 0
    assert "t12: 2 readings, 2 changed" in capsys.readouterr().out
    assert exported(garden, capsys) == ["15.4", "15.4", "15.0", "15.0"]
    assert call(garden, "calibrate", "strike", "--number", "1") == 0
    assert call(garden, "recalibrate") == 0
    assert exported(garden, capsys) == ["15.4"] * 4
    assert call(garden, "calibrate", "--json") == 0
    (one,) = json.loads(capsys.readouterr().out)
    assert one["struck_utc"] is not None
    assert one["curve"] == {"kind": "points", "takes": "Cel", "points": [[0.4, 0.0]]}


def test_a_kind_of_probe_holds_for_all_that_it_ever_said(garden, capsys):
    words = ["calibrate", "add", "--probe", "t12", "--curve", "beta", "--constant", "beta_k=3950"]
    assert call(garden, *words) == 0
    assert "from 1970-01-01T00:00:00.000Z  beta takes Ohm, constants [3950.0, 10000.0]" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "told", "status"),
    [
        (["add"], "--probe is missing", 1),
        (["add", "--probe", "x"], "no probe 'x'; it has m12, t12", 2),
        (["add", "--probe", "t12"], "a curve through 0 points", 1),
        (["add", "--probe", "t12", "--point", "0.4"], "--point '0.4': want two numbers, as 0.4=0", 1),
        (["add", "--probe", "t12", "--curve", "beta"], "--constant beta_k=... is missing", 1),
        (["add", "--probe", "t12", "--curve", "topp", "--constant", "a=1"], "--constant a: a curve topp has none", 1),
        (["add", "--probe", "t12", "--curve", "topp"], "is for soil_moisture", 1),
        (["add", "--probe", "m12", "--point", "1=0.4", "--thermometer", "m12"], "want a soil thermometer", 1),
        (["strike"], "--number is missing", 1),
        (["strike", "--number", "9"], "calibration 9: there is none of that number", 1),
    ],
)
def test_what_cannot_be_is_told_and_nothing_is_kept(garden, capsys, words, told, status):
    assert call(garden, "calibrate", *words) == status
    assert told in capsys.readouterr().err
    assert call(garden, "calibrate", "--json") == 0
    assert json.loads(capsys.readouterr().out) == []


def test_readings_that_a_calibration_makes_impossible_are_told(garden, capsys):
    points = ["--point", "0=0", "--point", "1=1000", "--from", "2026-01-01"]
    assert call(garden, "calibrate", "add", "--probe", "t12", *points) == 0
    assert call(garden, "recalibrate") == 1
    assert "4 readings cannot be what their probe measures" in capsys.readouterr().err
    assert exported(garden, capsys) == ["15.4"] * 4
