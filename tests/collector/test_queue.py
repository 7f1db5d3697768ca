"""The durable queue before InfluxDB: its bound, what it keeps when rows are replaced on their way, what it knows alone."""

import sqlite3
from contextlib import closing

import pytest

from collector.errors import StoreBusyError
from collector.model import Batch, Flag, Refusal
from collector.stores.queue import ROW_BYTES, Queue
from collector.stores.queued import Look
from collector.stores.sqlite import SqliteReadings
from tests.collector.conftest import PROBES
from tests.collector.made_readings import MINUTE_MS, NOON_MS, reading


@pytest.fixture
def path(tmp_path):
    return tmp_path / "garden.db"


@pytest.fixture
def queue(path):
    opened = Queue(path, PROBES, 100 * ROW_BYTES)
    yield opened
    opened.close()


def minutes(begin, end, probe_id="t12"):
    return Batch(readings=tuple(reading(probe_id, minute) for minute in range(begin, end)))


def test_a_row_takes_no_more_of_the_disk_than_the_bound_counts_on(path):
    queue = Queue(path, PROBES, 10**9)
    empty = path.stat().st_size
    for batch in range(100):  # eight probes in the order in which they speak, and one in six late: the tree grows in its middle
        told = [reading(f"p{n % 8}", batch * 50 + n // 8 - (300 if n % 6 == 0 else 0), 12 + n / 7, raw=300.5) for n in range(400)]
        queue.put(Batch(readings=tuple(told)))
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    assert queue.waiting > 35_000
    assert (path.stat().st_size - empty) / queue.waiting < ROW_BYTES
    queue.close()


def test_at_the_bound_nothing_more_is_kept_and_when_there_is_room_it_is(path, queue):
    queue.put(minutes(0, 90))
    whole = Batch(readings=minutes(90, 101).readings, refusals=(Refusal(0, "s", "r", b"", 0),))
    for _ in range(2):
        with pytest.raises(StoreBusyError, match=r"90 readings wait for InfluxDB.*broker keeps.* serial lines say .* is lost"):
            queue.put(whole)
    assert queue.full
    assert queue.waiting == 90
    with closing(SqliteReadings(path)) as readings:
        assert readings.counts().refused == 0
        assert readings.counts().waiting == 90
    queue.drop(queue.take(10))
    queue.put(whole)
    assert not queue.full
    assert queue.waiting == 91


def test_what_is_no_reading_is_kept_at_the_bound_too(queue):
    queue.put(minutes(0, 100))
    queue.put(Batch(refusals=(Refusal(0, "s", "r", b"", 0),)))
    assert queue.waiting == 100


def test_a_batch_larger_than_the_whole_queue_gets_through_when_nothing_else_waits(queue):
    queue.put(minutes(0, 150))
    assert queue.waiting == 150
    with pytest.raises(StoreBusyError):
        queue.put(minutes(150, 151))


def test_a_row_that_was_replaced_on_its_way_is_not_dropped_with_the_one_that_arrived(queue):
    queue.put(Batch(readings=(reading(value=1.0),)))
    on_their_way = queue.take(10)
    queue.put(Batch(readings=(reading(value=2.0),)))
    queue.drop(on_their_way)
    assert [row.reading.value for row in queue.take(10)] == [2.0]


def test_a_row_that_was_marked_on_its_way_is_shipped_again_with_its_mark(queue):
    queue.put(Batch(readings=(reading(),)))
    on_their_way = queue.take(10)
    queue.mark("t12", 0, 2**62, Flag.DUG_UP, on=True)
    queue.drop(on_their_way)
    assert [row.reading.flags for row in queue.take(10)] == [Flag.DUG_UP]
    assert [mark.flag for mark in queue.marks()] == [Flag.DUG_UP]


def test_only_what_may_have_arrived_before_is_looked_for(queue):
    queue.put(minutes(0, 2))  # of a probe of which nothing is known
    queue.put(minutes(2, 4))
    queue.put(Batch(readings=(reading(minute=3, value=99.0), reading(minute=-5))))
    assert {(row.reading.measured_ms - NOON_MS) // MINUTE_MS: row.look for row in queue.take(10)} == {
        -5: Look.FLAGS, 0: Look.FLAGS, 1: Look.FLAGS, 2: Look.NONE, 3: Look.NONE,
    }  # fmt: skip


def test_one_that_may_overwrite_nothing_looks_for_its_place_unless_it_is_later_than_all_others(queue):
    queue.put(minutes(0, 2))
    queue.put(Batch(beside=(reading(minute=1, value=50.0), reading(minute=2, value=51.0))))
    beside = [row for row in queue.take(10) if row.reading.value >= 50]
    assert [(row.reading.measured_ms - NOON_MS, row.look) for row in beside] == [(60_001, Look.PLACE), (120_000, Look.NONE)]


def test_the_newest_of_each_probe_outlives_its_way_and_a_new_start(path, queue):
    ahead = reading("a", 5_000_000, flags=Flag.FUTURE)
    queue.put(Batch(readings=(reading("a", 1), ahead, reading("b", 2), reading("b", 1))))
    queue.drop(queue.take(10))
    with closing(Queue(path, PROBES, 10**6)) as again:
        assert again.latest() == {"a": reading("a", 1), "b": reading("b", 2)}
        assert again.waiting == 0
