"""What the numbers of probes mean, in SQLite, and what is still to be worked out anew by it."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from typing import Any

from collector.calibration import Calibration, from_plain, to_plain
from collector.errors import QuestionError

_COLUMNS = "probe, from_ms, curve, written_ms, note, number, struck_ms"


def everything(connection: sqlite3.Connection) -> Sequence[Calibration]:
    """As `ports.CalibrationStore.calibrations`."""
    return tuple(map(_calibration, connection.execute(f"SELECT {_COLUMNS} FROM calibration ORDER BY number")))


def keep(connection: sqlite3.Connection, one: Calibration) -> Calibration:
    """As `ports.CalibrationStore.calibrate`, within a transaction."""
    row = (one.probe_id, one.from_ms, json.dumps(to_plain(one.curve)), one.written_ms, one.note)
    connection.execute("INSERT INTO calibration (probe, from_ms, curve, written_ms, note) VALUES (?, ?, ?, ?, ?)", row)
    _replay_from(connection, one.probe_id, one.from_ms)
    return _one(connection, "number = last_insert_rowid()", ())


def strike(connection: sqlite3.Connection, number: int, at_ms: int) -> Calibration:
    """As `ports.CalibrationStore.strike_calibration`, within a transaction."""
    connection.execute("UPDATE calibration SET struck_ms = coalesce(struck_ms, ?) WHERE number = ?", (at_ms, number))
    struck = _one(connection, "number = ?", (number,))
    _replay_from(connection, struck.probe_id, struck.from_ms)
    return struck


def to_replay(connection: sqlite3.Connection) -> Mapping[str, int]:
    """As `ports.CalibrationStore.to_replay`."""
    return dict(connection.execute("SELECT probe, from_ms FROM to_replay ORDER BY probe"))


def replayed(connection: sqlite3.Connection, probe_id: str, from_ms: int, up_to_ms: int | None) -> None:
    """As `ports.CalibrationStore.replayed`: a calibration that came meanwhile may want more of it anew."""
    if up_to_ms is None:
        connection.execute("DELETE FROM to_replay WHERE probe = ? AND from_ms = ?", (probe_id, from_ms))
    else:
        connection.execute("UPDATE to_replay SET from_ms = ? WHERE probe = ? AND from_ms = ?", (up_to_ms, probe_id, from_ms))


def _replay_from(connection: sqlite3.Connection, probe_id: str, from_ms: int) -> None:
    connection.execute(
        """INSERT INTO to_replay (probe, from_ms) VALUES (?, ?)
        ON CONFLICT (probe) DO UPDATE SET from_ms = min(from_ms, excluded.from_ms)""",
        (probe_id, from_ms),
    )


def _one(connection: sqlite3.Connection, which: str, values: tuple[int, ...]) -> Calibration:
    found = connection.execute(f"SELECT {_COLUMNS} FROM calibration WHERE {which}", values).fetchone()
    if found is None:
        raise QuestionError(f"calibration {values[0]}: there is none of that number; `cooldepth calibrate` lists them")
    return _calibration(found)


def _calibration(row: Sequence[Any]) -> Calibration:
    probe_id, from_ms, curve, written_ms, note, number, struck_ms = row
    return Calibration(probe_id, from_ms, from_plain(json.loads(curve)), written_ms, note, number, struck_ms)
