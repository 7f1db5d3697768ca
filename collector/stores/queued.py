"""What waits in the queue, as the one who ships it and the ones who read beside it see it."""

from __future__ import annotations

import heapq
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum

from collector.model import Flag, Reading
from collector.stores.keys import rank

END_MS = 2**62
READING = "measured_ms, value, coalesce(raw, value), measured_ms + delay_ms, flags"
_WAITING = f"SELECT probe, {READING}, bed, quantity, look, version, series FROM queue JOIN queue_series ON number = series"


class Look(IntEnum):
    """What is to be looked for where a reading goes, before it is written."""

    NONE = 0
    FLAGS = 1  # the same reading may have arrived already: the flags it has there are to be heeded
    PLACE = 2  # it may overwrite nothing, so that it needs a free millisecond


@dataclass(frozen=True, slots=True)
class Waiting:
    """A reading that waits. `version` tells it from the one that it replaced."""

    reading: Reading
    bed: str
    quantity: str
    look: Look
    version: int
    series: int


@dataclass(frozen=True, slots=True)
class Mark:
    """A flag to be put on what has arrived of a probe in a span, or taken off."""

    number: int
    probe_id: str
    from_ms: int
    to_ms: int
    flag: Flag
    on: bool

    def on_flags(self, one: Reading) -> Flag:
        """The flags of a reading that has arrived, as the mark wants them."""
        if one.probe_id != self.probe_id or not self.from_ms <= one.measured_ms < self.to_ms:
            return one.flags
        return one.flags | self.flag if self.on else one.flags & ~self.flag


def marks_of(connection: sqlite3.Connection) -> Sequence[Mark]:
    """Marks that wait, in the order in which they were made."""
    rows = connection.execute("SELECT number, probe, from_ms, to_ms, flag, put FROM queue_mark ORDER BY number")
    return tuple(
        Mark(number, probe_id, from_ms, to_ms, Flag(flag), bool(put)) for number, probe_id, from_ms, to_ms, flag, put in rows
    )


def rows_waiting(connection: sqlite3.Connection, most: int) -> Sequence[Waiting]:
    """Up to `most` rows, by series and time."""
    return tuple(map(_row, connection.execute(f"{_WAITING} ORDER BY series, measured_ms LIMIT ?", (most,))))


def rows_from(connection: sqlite3.Connection, probe_id: str, from_ms: int, but: Waiting | None) -> Iterator[Waiting]:
    """Rows of a probe from a time on, oldest first, streamed; `but` for one of them."""
    key = None if but is None else (but.series, but.reading.measured_ms)
    return (row for row in _rows(connection, probe_id, from_ms, END_MS) if (row.series, row.reading.measured_ms) != key)


def readings_waiting(connection: sqlite3.Connection, probe_id: str, from_ms: int, to_ms: int) -> Iterator[Reading]:
    """What waits of a probe with from_ms <= measured_ms < to_ms, oldest first, each time once, streamed."""
    last: Waiting | None = None
    for row in _rows(connection, probe_id, from_ms, to_ms):
        if last is not None and row.reading.measured_ms != last.reading.measured_ms:
            yield last.reading
        elif last is not None and row.version < last.version:
            continue  # of a probe that was moved to another bed: the same time waits twice
        last = row
    if last is not None:
        yield last.reading


def moving_span(connection: sqlite3.Connection, probe_id: str, from_ms: int, to_ms: int) -> tuple[int, int] | None:
    """The shortest span within from_ms <= t < to_ms [ms] that holds all of a probe that waits there, or waits to be marked."""
    first, last = connection.execute(
        """SELECT min(measured_ms), max(measured_ms) FROM queue WHERE series IN (SELECT number FROM queue_series WHERE probe = ?)
        AND measured_ms >= ? AND measured_ms < ?""",
        (probe_id, from_ms, to_ms),
    ).fetchone()
    spans = [] if first is None else [(int(first), int(last) + 1)]
    spans += [(max(one.from_ms, from_ms), min(one.to_ms, to_ms)) for one in marks_of(connection) if one.probe_id == probe_id]
    spans = [(low_ms, high_ms) for low_ms, high_ms in spans if low_ms < high_ms]
    return (min(low_ms for low_ms, _ in spans), max(high_ms for _, high_ms in spans)) if spans else None


def newest_waiting(connection: sqlite3.Connection) -> Mapping[str, Reading]:
    """The newest that waits of each probe; one flagged FUTURE only where no other waits."""
    newest: dict[str, Reading] = {}
    for (series,) in connection.execute("SELECT number FROM queue_series").fetchall():
        for only in (f"AND flags & {int(Flag.FUTURE)} = 0", ""):
            found = connection.execute(
                f"{_WAITING} WHERE series = ? {only} ORDER BY measured_ms DESC LIMIT 1", (series,)
            ).fetchone()
            if found is not None:
                one = _row(found).reading
                newest[one.probe_id] = max(newest.get(one.probe_id, one), one, key=rank)
                break
    return newest


def _rows(connection: sqlite3.Connection, probe_id: str, from_ms: int, to_ms: int) -> Iterator[Waiting]:
    # One stretch of the tree for each series, so that nothing is sorted and nothing else walked through.
    question = f"{_WAITING} WHERE series = ? AND measured_ms >= ? AND measured_ms < ? ORDER BY measured_ms"
    numbers = connection.execute("SELECT number FROM queue_series WHERE probe = ?", (probe_id,)).fetchall()
    spans = (map(_row, connection.execute(question, (number, from_ms, to_ms))) for (number,) in numbers)
    return heapq.merge(*spans, key=lambda row: row.reading.measured_ms)


def _row(row: tuple[str, int, float, float, int, int, str, str, int, int, int]) -> Waiting:
    probe_id, measured_ms, value, raw, received_ms, flags, bed, quantity, look, version, series = row
    reading = Reading(probe_id, measured_ms, value, raw, received_ms, Flag(flags))
    return Waiting(reading, bed, quantity, Look(look), version, series)
