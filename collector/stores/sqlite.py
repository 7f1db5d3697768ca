"""Readings in SQLite: one writer that commits whole batches, and readers beside it."""

from __future__ import annotations

import heapq
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from operator import itemgetter
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from collector.model import DISTRUSTED, Batch, Flag, Reading, Refusal, Series, Unclaimed
from collector.rollup import NOTHING, Every, Steps, steps_from
from collector.stores import rollups
from collector.stores.aside import Numbers, WritesAside, put_aside
from collector.stores.keys import FLAGS_KEPT, free_place_ms
from collector.stores.schema import Reader, Writer, moment

_COLUMNS = "INSERT INTO reading (probe, measured_ms, value, raw, delay_ms, flags) VALUES"
_NEW_READING = f"{_COLUMNS} (?, ?, ?, ?, ?, ?)"
_LATER_WINS = f"""
    ON CONFLICT (probe, measured_ms) DO UPDATE
    SET value = excluded.value, raw = excluded.raw, delay_ms = excluded.delay_ms, flags = {FLAGS_KEPT}"""
_PUT_READING = f"{_NEW_READING} {_LATER_WINS}"
# Several in one statement take two thirds of the time; more than these save nothing more.
_AT_ONCE = 50
_PUT_READINGS = f"{_COLUMNS} {', '.join(['(?, ?, ?, ?, ?, ?)'] * _AT_ONCE)} {_LATER_WINS}"
_PUT_BESIDE = f"{_NEW_READING} ON CONFLICT DO NOTHING"
_FROM_THERE_ON = """
    SELECT measured_ms, value, coalesce(raw, value), measured_ms + delay_ms, flags FROM reading
    WHERE probe = ? AND measured_ms >= ?
    ORDER BY measured_ms"""

_SPAN_TO_MARK = "WHERE probe = (SELECT number FROM probe WHERE id = ?2) AND measured_ms >= ?3 AND measured_ms < ?4"
_MARK = f"UPDATE reading SET flags = flags | ?1 {_SPAN_TO_MARK}"
_UNMARK = f"UPDATE reading SET flags = flags & ~?1 {_SPAN_TO_MARK}"

# One look-up at the end of each probe's stretch, not a walk through it: CROSS JOIN holds
# SQLite to that order. A reading dated in the future would stand as the newest for years, so
# it counts only where there is no other.
_LATEST = f"""
    SELECT probe.id, measured_ms, value, coalesce(raw, value), measured_ms + delay_ms, flags
    FROM probe CROSS JOIN reading ON reading.probe = probe.number AND measured_ms = coalesce(
        (SELECT measured_ms FROM reading WHERE probe = probe.number AND flags & {int(Flag.FUTURE)} = 0
         ORDER BY measured_ms DESC LIMIT 1),
        (SELECT max(measured_ms) FROM reading WHERE probe = probe.number))"""

_SPAN = """
    FROM reading WHERE probe = (SELECT number FROM probe WHERE id = ?) AND measured_ms >= ? AND measured_ms < ?
    ORDER BY measured_ms"""

_LAST_UNCLAIMED = """
    SELECT stranger.id, unit, measured_ms, value, received_ms, source
    FROM stranger CROSS JOIN unclaimed ON unclaimed.stranger = stranger.number
        AND measured_ms = (SELECT max(measured_ms) FROM unclaimed WHERE stranger = stranger.number)
    ORDER BY stranger.id"""

_UNCLAIMED_SINCE = """
    SELECT stranger.id, unit, measured_ms, value, received_ms, source
    FROM stranger CROSS JOIN unclaimed ON unclaimed.stranger = stranger.number AND measured_ms >= ?
    ORDER BY stranger.id, measured_ms"""

# Refusals go oldest first, so that their numbers tell how many there are without counting them.
_COUNTS = """SELECT refused, last_received_ms, waiting,
    coalesce((SELECT max(number) FROM refusal) - (SELECT min(number) FROM refusal) + 1, 0), unclaimed FROM tally, queue_tally"""

SERIES_ROW = np.dtype([("time_ms", np.int64), ("value", np.float64), ("flags", np.int64)])


_Row = tuple[int, int, float, float | None, int, int]


@dataclass(frozen=True, slots=True)
class Counts:
    """`refused` is how many refusals there are; `last_received_ms` when the reading stored last came, None before any.

    `waiting` is how many readings are on their way to a series store elsewhere; `refused_kept` and `unclaimed` how many
    refusals and measurements that no probe claims are still kept.
    """

    refused: int
    last_received_ms: int | None
    waiting: int = 0
    refused_kept: int = 0
    unclaimed: int = 0


class SqliteReadingStore(WritesAside):
    """The writing side (`ports.ReadingStore`): what `commit` took is on disk when it returns."""

    def __init__(self, path: Path) -> None:
        """Open the file, made here if it is not there. Raises what `schema.open_writer` raises."""
        self._writer = Writer(path)
        self._probes = Numbers("probe")

    def commit(self, batch: Batch) -> None:
        """Write all of it durably, or raise StoreBusyError (nothing written, try again) or StoreError."""
        with self._writer.transaction() as connection:
            probes = self._probes.of(connection, {reading.probe_id for reading in (*batch.readings, *batch.beside)})
            changed = _put_readings(connection, batch.readings, probes)
            for reading in batch.beside:
                changed += _put_beside(connection, reading, probes[reading.probe_id])
            rollups.note_stale(connection, changed)
            put_aside(connection, batch)
        self._probes.keep(probes)  # only now are the new numbers true

    def mark(self, probe_id: str, from_ms: int, to_ms: int, flag: Flag, *, on: bool) -> None:
        """Put a flag on this probe's readings with from_ms <= measured_ms < to_ms, or take it off (`ports.ReadingMarks`)."""
        with self._writer.transaction() as connection:
            connection.execute(_MARK if on else _UNMARK, (int(flag), probe_id, from_ms, to_ms))
            if flag & DISTRUSTED:
                rollups.note_stale_span(connection, probe_id, from_ms, to_ms)

    def latest(self) -> Mapping[str, Reading]:
        """The newest reading of each probe, by probe id; one flagged FUTURE only where there is no other."""
        with self._writer.reading() as connection:
            return _latest(connection)

    def close(self) -> None:
        """Finish. Harmless when called twice."""
        self._writer.close()


class SqliteReadings:
    """The reading side (`ports.Readings`), for any thread; empty until there is a store to read."""

    def __init__(self, path: Path) -> None:
        """Nothing is opened before the first question, so a dashboard may start before its collector."""
        self._reader = Reader(path)

    def latest(self) -> Mapping[str, Reading]:
        """The newest reading of each probe, by probe id; one flagged FUTURE only where there is no other."""
        with self._reader.asking() as connection:
            return {} if connection is None else _latest(connection)

    def series(self, probe_id: str, from_ms: int, to_ms: int) -> Series:
        """The probe's readings with from_ms <= measured_ms < to_ms, oldest first; empty if it never spoke."""
        with self._reader.asking() as connection:
            rows: Iterable[tuple[int, float, int]] = ()
            if connection is not None:
                rows = connection.execute(f"SELECT measured_ms, value, flags {_SPAN}", (probe_id, from_ms, to_ms))
            table = np.fromiter(rows, dtype=SERIES_ROW)
        return series_of_table(probe_id, table)

    def steps(self, probe_id: str, from_ms: int, to_ms: int, every: Every) -> Steps:
        """Readings that may be believed, rolled up: the steps with from_ms <= begin < to_ms (`ports.Readings`)."""
        with self._reader.asking() as connection:
            if connection is None:
                return steps_from(probe_id, NOTHING, every)
            with moment(connection):
                return rollups.steps(connection, probe_id, from_ms, to_ms, every)

    def pruned_before_ms(self) -> Mapping[str, int]:
        """Up to when [ms] no raw reading of a probe is kept, by its id; those of whom all are kept are left out."""
        with self._reader.asking() as connection:
            return {} if connection is None else rollups.pruned_before_ms(connection)

    def readings(self, probe_ids: Sequence[str], from_ms: int, to_ms: int) -> Iterator[Reading]:
        """Readings of these probes in that span, oldest first, streamed; of one moment, in the order of `probe_ids`."""
        with self._reader.streaming() as connection:
            if connection is None:
                return
            spans = (_rows_of(connection, rank, probe_id, from_ms, to_ms) for rank, probe_id in enumerate(probe_ids))
            for measured_ms, rank, value, raw, received_ms, flags in heapq.merge(*spans):
                yield Reading(probe_ids[rank], measured_ms, value, raw, received_ms, Flag(flags))

    def refused(self) -> Iterator[Refusal]:
        """Everything refused, oldest first, streamed."""
        with self._reader.streaming() as connection:
            if connection is None:
                return
            rows = connection.execute("SELECT received_ms, source, reason, payload, size FROM refusal ORDER BY number")
            for row in rows:
                yield Refusal(*row)

    def unclaimed(self) -> Sequence[Unclaimed]:
        """The newest measurement of each address that no probe claimed when it came, by address."""
        with self._reader.asking() as connection:
            if connection is None:
                return ()
            return tuple(Unclaimed(*row) for row in connection.execute(_LAST_UNCLAIMED))

    def unclaimed_since(self, from_ms: int) -> Sequence[Unclaimed]:
        """What no probe claims of all that was measured since then, by address, of each the oldest first."""
        with self._reader.asking() as connection:
            return (
                () if connection is None else tuple(Unclaimed(*row) for row in connection.execute(_UNCLAIMED_SINCE, (from_ms,)))
            )

    def counts(self) -> Counts:
        """How much was refused, and when the last reading came: told without a walk through the tables."""
        with self._reader.asking() as connection:
            if connection is None:
                return Counts(0, None)
            return Counts(*connection.execute(_COUNTS).fetchone())

    def close(self) -> None:
        """Finish. Harmless when called twice."""
        self._reader.close()


def series_of_table(probe_id: str, table: NDArray[np.void]) -> Series:
    """A table of `SERIES_ROW` as the series of a probe."""
    return Series(probe_id, *(np.ascontiguousarray(table[name]) for name in ("time_ms", "value", "flags")))


def _put_readings(connection: sqlite3.Connection, readings: Sequence[Reading], probes: Mapping[str, int]) -> list[_Row]:
    """Write them; answers with the rows, for what they change."""
    if not readings:
        return []
    rows = [_row(reading, probes[reading.probe_id], reading.measured_ms) for reading in readings]
    # In the order of the key, which SQLite writes twice as fast; sorting keeps the order of
    # equal keys, so that the later value still wins.
    rows.sort(key=itemgetter(0, 1))
    whole = len(rows) - len(rows) % _AT_ONCE
    several = (tuple(chain.from_iterable(rows[begin : begin + _AT_ONCE])) for begin in range(0, whole, _AT_ONCE))
    connection.executemany(_PUT_READINGS, several)
    connection.executemany(_PUT_READING, rows[whole:])
    return rows


def _put_beside(connection: sqlite3.Connection, reading: Reading, probe: int) -> list[_Row]:
    """Write it where no other reading stands, in the first free millisecond from its own on; says what changed."""
    row = _row(reading, probe, reading.measured_ms)
    if connection.execute(_PUT_BESIDE, row).rowcount:
        return [row]
    there = connection.execute(_FROM_THERE_ON, (probe, reading.measured_ms))
    free_ms = free_place_ms(
        reading,
        (
            Reading(reading.probe_id, measured_ms, value, raw, received_ms, Flag(flags))
            for measured_ms, value, raw, received_ms, flags in there
        ),
    )
    if free_ms is None:
        return []
    row = _row(reading, probe, free_ms)
    connection.execute(_NEW_READING, row)
    return [row]


def _row(reading: Reading, probe: int, measured_ms: int) -> _Row:
    raw = None if reading.raw == reading.value else reading.raw
    return probe, measured_ms, reading.value, raw, reading.received_ms - measured_ms, int(reading.flags)


def _latest(connection: sqlite3.Connection) -> dict[str, Reading]:
    rows = connection.execute(_LATEST)
    return {
        id_: Reading(id_, measured_ms, value, raw, received_ms, Flag(flags))
        for id_, measured_ms, value, raw, received_ms, flags in rows
    }


def _rows_of(
    connection: sqlite3.Connection, rank: int, probe_id: str, from_ms: int, to_ms: int
) -> Iterator[tuple[int, int, float, float, int, int]]:
    return connection.execute(
        f"SELECT measured_ms, {rank:d}, value, coalesce(raw, value), measured_ms + delay_ms, flags {_SPAN}",
        (probe_id, from_ms, to_ms),
    )
