"""Readings in SQLite: one writer that commits whole batches, and readers beside it."""

from __future__ import annotations

import heapq
import sqlite3
import threading
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from collector.model import Arrival, Batch, Flag, Reading, Refusal, Series, Unclaimed
from collector.stores.schema import Writer, explained, open_reader

# A message id is 16 bits wide (MQTT 5, section 2.2.1), so no more messages than this can be
# on their way at once: an arrival older than that many is never asked for again.
ARRIVALS_KEPT = 65_536

# The same number sent again keeps what the checks found when it first came: they knew its neighbours then.
_PUT_READING = """
    INSERT INTO reading (probe, measured_ms, value, raw, delay_ms, flags) VALUES (?, ?, ?, ?, ?, ?)
    ON CONFLICT (probe, measured_ms) DO UPDATE
    SET value = excluded.value, raw = excluded.raw, delay_ms = excluded.delay_ms,
        flags = CASE WHEN value = excluded.value AND raw IS excluded.raw THEN flags | excluded.flags ELSE excluded.flags END"""

_PUT_UNCLAIMED = """
    INSERT INTO unclaimed (stranger, measured_ms, value, unit, received_ms, source) VALUES (?, ?, ?, ?, ?, ?)
    ON CONFLICT (stranger, measured_ms) DO UPDATE
    SET value = excluded.value, unit = excluded.unit, received_ms = excluded.received_ms, source = excluded.source"""

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

_SERIES_ROW = np.dtype([("time_ms", np.int64), ("value", np.float64), ("flags", np.int64)])


@dataclass(frozen=True, slots=True)
class Counts:
    """`refused` is how many refusals there are; `last_received_ms` when the reading stored last came, None before any."""

    refused: int
    last_received_ms: int | None


class SqliteReadingStore:
    """The writing side (`ports.ReadingStore`): what `commit` took is on disk when it returns."""

    def __init__(self, path: Path) -> None:
        """Open the file, made here if it is not there. Raises what `schema.open_writer` raises."""
        self._writer = Writer(path)
        self._probes = _Numbers("probe")
        self._strangers = _Numbers("stranger")

    def commit(self, batch: Batch) -> None:
        """Write all of it durably, or raise StoreBusyError (nothing written, try again) or StoreError."""
        with self._writer.transaction() as connection:
            probes = self._probes.of(connection, {reading.probe_id for reading in batch.readings})
            strangers = self._strangers.of(connection, {unclaimed.address for unclaimed in batch.unclaimed})
            _put_readings(connection, batch.readings, probes)
            _put_unclaimed(connection, batch.unclaimed, strangers)
            _put_refusals(connection, batch.refusals)
            _put_arrivals(connection, batch.arrivals)
        # Only now are the new numbers true.
        self._probes.keep(probes)
        self._strangers.keep(strangers)

    def first_arrival(self, source: str, message_id: int, digest: bytes) -> int | None:
        """When this very message first came [ms], if it was committed and may be sent again; else None."""
        with self._writer.reading() as connection:
            found = connection.execute(
                "SELECT received_ms FROM arrival WHERE source = ? AND message_id = ? AND digest = ?",
                (_storable(source), message_id, digest),
            ).fetchone()
        return None if found is None else int(found[0])

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
        self._path = path
        self._lock = threading.Lock()
        self._connection: sqlite3.Connection | None = None
        self._closed = False

    def latest(self) -> Mapping[str, Reading]:
        """The newest reading of each probe, by probe id; one flagged FUTURE only where there is no other."""
        with self._asking() as connection:
            return {} if connection is None else _latest(connection)

    def series(self, probe_id: str, from_ms: int, to_ms: int) -> Series:
        """The probe's readings with from_ms <= measured_ms < to_ms, oldest first; empty if it never spoke."""
        with self._asking() as connection:
            rows: Iterable[tuple[int, float, int]] = ()
            if connection is not None:
                rows = connection.execute(f"SELECT measured_ms, value, flags {_SPAN}", (probe_id, from_ms, to_ms))
            table = np.fromiter(rows, dtype=_SERIES_ROW)
        columns = (np.ascontiguousarray(table[name]) for name in ("time_ms", "value", "flags"))
        return Series(probe_id, *columns)

    def readings(self, probe_ids: Sequence[str], from_ms: int, to_ms: int) -> Iterator[Reading]:
        """Readings of these probes in that span, oldest first, streamed; of one moment, in the order of `probe_ids`."""
        with self._streaming() as connection:
            if connection is None:
                return
            spans = (_rows_of(connection, rank, probe_id, from_ms, to_ms) for rank, probe_id in enumerate(probe_ids))
            for measured_ms, rank, value, raw, received_ms, flags in heapq.merge(*spans):
                yield Reading(probe_ids[rank], measured_ms, value, raw, received_ms, Flag(flags))

    def refused(self) -> Iterator[Refusal]:
        """Everything refused, oldest first, streamed."""
        with self._streaming() as connection:
            if connection is None:
                return
            rows = connection.execute("SELECT received_ms, source, reason, payload, size FROM refusal ORDER BY number")
            for row in rows:
                yield Refusal(*row)

    def unclaimed(self) -> Sequence[Unclaimed]:
        """The newest measurement of each address that no probe claimed when it came, by address."""
        with self._asking() as connection:
            if connection is None:
                return ()
            return tuple(Unclaimed(*row) for row in connection.execute(_LAST_UNCLAIMED))

    def counts(self) -> Counts:
        """How much was refused, and when the last reading came: told without a walk through the tables."""
        with self._asking() as connection:
            if connection is None:
                return Counts(0, None)
            return Counts(*connection.execute("SELECT refused, last_received_ms FROM tally").fetchone())

    def close(self) -> None:
        """Finish. Harmless when called twice."""
        with self._lock:
            self._closed = True
            if self._connection is not None:
                self._connection.close()
                self._connection = None

    @contextmanager
    def _asking(self) -> Iterator[sqlite3.Connection | None]:
        with self._lock:
            if self._connection is None and not self._closed:
                self._connection = open_reader(self._path)
            with explained(self._path):
                yield self._connection

    @contextmanager
    def _streaming(self) -> Iterator[sqlite3.Connection | None]:
        # A stream holds its place for as long as its reader takes, so it has a connection to
        # itself, and one transaction: it tells of one moment while the writer goes on.
        connection = open_reader(self._path)
        if connection is None:
            yield None
            return
        try:
            with explained(self._path):
                connection.execute("BEGIN")
                yield connection
        finally:
            connection.close()


class _Numbers:
    """The short numbers that stand for ids in a table's keys; a number once given stays."""

    def __init__(self, table: str) -> None:
        self._table = table
        self._known: dict[str, int] = {}

    def of(self, connection: sqlite3.Connection, ids: set[str]) -> dict[str, int]:
        """The number of each id, new ones given in the open transaction."""
        numbers = {}
        for id_ in ids:
            number = self._known.get(id_)
            if number is None:
                text = _storable(id_)
                connection.execute(f"INSERT INTO {self._table} (id) VALUES (?) ON CONFLICT DO NOTHING", (text,))
                (number,) = connection.execute(f"SELECT number FROM {self._table} WHERE id = ?", (text,)).fetchone()
            numbers[id_] = number
        return numbers

    def keep(self, numbers: Mapping[str, int]) -> None:
        """These are committed."""
        self._known.update(numbers)


def _put_readings(connection: sqlite3.Connection, readings: Sequence[Reading], probes: Mapping[str, int]) -> None:
    if not readings:
        return
    rows = [
        (
            probes[reading.probe_id],
            reading.measured_ms,
            reading.value,
            None if reading.raw == reading.value else reading.raw,
            reading.received_ms - reading.measured_ms,
            int(reading.flags),
        )
        for reading in readings
    ]
    # In the order of the key, which SQLite writes twice as fast; sorting keeps the order of
    # equal keys, so that the later value still wins.
    rows.sort(key=lambda row: row[:2])
    connection.executemany(_PUT_READING, rows)
    # The last and not the greatest: a clock that once ran ahead is put right by the next reading.
    connection.execute("UPDATE tally SET last_received_ms = ?", (readings[-1].received_ms,))


def _put_unclaimed(connection: sqlite3.Connection, unclaimed: Sequence[Unclaimed], strangers: Mapping[str, int]) -> None:
    connection.executemany(
        _PUT_UNCLAIMED,
        [
            (
                strangers[one.address],
                one.measured_ms,
                one.value,
                one.unit and _storable(one.unit),
                one.received_ms,
                _storable(one.source),
            )
            for one in unclaimed
        ],
    )


def _put_refusals(connection: sqlite3.Connection, refusals: Sequence[Refusal]) -> None:
    if not refusals:
        return
    connection.executemany(
        "INSERT INTO refusal (received_ms, source, reason, payload, size) VALUES (?, ?, ?, ?, ?)",
        [(one.received_ms, _storable(one.source), _storable(one.reason), one.payload, one.size) for one in refusals],
    )
    connection.execute("UPDATE tally SET refused = refused + ?", (len(refusals),))


def _put_arrivals(connection: sqlite3.Connection, arrivals: Sequence[Arrival]) -> None:
    if not arrivals:
        return
    # REPLACE and no update, so that the newest have the highest numbers.
    connection.executemany(
        "INSERT OR REPLACE INTO arrival (source, message_id, digest, received_ms) VALUES (?, ?, ?, ?)",
        [(_storable(one.source), one.message_id, one.digest, one.received_ms) for one in arrivals],
    )
    connection.execute("DELETE FROM arrival WHERE number <= (SELECT max(number) FROM arrival) - ?", (ARRIVALS_KEPT,))


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


def _storable(text: str) -> str:
    # What strangers send may hold half characters that no UTF-8 can; such text must not block the line.
    return text.encode("utf-8", "backslashreplace").decode("utf-8")
