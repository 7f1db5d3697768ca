"""Numbers that come again, times that cannot be, and a file that goes away: what the store keeps apart or puts right."""

import sqlite3
from contextlib import closing

import pytest

from collector.errors import StoreError
from collector.model import Arrival, Batch, Flag, Reading
from collector.stores import schema
from collector.stores.aside import ARRIVALS_KEPT
from collector.stores.keys import SENT_TWICE_MS
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


def stored(path):
    readings = SqliteReadings(path)
    try:
        return list(readings.readings(["t12"], 0, 2**62))
    finally:
        readings.close()


def wrong(value, received_ms=NOON_MS, measured_ms=BOOT_MS, flags=Flag.LONG_AGO):
    return Reading("t12", measured_ms, value, value, received_ms, flags)


# ---------------------------------------------------------------- times that are not to be believed


def test_readings_of_a_board_whose_clock_starts_anew_with_each_boot_are_all_kept_in_order(path, store):
    for boot in range(20):
        store.commit(Batch(beside=tuple(wrong(10 + boot, NOON_MS + boot * 3_600_000, BOOT_MS + 10 * n) for n in range(3))))
    found = stored(path)
    assert len(found) == 60
    assert [one.measured_ms for one in found] == sorted(one.measured_ms for one in found)
    assert {one.value for one in found} == {10 + boot for boot in range(20)}
    assert found[1].received_ms == NOON_MS + 3_600_000, "moved a millisecond, it came when it came"


def test_equal_numbers_of_two_boots_are_two_readings(path, store):
    store.commit(Batch(beside=(wrong(18.0),)))
    store.commit(Batch(beside=(wrong(18.0, NOON_MS + SENT_TWICE_MS),)))
    assert len(stored(path)) == 2


def test_one_that_is_sent_twice_in_a_row_is_one_reading(path, store):
    store.commit(Batch(beside=(wrong(18.0), wrong(18.0, NOON_MS + 1000))))
    assert len(stored(path)) == 1


@pytest.mark.parametrize("flags", [Flag.LONG_AGO, Flag.FUTURE])
def test_a_time_that_is_not_believed_overwrites_no_reading_whose_time_is(path, store, flags):
    right = Reading("t12", NOON_MS, 18.0, 18.0, NOON_MS)
    store.commit(Batch(readings=(right,)))
    store.commit(Batch(beside=(wrong(30.0, measured_ms=NOON_MS, flags=flags),)))
    assert stored(path)[0] == right
    assert [one.value for one in stored(path)] == [18.0, 30.0]


def test_one_with_no_time_of_its_own_overwrites_nothing_even_after_a_clock_was_set_back(path, store):
    one = Reading("t12", NOON_MS, 18.0, 18.0, NOON_MS)
    store.commit(Batch(beside=(one, one)))
    store.commit(Batch(beside=(one,)))
    assert [each.measured_ms for each in stored(path)] == [NOON_MS, NOON_MS + 1, NOON_MS + 2]


def test_the_later_value_of_a_believed_time_still_wins(path, store):
    for value in (18.0, 19.0):
        store.commit(Batch(readings=(Reading("t12", NOON_MS, value, value, NOON_MS),)))
    assert [one.value for one in stored(path)] == [19.0]


def test_a_time_once_believed_is_believed_whichever_way_our_clock_was_wrong(path, store):
    right = Reading("t12", NOON_MS, 18.0, 18.0, NOON_MS, Flag.JUMP)
    too_early = Reading("t12", NOON_MS, 18.0, 18.0, NOON_MS - 3 * 3_600_000, Flag.FUTURE)
    store.commit(Batch(beside=(too_early,)))
    assert stored(path)[0].flags == Flag.FUTURE
    store.commit(Batch(readings=(right,)))
    assert [one.flags for one in stored(path)] == [Flag.JUMP]
    store.commit(Batch(beside=(too_early,)))
    assert [one.flags for one in stored(path)] == [Flag.JUMP]


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
