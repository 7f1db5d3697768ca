"""What links in messages are signed with, and which were used, in SQLite."""

from __future__ import annotations

import secrets
import sqlite3

from collector.advice.links import KEY_BYTES
from collector.calls import Used


def key(connection: sqlite3.Connection) -> bytes:
    """The key that signs, made at the first question; within a transaction, so that it is made once."""
    connection.execute("INSERT OR IGNORE INTO link_key (one, key) VALUES (1, ?)", (secrets.token_bytes(KEY_BYTES),))
    (found,) = connection.execute("SELECT key FROM link_key").fetchone()
    return bytes(found)


def used(connection: sqlite3.Connection, nonce: str) -> Used | None:
    """As `ports.LinkStore.used`."""
    found = connection.execute("SELECT at_ms, answer FROM used_link WHERE nonce = ?", (nonce,)).fetchone()
    return None if found is None else Used(*found)


def use(connection: sqlite3.Connection, nonce: str, notice_id: int, use: Used) -> bool:
    """Use a link up, within a transaction; False where it was used up before."""
    taken = connection.execute(
        "INSERT OR IGNORE INTO used_link (nonce, notice, at_ms, answer) VALUES (?, ?, ?, ?)",
        (nonce, notice_id, use.at_ms, use.answer),
    )
    return taken.rowcount == 1
