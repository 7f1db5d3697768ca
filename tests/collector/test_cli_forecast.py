"""`cooldepth forecast` as its contract says, from a garden file and a store on disk."""

import csv
import io

import numpy as np
import pytest

from collector import wiring
from collector.cli import main
from collector.model import Batch, Reading
from collector.stores.sqlite import SqliteReadingStore
from collector.tables import time_text
from tests.collector.soil.forecast import made
from tests.collector.test_cli import GARDEN
from tests.fakes import FakeClock

DAYS, HOUR_MS = 20, 3_600_000
NOW_MS = made.START_MS + DAYS * 24 * HOUR_MS
AIR = made.weather(DAYS + 7)
SOIL_C = made.soil_c(AIR, 0.12)
WANTED = ["--bed", "upper", "--depth-cm", "12", "--hours", "48", "--format", "csv"]


@pytest.fixture
def garden(tmp_path):
    (tmp_path / "garden.toml").write_text(GARDEN)
    store = SqliteReadingStore(tmp_path / "garden.db")
    said = zip(AIR.time_ms.tolist(), SOIL_C.tolist(), strict=True)
    store.commit(Batch(readings=tuple(Reading("t12", at_ms, value, value, at_ms) for at_ms, value in said)))
    store.close()
    names = list(AIR.columns)
    rows = zip(AIR.time_ms.tolist(), *(AIR.columns[name].tolist() for name in names), strict=True)
    lines = [",".join(["time_utc", *names]), *(",".join([time_text(at_ms), *map(str, values)]) for at_ms, *values in rows)]
    (tmp_path / "weather.csv").write_text("\n".join(lines))
    return tmp_path / "garden.toml"


def asked(garden, capsys, *more):
    assert main(["forecast", "--garden", str(garden), *WANTED, *more]) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert [row["time_utc"] for row in rows] == [time_text(NOW_MS + hour * HOUR_MS) for hour in range(1, 49)]
    return np.array([[float(row[name]) for name in ("mean_c", "low_c", "high_c")] for row in rows])


def off_k(found):
    return made.rmse_k(found[:, 0], SOIL_C[DAYS * 24 : DAYS * 24 + 48])


def test_from_a_moment_on_with_a_weather_table(garden, capsys):
    found = asked(garden, capsys, "--at", time_text(NOW_MS), "--weather", str(garden.parent / "weather.csv"))
    assert off_k(found) < 0.5
    assert (found[:, 1] < found[:, 0]).all()
    assert (found[:, 0] < found[:, 2]).all()


def test_from_now_on_with_the_weather_that_the_garden_file_names(garden, capsys, monkeypatch):
    monkeypatch.setattr(wiring.clocks, "from_environment", lambda: FakeClock(NOW_MS))
    without = asked(garden, capsys)
    garden.write_text(GARDEN + '\n[weather]\nsource = "file"\nfile = "weather.csv"\n')
    assert off_k(asked(garden, capsys)) < min(0.6, off_k(without))


def test_a_past_moment_does_not_hear_of_weather_that_was_told_later(garden, capsys):
    before = asked(garden, capsys, "--at", time_text(NOW_MS))
    garden.write_text(GARDEN + '\n[weather]\nsource = "file"\nfile = "weather.csv"\n')
    assert asked(garden, capsys, "--at", time_text(NOW_MS)) == pytest.approx(before)


def test_a_bed_that_is_not_there_is_told_with_those_that_are(garden, capsys):
    assert main(["forecast", "--garden", str(garden), "--bed", "uper", "--depth-cm", "12"]) == 2
    assert "no bed 'uper'; it has upper" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (["--depth-cm", "900"], "'900' is no depth of this soil; want 0 to 200 cm below its surface"),
        (["--depth-cm", "deep"], "'deep' is no depth of this soil"),
        (["--depth-cm", "nan"], "'nan' is no depth of this soil"),
        (["--depth-cm", "12", "--hours", "0"], "'0' is no number of hours ahead; want 1 to 168"),
        (["--depth-cm", "12", "--hours", "169"], "'169' is no number of hours ahead"),
    ],
)
def test_a_depth_or_hours_that_cannot_be_are_bad_usage(garden, capsys, more, told):
    with pytest.raises(SystemExit) as ended:
        main(["forecast", "--garden", str(garden), "--bed", "upper", *more])
    assert ended.value.code == 2
    assert told in capsys.readouterr().err


def test_a_bed_without_readings_is_a_failure_that_says_why(garden, capsys):
    assert main(["forecast", "--garden", str(garden), *WANTED, "--at", "2020-01-01T00:00:00Z"]) == 1
    assert "no forecast for bed upper at 2020-01-01" in capsys.readouterr().err
