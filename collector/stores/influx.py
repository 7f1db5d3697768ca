"""Readings in InfluxDB, written through the durable queue, read together with what still waits in it."""

from __future__ import annotations

import heapq
from collections.abc import Collection, Iterator, Mapping, Sequence
from pathlib import Path

import numpy as np

from collector.errors import StoreBusyError
from collector.model import Batch, Flag, Reading, Refusal, Series, Spoken, Unclaimed
from collector.rollup import Every, Steps, steps_from, steps_of, sums_of, together
from collector.stores.influxql import InfluxQL
from collector.stores.keys import rank
from collector.stores.queue import Queue
from collector.stores.queued import Mark, marks_of, moving_span, newest_waiting, readings_waiting
from collector.stores.schema import Reader
from collector.stores.sqlite import SERIES_ROW, Counts, SqliteReadings, series_of_table

# A stream over many probes holds about so many rows at once, whatever their number.
STREAM_ROWS = 100_000


class InfluxReadingStore:
    """The writing side (`ports.ReadingStore`): what `commit` took is on this disk when it returns, and waits for InfluxDB."""

    def __init__(self, queue: Queue, influx: InfluxQL) -> None:
        """Both are the caller's to close."""
        self._queue = queue
        self._influx = influx

    def commit(self, batch: Batch) -> None:
        """Keep all of it durably, or raise StoreBusyError (nothing kept, try again) or StoreError."""
        self._queue.put(batch)

    def mark(self, probe_id: str, from_ms: int, to_ms: int, flag: Flag, *, on: bool) -> None:
        """As `ports.ReadingMarks`; what has arrived in InfluxDB gets it as soon as that can be reached."""
        self._queue.mark(probe_id, from_ms, to_ms, flag, on=on)

    def first_arrival(self, source: str, message_id: int, digest: bytes) -> int | None:
        """When this very message first came [ms], if it was committed and may be sent again; else None."""
        return self._queue.first_arrival(source, message_id, digest)

    def spoken(self) -> Sequence[Spoken]:
        """When probes began to send in another unit (`ports.ReadingStore`)."""
        return self._queue.spoken()

    def forget_arrivals(self) -> None:
        """The sender numbers its messages anew (`ports.ReadingStore`)."""
        self._queue.forget_arrivals()

    def latest(self) -> Mapping[str, Reading]:
        """The newest reading of each probe, by what came in here, so that it is known while InfluxDB is away.

        Only where that one is flagged FUTURE is InfluxDB asked for another.
        """
        latest = dict(self._queue.latest())
        if any(one.flags & Flag.FUTURE for one in latest.values()):
            try:
                there = self._influx.newest()
            except StoreBusyError:
                return latest  # and the checks begin anew with what comes next
            for one in there:
                if one.probe_id in latest and latest[one.probe_id].flags & Flag.FUTURE and not one.flags & Flag.FUTURE:
                    latest[one.probe_id] = one
        return latest

    def kept_of(self, addresses: Collection[str], most: int) -> Sequence[Unclaimed]:
        """What these addresses said while no probe claimed them (`ports.ReadingStore`)."""
        return self._queue.kept_of(addresses, most)

    def let_go(self, kept: Sequence[Unclaimed]) -> None:
        """These are the readings of a probe now (`ports.ReadingStore`)."""
        self._queue.let_go(kept)

    def close(self) -> None:
        """Nothing of its own to let go of."""


class InfluxReadings:
    """The reading side (`ports.Readings`), for any thread. Raises StoreBusyError while InfluxDB is away.

    What waits is asked for before InfluxDB: so a reading that arrives in between is seen twice and counted once.
    """

    def __init__(self, path: Path, influx: InfluxQL) -> None:
        """Nothing is opened before the first question. `influx` is the caller's to close."""
        self._reader = Reader(path)
        self._local = SqliteReadings(path)
        self._influx = influx

    def latest(self) -> Mapping[str, Reading]:
        """The newest reading of each probe, by probe id; one flagged FUTURE only where there is no other."""
        with self._reader.asking() as connection:
            latest = {} if connection is None else dict(newest_waiting(connection))
            marks = () if connection is None else marks_of(connection)
        for there in self._influx.newest():
            one = _marked(there, marks)
            if one.probe_id not in latest or rank(one) > rank(latest[one.probe_id]):
                latest[one.probe_id] = one
        return latest

    def series(self, probe_id: str, from_ms: int, to_ms: int) -> Series:
        """The probe's readings with from_ms <= measured_ms < to_ms, oldest first; empty if it never spoke."""
        with self._reader.asking() as connection:
            waits = () if connection is None else tuple(readings_waiting(connection, probe_id, from_ms, to_ms))
            marks = () if connection is None else [one for one in marks_of(connection) if one.probe_id == probe_id]
        table = np.fromiter(self._influx.briefs(probe_id, from_ms, to_ms), dtype=SERIES_ROW)
        for mark in marks:
            flags = table["flags"][slice(*np.searchsorted(table["time_ms"], (mark.from_ms, mark.to_ms)))]
            np.bitwise_or(flags, int(mark.flag), out=flags) if mark.on else np.bitwise_and(flags, ~int(mark.flag), out=flags)
        if waits:
            rows = np.array([(one.measured_ms, one.value, int(one.flags)) for one in waits], dtype=SERIES_ROW)
            both = np.concatenate([rows, table[~np.isin(table["time_ms"], rows["time_ms"])]])
            table = both[np.argsort(both["time_ms"], kind="stable")]
        return series_of_table(probe_id, table)

    def steps(self, probe_id: str, from_ms: int, to_ms: int, every: Every) -> Steps:
        """Readings that may be believed, rolled up: the steps with from_ms <= begin < to_ms (`ports.Readings`).

        InfluxDB rolls them up when it is asked, and what waits to be put there is worked in. It knows no mean of times: a
        step of many readings stands at its middle, those of a probe that says one or two a step where they were measured.
        """
        begin_ms, end_ms = (-(-at_ms // every) * every for at_ms in (from_ms, to_ms))
        with self._reader.asking() as connection:
            moving = None if connection is None else moving_span(connection, probe_id, begin_ms, end_ms)
        rolled = self._influx.sums(probe_id, begin_ms, end_ms, every)
        if rolled.count.sum() <= 2 * rolled.count.size:
            return steps_of(self.series(probe_id, begin_ms, end_ms), every)
        if moving is None:
            return steps_from(probe_id, rolled, every)
        first, end = moving[0] // every, -(-moving[1] // every)
        said = self.series(probe_id, first * every, end * every).trusted()
        sound = rolled.kept((rolled.place < first) | (rolled.place >= end))
        return steps_from(probe_id, together([sound, sums_of(said.time_ms, said.value, every)]), every)

    def readings(self, probe_ids: Sequence[str], from_ms: int, to_ms: int) -> Iterator[Reading]:
        """Readings of these probes in that span, oldest first, streamed, those of one time in the order of `probe_ids`."""
        page_rows = max(500, STREAM_ROWS // max(1, len(probe_ids)))
        with self._reader.streaming() as connection:
            marks = () if connection is None else marks_of(connection)
            streams = [
                _overlaid(
                    iter(()) if connection is None else readings_waiting(connection, probe_id, from_ms, to_ms),
                    (_marked(one, marks) for one in self._influx.readings(probe_id, from_ms, to_ms, page_rows)),
                )
                for probe_id in probe_ids
            ]
            yield from heapq.merge(*streams, key=lambda one: one.measured_ms)

    def refused(self) -> Iterator[Refusal]:
        """Everything refused, oldest first, streamed."""
        return self._local.refused()

    def unclaimed(self) -> Sequence[Unclaimed]:
        """The newest measurement of each address that no probe claimed when it came, by address."""
        return self._local.unclaimed()

    def unclaimed_since(self, from_ms: int) -> Sequence[Unclaimed]:
        """What no probe claims of all that was measured since then (`ports.Readings`)."""
        return self._local.unclaimed_since(from_ms)

    def pruned_before_ms(self) -> Mapping[str, int]:
        """None: how long InfluxDB keeps what it has is the bucket's own matter."""
        return {}

    def counts(self) -> Counts:
        """How much was refused, when the last reading came, how many wait: known while InfluxDB is away."""
        return self._local.counts()

    def close(self) -> None:
        """Finish. Harmless when called twice."""
        self._reader.close()
        self._local.close()


def _overlaid(waits: Iterator[Reading], there: Iterator[Reading]) -> Iterator[Reading]:
    """Both, oldest first; of one time that which waits, for it is the later."""
    last_ms: int | None = None
    for one in heapq.merge(waits, there, key=lambda reading: reading.measured_ms):  # the first of its streams goes first
        if one.measured_ms != last_ms:
            yield one
            last_ms = one.measured_ms


def _marked(one: Reading, marks: Sequence[Mark]) -> Reading:
    for mark in marks:
        flags = mark.on_flags(one)
        if flags != one.flags:
            one = Reading(one.probe_id, one.measured_ms, one.value, one.raw, one.received_ms, flags)
    return one
