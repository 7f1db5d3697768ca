"""What is let go is said: the bound of what no probe claims, exports of means, imports into what went, and what the files say."""

import pytest

from collector import cli, garden_file
from collector.errors import GardenFileError
from collector.model import Batch, Refusal, Unclaimed
from collector.stores import aside
from collector.stores.sqlite import SqliteReadingStore
from collector.stores.upkeep import DAY_MS, Upkeep
from tests.collector.made_readings import MINUTE_MS, NOON_MS, reading
from tests.fakes import FakeClock

GARDEN = """
[garden]
name = "Lower terrace"
latitude_deg = 37.1
longitude_deg = -7.6
timezone = "UTC"

[store]
path = "garden.db"
keep_raw_days = 120

[[bed]]
id = "terrace"
[[bed.probe]]
id = "t12"
quantity = "soil_temperature"
depth_cm = 12
address = "urn:t12"
"""


def heard(address, minute):
    return Unclaimed(address, "Cel", NOON_MS + minute * MINUTE_MS, float(minute), NOON_MS + minute * MINUTE_MS, "mqtt garden/x")


def test_of_what_no_probe_claims_the_oldest_goes_beyond_a_bound(store, readings, monkeypatch):
    monkeypatch.setattr(aside, "UNCLAIMED_MOST", 100)
    for minute in range(0, 300, 10):
        store.commit(Batch(unclaimed=tuple(heard(f"urn:{number % 4}", number) for number in range(minute, minute + 10))))
        assert readings.counts().unclaimed <= 100
    assert readings.counts().unclaimed == 100
    assert [one.value for one in readings.unclaimed()] == [296.0, 297.0, 298.0, 299.0]


def test_an_address_of_which_nothing_is_left_is_forgotten_and_may_come_again(store, readings, monkeypatch):
    monkeypatch.setattr(aside, "UNCLAIMED_MOST", 10)
    store.commit(Batch(unclaimed=(heard("urn:gone", 0),)))
    store.commit(Batch(unclaimed=tuple(heard("urn:loud", minute) for minute in range(1, 30))))
    assert [one.address for one in readings.unclaimed()] == ["urn:loud"]
    store.commit(Batch(unclaimed=(heard("urn:gone", 40),)))
    assert [one.address for one in readings.unclaimed()] == ["urn:gone", "urn:loud"]


def test_a_measurement_that_comes_again_counts_once(store, readings):
    for _ in range(3):
        store.commit(Batch(unclaimed=(heard("urn:a", 1),)))
    assert readings.counts().unclaimed == 1


def test_refusals_that_are_kept_are_told_apart_from_all_that_there_were(store, readings, monkeypatch):
    monkeypatch.setattr(aside, "REFUSED_MOST_BYTES", 10 * (100 + aside.REFUSAL_BYTES))
    for number in range(25):
        store.commit(Batch(refusals=(Refusal(NOON_MS + number, "s", "r", b"x" * 100, 100),)))
    counts = readings.counts()
    assert (counts.refused, counts.refused_kept) == (25, 10)
    assert [one.received_ms - NOON_MS for one in readings.refused()] == list(range(15, 25))


# ---------------------------------------------------------------- by command


@pytest.fixture
def pruned(tmp_path):
    """A garden whose first month of readings went; the path of its file."""
    path = tmp_path / "garden.toml"
    path.write_text(GARDEN)
    store = SqliteReadingStore(tmp_path / "garden.db")
    store.commit(Batch(readings=tuple(reading(minute=60 * hour, value=float(hour % 24)) for hour in range(24 * 150))))
    store.close()
    upkeep = Upkeep(tmp_path / "garden.db", 120, FakeClock(NOON_MS + 150 * DAY_MS))
    while upkeep.work():
        pass
    upkeep.close()
    return path


def test_an_export_says_what_went_and_how_to_get_what_is_kept_of_it(pruned, capsys):
    assert cli.main(["export", "--garden", str(pruned)]) == 0
    told = capsys.readouterr()
    assert len(told.out.splitlines()) == 1 + 24 * 120 + 12
    assert "single readings before 2026-05-13T00:00:00.000Z were let go" in told.err
    assert "--means 10min" in told.err
    assert cli.main(["export", "--garden", str(pruned), "--from", "2026-06-01"]) == 0
    assert capsys.readouterr().err == ""


def test_an_export_of_means_has_what_went_too(pruned, capsys):
    assert cli.main(["export", "--garden", str(pruned), "--means", "day", "--to", "2026-04-16"]) == 0
    told = capsys.readouterr()
    assert told.err == ""
    assert told.out.splitlines()[:3] == [
        "time_utc,probe,quantity,depth_cm,unit,least,mean,most,count",
        "2026-04-13T00:00:00.000Z,t12,soil_temperature,12,Cel,0.0,5.5,11.0,12",
        "2026-04-14T00:00:00.000Z,t12,soil_temperature,12,Cel,0.0,11.5,23.0,24",
    ]


def test_an_import_into_what_went_is_refused_with_its_line_and_the_rest_is_taken(pruned, tmp_path, capsys):
    table = tmp_path / "late.csv"
    table.write_text("time_utc,probe,value\n2026-04-20T06:00:00Z,t12,9.5\n2026-08-20T06:30:00Z,t12,9.5\n")
    for _ in range(2):
        assert cli.main(["import", "--garden", str(pruned), "--yes", str(table)]) == 1
        told = capsys.readouterr()
        assert f"{table}:2: single readings of t12 before 2026-05-13T00:00:00.000Z were let go" in told.err
        assert "1 readings stored, 1 rows refused" in told.out


def test_refused_says_that_older_ones_went(pruned, capsys, monkeypatch):
    monkeypatch.setattr(aside, "REFUSED_MOST_BYTES", 3 * (100 + aside.REFUSAL_BYTES))
    store = SqliteReadingStore(pruned.with_name("garden.db"))
    store.commit(Batch(refusals=tuple(Refusal(NOON_MS, "s", "r", b"x" * 100, 100) for _ in range(7))))
    store.close()
    assert cli.main(["refused", "--garden", str(pruned)]) == 0
    assert "the newest 3 of 7" in capsys.readouterr().err


def test_pruning_is_of_sqlite_and_of_no_less_than_what_is_learned_from(tmp_path):
    assert garden_file.parse(GARDEN, "garden.toml", {}, tmp_path).store.keep_raw_days == 120
    for text, said in (
        (GARDEN.replace("120", "30"), "keep_raw_days = 30: want a whole number"),
        (
            GARDEN.replace("[store]", '[store]\nkind = "influx"\nurl = "http://127.0.0.1:8086"\norg = "o"\nbucket = "b"'),
            "keep_raw_days: has no meaning",
        ),
    ):
        with pytest.raises(GardenFileError, match=said):
            garden_file.parse(text, "garden.toml", {}, tmp_path)
