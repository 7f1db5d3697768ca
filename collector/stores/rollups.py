"""Rollups in SQLite: kept in step with what is written, read in their place, and what stays when raw readings go.

Whoever changes readings notes the ten minutes that they lie in as stale, in the same transaction. What is stale is worked out
from the readings, by a reader for itself and by the upkeep for good: so a rollup that is read is always true, however far
behind the upkeep is. Hours and days are made out of ten minutes.

Where raw readings were pruned, the ten minutes keep what they are, and a late reading is added to them.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator

import numpy as np

from collector.model import DISTRUSTED
from collector.rollup import NOTHING, Every, Ints, Steps, Sums, coarser, steps_from, sums_of, together

TEN_MS = int(Every.TEN_MINUTES)
# The ten minutes that a time lies in, in SQL: whole numbers are divided towards zero there, and we count downward.
PLACE = f"((measured_ms - ((measured_ms % {TEN_MS}) + {TEN_MS}) % {TEN_MS}) / {TEN_MS})"
_MINUTES = {every: every // 60_000 for every in Every}
_BELIEVED = f"flags & {int(DISTRUSTED)} = 0"
_RAW = f"SELECT measured_ms, value FROM reading WHERE probe = ? AND measured_ms >= ? AND measured_ms < ? AND {_BELIEVED}"
_ROLLED = (
    "SELECT place, least, most, total, moments_ms, count FROM rollup WHERE probe = ? AND minutes = ? AND place >= ? AND place < ?"
)
_ROLLED_ROW = np.dtype([("place", "i8"), ("least", "f8"), ("most", "f8"), ("total", "f8"), ("moments_ms", "i8"), ("count", "i8")])
_RAW_ROW = np.dtype([("time_ms", "i8"), ("value", "f8")])


def note_stale(connection: sqlite3.Connection, rows: Iterable[tuple[int, int, object, object, object, object]]) -> None:
    """Rows of readings are new or changed: probe by number, time [ms], and the rest. Inside the transaction that changes them."""
    stale: list[tuple[int, int]] = []
    last = begin_ms = end_ms = 0
    for row in rows:  # mostly in the order of the key, so that few of them are of other ten minutes than the one before
        if row[0] != last or not begin_ms <= row[1] < end_ms:
            last, place = row[0], row[1] // TEN_MS
            begin_ms, end_ms = place * TEN_MS, (place + 1) * TEN_MS
            stale.append((last, place))
    connection.executemany("INSERT OR IGNORE INTO stale (probe, place) VALUES (?, ?)", stale)


def note_stale_span(connection: sqlite3.Connection, probe_id: str, from_ms: int, to_ms: int) -> None:
    """All that a probe said in a span may have changed."""
    connection.execute(
        f"""INSERT OR IGNORE INTO stale (probe, place) SELECT DISTINCT probe, {PLACE} FROM reading
        WHERE probe = (SELECT number FROM probe WHERE id = ?) AND measured_ms >= ? AND measured_ms < ?""",
        (probe_id, from_ms, to_ms),
    )


def steps(connection: sqlite3.Connection, probe_id: str, from_ms: int, to_ms: int, every: Every) -> Steps:
    """As `ports.Readings.steps`. Inside one transaction, so that all of it is of one moment."""
    found = connection.execute("SELECT number FROM probe WHERE id = ?", (probe_id,)).fetchone()
    if found is None or to_ms <= from_ms:
        return steps_from(probe_id, NOTHING, every)
    probe, (first, end) = int(found[0]), (-(-from_ms // every), -(-to_ms // every))
    tens = every // TEN_MS
    stale = _stale_places(connection, probe, first * tens, end * tens)
    rolled = _rolled(connection, probe, every, first, end)
    if not stale.size:
        return steps_from(probe_id, rolled, every)
    # Of the steps that hold something stale all ten minutes are asked for, and none of the others.
    behind = np.unique(stale // tens)
    sound = rolled.kept(~np.isin(rolled.place, behind))
    short = [_tens(connection, probe, low * tens, high * tens, stale) for low, high in _runs(behind)]
    return steps_from(probe_id, together([sound, coarser(together(short), Every.TEN_MINUTES, every)]), every)


def roll(connection: sqlite3.Connection, before_place: int, most: int) -> int:
    """Bring up to `most` stale ten minutes of one probe up to date that are over; says how many. Inside a transaction.

    Args:
        connection: with a transaction open.
        before_place: the ten minutes that are not over yet, and so would be stale again at once.
        most: how many, so that nobody waits long.
    """
    found = connection.execute("SELECT probe FROM stale WHERE place < ? ORDER BY probe LIMIT 1", (before_place,)).fetchone()
    if found is None:
        return 0
    probe = int(found[0])
    rows = connection.execute(
        "SELECT place FROM stale WHERE probe = ? AND place < ? ORDER BY place LIMIT ?", (probe, before_place, most)
    )
    stale = np.array([place for (place,) in rows], dtype=np.int64)
    pruned_place = _pruned_place(connection, probe)
    for low, high in _runs(stale):
        _put(connection, probe, Every.TEN_MINUTES, low, high, _tens(connection, probe, low, high, stale))
        if low < pruned_place:  # what came late is in the rollup now, where all the other readings of then are
            gone_ms = (low * TEN_MS, min(high, pruned_place) * TEN_MS)
            connection.execute("DELETE FROM reading WHERE probe = ? AND measured_ms >= ? AND measured_ms < ?", (probe, *gone_ms))
        connection.execute("DELETE FROM stale WHERE probe = ? AND place >= ? AND place < ?", (probe, low, high))
    shorter = Every.TEN_MINUTES
    for longer in (Every.HOUR, Every.DAY):
        share = longer // shorter
        for low, high in _runs(np.unique(stale // (longer // TEN_MS))):
            parts = _rolled(connection, probe, shorter, low * share, high * share)
            _put(connection, probe, longer, low, high, coarser(parts, shorter, longer))
        shorter = longer
    return int(stale.size)


def prune(connection: sqlite3.Connection, before_ms: int, most: int) -> int:
    """Let up to about `most` raw readings of one probe go that are older than a time and rolled up; says how many.

    The newest of a probe stays, however old, and so do readings that are stale. Inside a transaction.

    Args:
        connection: with a transaction open.
        before_ms: raw readings from then on stay [ms since 1970-01-01 UTC].
        most: how many readings, so that nobody waits long; one ten minutes more at most.
    """
    for probe, newest_ms, pruned_ms in connection.execute(
        """SELECT number, (SELECT max(measured_ms) FROM reading WHERE probe = number), coalesce(before_ms, -9223372036854775807)
        FROM probe LEFT JOIN pruned ON pruned.probe = number"""
    ).fetchall():
        end_ms = min(before_ms, pruned_ms if newest_ms is None else newest_ms) // TEN_MS * TEN_MS
        if end_ms > pruned_ms and (gone := _prune_probe(connection, probe, end_ms, most)):
            return gone
    return 0


def pruned_before_ms(connection: sqlite3.Connection) -> dict[str, int]:
    """Up to when [ms] no raw reading of a probe is kept, by its id; those of whom all are kept are left out."""
    return dict(connection.execute("SELECT id, before_ms FROM pruned JOIN probe ON number = probe"))


# ---------------------------------------------------------------- parts of the above


def _prune_probe(connection: sqlite3.Connection, probe: int, end_ms: int, most: int) -> int:
    stale = connection.execute(
        "SELECT min(place) FROM stale WHERE probe = ? AND place < ?", (probe, end_ms // TEN_MS)
    ).fetchone()[0]
    if stale is not None:
        end_ms = min(end_ms, stale * TEN_MS)
    last = connection.execute(
        "SELECT measured_ms FROM reading WHERE probe = ? AND measured_ms < ? ORDER BY measured_ms LIMIT 1 OFFSET ?",
        (probe, end_ms, most),
    ).fetchone()
    if last is not None:
        end_ms = min(end_ms, (int(last[0]) // TEN_MS + 1) * TEN_MS)
    gone = connection.execute("DELETE FROM reading WHERE probe = ? AND measured_ms < ?", (probe, end_ms)).rowcount
    if gone:
        connection.execute(
            "INSERT INTO pruned (probe, before_ms) VALUES (?1, ?2) ON CONFLICT DO UPDATE SET before_ms = max(before_ms, ?2)",
            (probe, end_ms),
        )
    return gone


def _tens(connection: sqlite3.Connection, probe: int, first: int, end: int, stale: Ints) -> Sums:
    """The ten minutes of a stretch as they are: what is stale from the readings, the rest, and what was pruned, as rolled up."""
    rolled = _rolled(connection, probe, Every.TEN_MINUTES, first, end)
    pruned_place = _pruned_place(connection, probe)
    sound = rolled.kept(~np.isin(rolled.place, stale[stale >= pruned_place]))
    here = stale[(stale >= first) & (stale < end)]
    return together([sound, *(_from_readings(connection, probe, low, high) for low, high in _runs(here))])


def _from_readings(connection: sqlite3.Connection, probe: int, first: int, end: int) -> Sums:
    rows = np.fromiter(connection.execute(f"{_RAW} ORDER BY measured_ms", (probe, first * TEN_MS, end * TEN_MS)), dtype=_RAW_ROW)
    return sums_of(np.ascontiguousarray(rows["time_ms"]), np.ascontiguousarray(rows["value"]), Every.TEN_MINUTES)


def _rolled(connection: sqlite3.Connection, probe: int, every: Every, first: int, end: int) -> Sums:
    rows = np.fromiter(connection.execute(_ROLLED, (probe, _MINUTES[every], first, end)), dtype=_ROLLED_ROW)
    return Sums(*(np.ascontiguousarray(rows[name]) for name in _ROLLED_ROW.names or ()))


def _put(connection: sqlite3.Connection, probe: int, every: Every, first: int, end: int, sums: Sums) -> None:
    span = (probe, _MINUTES[every], first, end)
    connection.execute("DELETE FROM rollup WHERE probe = ? AND minutes = ? AND place >= ? AND place < ?", span)
    rows = zip(*(column.tolist() for column in sums.columns), strict=True)
    connection.executemany(
        "INSERT INTO rollup (probe, minutes, place, least, most, total, moments_ms, count) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        [(probe, _MINUTES[every], *row) for row in rows],
    )


def _stale_places(connection: sqlite3.Connection, probe: int, first: int, end: int) -> Ints:
    rows = connection.execute(
        "SELECT place FROM stale WHERE probe = ? AND place >= ? AND place < ? ORDER BY place", (probe, first, end)
    )
    return np.array([place for (place,) in rows], dtype=np.int64)


def _pruned_place(connection: sqlite3.Connection, probe: int) -> int:
    """The first ten minutes whose raw readings are all kept; far below zero where none were let go."""
    found = connection.execute("SELECT before_ms FROM pruned WHERE probe = ?", (probe,)).fetchone()
    return -(2**62) if found is None else int(found[0]) // TEN_MS


def _runs(places: Ints) -> Iterator[tuple[int, int]]:
    """Stretches of places that follow each other, each with its first and the one after its last."""
    if places.size:
        breaks = np.flatnonzero(np.diff(places) > 1)
        firsts, lasts = np.append(places[:1], places[breaks + 1]), np.append(places[breaks], places[-1:])
        yield from zip(firsts.tolist(), (lasts + 1).tolist(), strict=True)
