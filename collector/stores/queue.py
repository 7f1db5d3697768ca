"""Readings on their way to a series store elsewhere, durable in the local SQLite file.

A row is deleted only when it is known to have arrived, so whatever dies in between, nothing is lost; and since the
series store keeps one value for a series and a time, what is sent twice does no harm. The queue has a hard bound: at it
nothing more is taken, and what waits, waits at the broker. Marks on readings wait here in the same way.
"""

from __future__ import annotations

import heapq
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from msgspec.structs import replace as with_fields

from collector.errors import StoreBusyError
from collector.model import Batch, Flag, Probe, Reading, Refusal
from collector.stores.aside import WritesAside, put_aside, put_refusals
from collector.stores.keys import FLAGS_KEPT, free_place_ms, rank
from collector.stores.queued import READING, Look, Mark, Waiting, marks_of, rows_from, rows_waiting
from collector.stores.schema import Writer

# What a row takes on disk at most, the half-empty pages of a tree that grows in its middle included (the tests measure it).
ROW_BYTES = 80

_NEW_ROW = "INSERT INTO queue (series, measured_ms, value, raw, delay_ms, flags, look, version) VALUES (?, ?, ?, ?, ?, ?, ?, ?)"
# What replaces a row that was to find its place has its own place: it only heeds the flags of what stands there.
_PUT = f"""
    {_NEW_ROW} ON CONFLICT (series, measured_ms) DO UPDATE
    SET value = excluded.value, raw = excluded.raw, delay_ms = excluded.delay_ms, version = excluded.version,
        look = min(look, {int(Look.FLAGS)}), flags = {FLAGS_KEPT}"""
_FUTURE = int(Flag.FUTURE)
_PUT_NEWEST = f"""
    INSERT INTO queue_newest (probe, measured_ms, value, raw, delay_ms, flags, highest_ms) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)
    ON CONFLICT (probe) DO UPDATE SET measured_ms = ?2, value = ?3, raw = ?4, delay_ms = ?5, flags = ?6
    WHERE (?6 & {_FUTURE} = 0, ?2) >= (flags & {_FUTURE} = 0, measured_ms)"""
_SPAN_TO_MARK = "measured_ms >= ?2 AND measured_ms < ?3"


class Queue(WritesAside):
    """The writing end, for the threads of one process: the intake puts in, a shipper takes out."""

    def __init__(self, path: Path, probes: Sequence[Probe], most_bytes: int) -> None:
        """Open the file, made here if it is not there. Raises what `schema.open_writer` raises.

        `most_bytes` bounds what waits, but for one batch that comes when nothing waits.
        """
        self.most = max(1, most_bytes // ROW_BYTES)
        self.full = False
        self._writer = Writer(path)
        self._tags = {probe.id: (probe.bed_id, probe.quantity.value) for probe in probes}
        self._numbers: dict[str, int] = {}

    # ------------------------------------------------------------ in

    def put(self, batch: Batch) -> None:
        """Keep all of a batch durably, or raise StoreBusyError (nothing kept, try again) or StoreError."""
        more = len(batch.readings) + len(batch.beside)
        with self._writer.transaction() as connection:
            (waiting,) = connection.execute("SELECT waiting FROM queue_tally").fetchone()
            # A batch that is larger than the whole queue must get through some time: it does when nothing else waits.
            full = bool(more and waiting and waiting + more > self.most)
            series = self._put_readings(connection, batch) if more and not full else {}
            if not full:
                put_aside(connection, batch)
        self._numbers.update(series)  # only now are they true
        if more:
            self.full = full
        if full:
            raise StoreBusyError(
                f"{waiting} readings wait for InfluxDB, and store.queue_most_mb lets no more of them in; nothing more is taken "
                "until InfluxDB takes them. The broker keeps what comes by MQTT; what serial lines say meanwhile is lost"
            )

    def mark(self, probe_id: str, from_ms: int, to_ms: int, flag: Flag, *, on: bool) -> None:
        """Put a flag on this probe's readings with from_ms <= measured_ms < to_ms, or take it off: at once on what is
        here, and on what has arrived elsewhere when that can be reached."""
        with self._writer.transaction() as connection:
            flags = "flags | ?4" if on else "flags & ~?4"
            span = (probe_id, from_ms, to_ms, int(flag))
            connection.execute(
                f"""UPDATE queue SET flags = {flags}, version = ?5
                WHERE series IN (SELECT number FROM queue_series WHERE probe = ?1) AND {_SPAN_TO_MARK}""",
                (*span, _next_version(connection)),
            )
            connection.execute(f"UPDATE queue_newest SET flags = {flags} WHERE probe = ?1 AND {_SPAN_TO_MARK}", span)
            connection.execute(
                "INSERT INTO queue_mark (probe, from_ms, to_ms, flag, put) VALUES (?, ?, ?, ?, ?)", (*span, int(on))
            )

    # ------------------------------------------------------------ out

    def marks(self) -> Sequence[Mark]:
        """Marks that wait, in the order in which they were made."""
        with self._writer.reading() as connection:
            return marks_of(connection)

    def drop_mark(self, mark: Mark) -> None:
        """This one has arrived."""
        with self._writer.transaction() as connection:
            connection.execute("DELETE FROM queue_mark WHERE number = ?", (mark.number,))

    def take(self, most: int) -> Sequence[Waiting]:
        """Up to `most` rows that wait, by series and time."""
        with self._writer.reading() as connection:
            return rows_waiting(connection, most)

    def place(self, row: Waiting, there: Iterable[Reading], to_ms: int) -> Waiting | None:
        """The row at a place that is free, so that it may be written; None where it was sent twice, or replaced meanwhile.

        `there` is what has arrived of this probe from the row's time on and before `to_ms`; if no place is free as early
        as that, the row still wants one. The place is kept durably before anything is written there, so that a reading
        which was written and not yet dropped is not moved a second time.
        """
        one = row.reading
        with self._writer.transaction() as connection:
            waits = (other.reading for other in rows_from(connection, one.probe_id, one.measured_ms, row))
            free_ms = free_place_ms(one, heapq.merge(there, waits, key=lambda other: other.measured_ms))
            if not _drop(connection, [row]) or free_ms is None:
                return None
            moved = with_fields(one, measured_ms=free_ms)
            look = Look.NONE if free_ms < to_ms else Look.PLACE
            version = _next_version(connection)
            connection.execute(_NEW_ROW, (row.series, free_ms, *_stored(moved), int(look), version))
        return replace(row, reading=moved, look=look, version=version)

    def drop(self, rows: Sequence[Waiting]) -> None:
        """These have arrived; a row that was replaced meanwhile stays."""
        with self._writer.transaction() as connection:
            _drop(connection, rows)

    def set_aside(self, row: Waiting, refusal: Refusal) -> None:
        """This can never arrive: it is refused, with the reason."""
        with self._writer.transaction() as connection:
            put_refusals(connection, [refusal])
            _drop(connection, [row])

    @property
    def waiting(self) -> int:
        """How many readings wait."""
        with self._writer.reading() as connection:
            return int(connection.execute("SELECT waiting FROM queue_tally").fetchone()[0])

    # ------------------------------------------------------------ what is known here

    def latest(self) -> Mapping[str, Reading]:
        """The newest reading of each probe that ever came in here; one flagged FUTURE where no other is known here."""
        with self._writer.reading() as connection:
            rows = connection.execute(f"SELECT probe, {READING} FROM queue_newest")
            return {
                probe_id: Reading(probe_id, measured_ms, value, raw, received_ms, Flag(flags))
                for probe_id, measured_ms, value, raw, received_ms, flags in rows
            }

    def close(self) -> None:
        """Finish. Harmless when called twice."""
        self._writer.close()

    # ------------------------------------------------------------ parts of the above, inside a transaction

    def _put_readings(self, connection: sqlite3.Connection, batch: Batch) -> Mapping[str, int]:
        """Answers with the number of each series that it put into."""
        everything = (*batch.readings, *batch.beside)
        version = _next_version(connection)
        series = {one: self._numbers.get(one) or self._series(connection, one) for one in {one.probe_id for one in everything}}
        # A reading later than all that its probe ever said stands alone; any other may meet one that has arrived.
        highest_ms: dict[str, int] = dict(connection.execute("SELECT probe, highest_ms FROM queue_newest"))
        rows = [
            (series[one.probe_id], one.measured_ms, *_stored(one), int(_look(one, highest_ms, Look.FLAGS)), version)
            for one in batch.readings
        ]
        rows.sort(key=lambda row: row[:2])  # keeps the order of equal keys, so that the later value still wins
        connection.executemany(_PUT, rows)
        for one in batch.readings:
            highest_ms[one.probe_id] = max(one.measured_ms, highest_ms.get(one.probe_id, one.measured_ms))
        for one in batch.beside:
            look, free_ms = _look(one, highest_ms, Look.PLACE), one.measured_ms
            if look is Look.PLACE:
                waits = rows_from(connection, one.probe_id, one.measured_ms, None)
                place_ms = free_place_ms(one, (row.reading for row in waits))
                if place_ms is None:
                    continue
                free_ms = place_ms
            moved = with_fields(one, measured_ms=free_ms)
            connection.execute(_NEW_ROW, (series[one.probe_id], free_ms, *_stored(moved), int(look), version))
            highest_ms[one.probe_id] = max(free_ms, highest_ms.get(one.probe_id, free_ms))
        _put_newest(connection, everything, {one: highest_ms[one] for one in series if one in highest_ms})
        return series

    def _series(self, connection: sqlite3.Connection, probe_id: str) -> int:
        tags = (probe_id, *self._tags[probe_id])
        connection.execute("INSERT INTO queue_series (probe, bed, quantity) VALUES (?, ?, ?) ON CONFLICT DO NOTHING", tags)
        found = connection.execute("SELECT number FROM queue_series WHERE (probe, bed, quantity) = (?, ?, ?)", tags)
        return int(found.fetchone()[0])


def _look(one: Reading, highest_ms: Mapping[str, int], else_: Look) -> Look:
    known_ms = highest_ms.get(one.probe_id)
    return Look.NONE if known_ms is not None and one.measured_ms > known_ms else else_


def _put_newest(connection: sqlite3.Connection, readings: Iterable[Reading], highest_ms: Mapping[str, int]) -> None:
    newest: dict[str, Reading] = {}
    for one in readings:
        if one.probe_id not in newest or rank(one) >= rank(newest[one.probe_id]):
            newest[one.probe_id] = one
    connection.executemany(
        _PUT_NEWEST,
        [
            (one.probe_id, one.measured_ms, *_stored(one), highest_ms.get(one.probe_id, one.measured_ms))
            for one in newest.values()
        ],
    )
    connection.executemany(
        "UPDATE queue_newest SET highest_ms = max(highest_ms, ?) WHERE probe = ?",
        [(high_ms, probe_id) for probe_id, high_ms in highest_ms.items()],
    )


def _next_version(connection: sqlite3.Connection) -> int:
    (version,) = connection.execute("UPDATE queue_tally SET version = version + 1 RETURNING version").fetchone()
    return int(version)


def _drop(connection: sqlite3.Connection, rows: Sequence[Waiting]) -> int:
    return connection.executemany(
        "DELETE FROM queue WHERE series = ? AND measured_ms = ? AND version = ?",
        [(row.series, row.reading.measured_ms, row.version) for row in rows],
    ).rowcount


def _stored(one: Reading) -> tuple[float, float | None, int, int]:
    return one.value, None if one.raw == one.value else one.raw, one.received_ms - one.measured_ms, int(one.flags)
