"""The journal in SQLite: an entry is changed or taken back, and what it said before stays."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from typing import Any

from collector.errors import QuestionError
from collector.journal import Deed, Entry

_COLUMNS = "bed, deed, at_ms, written_ms, planting, what, amounts, note, picture, number, struck_ms"


def write(connection: sqlite3.Connection, entry: Entry) -> Entry:
    """As `ports.SeasonStore.write`, within a transaction."""
    values = (
        entry.bed_id,
        entry.deed,
        entry.at_ms,
        entry.written_ms,
        entry.planting,
        entry.what,
        json.dumps(dict(entry.amounts)),
        entry.note,
        entry.picture,
        entry.number or None,
        entry.struck_ms,
    )
    if entry.number:
        changed = connection.execute(
            """UPDATE journal SET bed = ?1, deed = ?2, at_ms = ?3, written_ms = ?4, planting = ?5, what = ?6, amounts = ?7,
                note = ?8, picture = ?9, struck_ms = ?11 WHERE number = ?10""",
            values,
        ).rowcount
        if not changed:
            raise _unknown(entry.number)
    else:
        connection.execute(f"INSERT INTO journal ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", values)
    kept = connection.execute(f"SELECT {_COLUMNS} FROM journal WHERE number = coalesce(?, last_insert_rowid())", values[9:10])
    return _entry(kept.fetchone())


def entries(connection: sqlite3.Connection, from_ms: int, to_ms: int, *, struck: bool) -> Sequence[Entry]:
    """As `ports.SeasonStore.entries`."""
    rows = connection.execute(
        f"""SELECT {_COLUMNS} FROM journal WHERE at_ms >= ? AND at_ms < ? AND (? OR struck_ms IS NULL)
        ORDER BY at_ms, number""",
        (from_ms, to_ms, struck),
    )
    return tuple(map(_entry, rows))


def versions(connection: sqlite3.Connection, number: int) -> Sequence[Entry]:
    """As `ports.SeasonStore.versions`."""
    rows = [
        *connection.execute(f"SELECT {_COLUMNS} FROM journal_before WHERE number = ? ORDER BY order_of_change", (number,)),
        *connection.execute(f"SELECT {_COLUMNS} FROM journal WHERE number = ?", (number,)),
    ]
    if not rows:
        raise _unknown(number)
    return tuple(map(_entry, rows))


def strike_newest(connection: sqlite3.Connection, bed_id: str, deed: Deed, at_ms: int) -> None:
    """Take back the newest standing entry of a deed in a bed; harmless where there is none."""
    connection.execute(
        """UPDATE journal SET struck_ms = ? WHERE number = (
            SELECT number FROM journal WHERE bed = ? AND deed = ? AND struck_ms IS NULL
            ORDER BY at_ms DESC, number DESC LIMIT 1)""",
        (at_ms, bed_id, deed),
    )


def _entry(row: Sequence[Any]) -> Entry:
    bed_id, deed, at_ms, written_ms, planting, what, amounts, *rest = row
    return Entry(bed_id, Deed(deed), at_ms, written_ms, planting, what, json.loads(amounts), *rest)


def _unknown(number: int) -> QuestionError:
    return QuestionError(f"journal entry {number}: there is none of that number; take one of the list of entries")
