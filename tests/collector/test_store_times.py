"""Numbers of messages that come again, and a file that goes away: what the store keeps apart or puts right."""

import sqlite3
from contextlib import closing

import pytest

from collector.errors import StoreError
from collector.model import Arrival, Batch, Reading
from collector.stores import schema
from collector.stores.aside import ARRIVALS_KEPT
from collector.stores.sqlite import SqliteReadings, SqliteReadingStore

NOON_MS = 1_776_081_600_000
BOOT_MS = 946_684_800_000  # 2000-01-01, where the clock of many a board begins


@pytest.fixture
def path(tmp_path):
    return tmp_path / "garden.db"


@pytest.fixture
def store(path):
    opened = SqliteReadingStore(path)
    yield opened
    opened.close()


# ---------------------------------------------------------------- numbers of messages


def arrival(number, received_ms=NOON_MS):
    return Arrival("mqtt garden/a", number, b"12345678", received_ms)


def test_a_number_is_forgotten_long_before_it_stands_for_another_message(store):
    store.commit(Batch(arrivals=(arrival(7),), numbered=1))
    for _ in range(32):
        store.commit(Batch(numbered=ARRIVALS_KEPT // 32 - 1))  # messages with times of their own
    assert store.first_arrival("mqtt garden/a", 7, b"12345678") == NOON_MS
    store.commit(Batch(numbered=40))
    assert store.first_arrival("mqtt garden/a", 7, b"12345678") is None


def test_numbers_of_a_session_that_is_gone_are_forgotten(store):
    store.commit(Batch(arrivals=(arrival(7),), numbered=1))
    store.forget_arrivals()
    assert store.first_arrival("mqtt garden/a", 7, b"12345678") is None


def test_a_store_of_an_older_version_counts_on_from_the_arrivals_it_has(path, monkeypatch):
    before = next(number for number, made in enumerate(schema.MIGRATIONS) if "COLUMN numbered" in made[0])
    with monkeypatch.context() as old:  # as it was before messages were counted
        old.setattr(schema, "MIGRATIONS", schema.MIGRATIONS[:before])
        schema.open_writer(path).close()
    with closing(sqlite3.connect(path)) as old_file:
        old_file.execute("INSERT INTO arrival VALUES (900, 'mqtt garden/a', 3, x'3132333435363738', 5)")
        old_file.commit()
    store = SqliteReadingStore(path)
    store.commit(Batch(arrivals=(arrival(4),), numbered=1))
    assert store.first_arrival("mqtt garden/a", 3, b"12345678") == 5
    assert store.first_arrival("mqtt garden/a", 4, b"12345678") == NOON_MS
    store.close()


# ---------------------------------------------------------------- what the age of the last reading is told by


def test_an_import_does_not_count_as_the_last_reading_that_came(path, store):
    store.commit(Batch(readings=(Reading("t12", NOON_MS, 18.0, 18.0, NOON_MS + 5),)))
    for year_ms in (0, 4_070_908_800_000):
        store.commit(Batch(readings=(Reading("t12", year_ms, 18.0, 18.0, year_ms),), imported=True))
    readings = SqliteReadings(path)
    assert readings.counts().last_received_ms == NOON_MS + 5
    readings.close()


# ---------------------------------------------------------------- a file that goes away


@pytest.mark.parametrize("how", ["renamed", "deleted", "replaced"])
def test_a_file_that_is_no_longer_where_it_was_is_told_and_nothing_is_acknowledged(path, store, how):
    store.commit(Batch(readings=(Reading("t12", NOON_MS, 18.0, 18.0, NOON_MS),)))
    if how == "deleted":
        path.unlink()
    else:
        path.rename(path.with_name("kept.db"))
    if how == "replaced":
        SqliteReadingStore(path).close()
    with pytest.raises(StoreError, match="moved, deleted or replaced while it was in use"):
        store.commit(Batch(readings=(Reading("t12", NOON_MS + 1, 18.0, 18.0, NOON_MS),)))


@pytest.mark.parametrize("opening", [SqliteReadingStore, lambda path: SqliteReadings(path).latest()])
def test_a_name_longer_than_any_file_may_have_is_told(tmp_path, opening):
    with pytest.raises(StoreError, match="File name too long; let this user into its folders, or give"):
        opening(tmp_path / ("x" * 300))
