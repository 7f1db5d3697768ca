"""What is kept beside the readings in SQLite, whatever the series store: refused, unclaimed, when messages came.

All of it is written and asked inside what the caller has open.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Mapping, Sequence

from collector.model import Batch, Refusal, Spoken, Unclaimed
from collector.stores.schema import Writer

# A message id is 16 bits wide (MQTT 5, section 2.2.1) and most brokers count it up, so a number comes again for a new
# message after 65,535 others. An arrival is kept for half as many messages: long enough to know again what a broker
# sends again, after a crash of its own too, and forgotten well before its number stands for another message.
ARRIVALS_KEPT = 32_768
# A board that talks nonsense for weeks must not fill the card: beyond so many bytes the oldest refusals go, as many as came, so
# that no commit takes long. A row takes about this much beside its payload. Common practice, no source.
REFUSED_MOST_BYTES, REFUSAL_BYTES = 1_000_000_000, 200

# Of what no probe claims the oldest go in the same way: so many are a month of twenty probes that speak once a minute, in some
# 100 MB. Common practice, no source.
UNCLAIMED_MOST = 1_000_000

_PUT_UNCLAIMED = """
    INSERT INTO unclaimed (stranger, measured_ms, value, unit, received_ms, source) VALUES (?, ?, ?, ?, ?, ?)
    ON CONFLICT (stranger, measured_ms) DO UPDATE
    SET value = excluded.value, unit = excluded.unit, received_ms = excluded.received_ms, source = excluded.source"""

_OF_STRANGER = """
    SELECT unit, measured_ms, value, received_ms, source
    FROM unclaimed WHERE stranger = (SELECT number FROM stranger WHERE id = ?) ORDER BY measured_ms LIMIT ?"""


class Numbers:
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
                text = storable(id_)
                connection.execute(f"INSERT INTO {self._table} (id) VALUES (?) ON CONFLICT DO NOTHING", (text,))
                (number,) = connection.execute(f"SELECT number FROM {self._table} WHERE id = ?", (text,)).fetchone()
            numbers[id_] = number
        return numbers

    def keep(self, numbers: Mapping[str, int]) -> None:
        """These are committed."""
        self._known.update(numbers)


class WritesAside:
    """What a writing store does with what is kept beside the readings, whatever it does with those."""

    _writer: Writer

    def first_arrival(self, source: str, message_id: int, digest: bytes) -> int | None:
        """When this very message first came [ms], if it was committed and may be sent again; else None."""
        with self._writer.reading() as connection:
            return first_arrival(connection, source, message_id, digest)

    def spoken(self) -> Sequence[Spoken]:
        """When probes began to send in another unit (`ports.ReadingStore`)."""
        with self._writer.reading() as connection:
            return tuple(Spoken(*row) for row in connection.execute("SELECT probe, from_ms, unit FROM spoken ORDER BY from_ms"))

    def forget_arrivals(self) -> None:
        """The sender numbers its messages anew (`ports.ReadingStore`)."""
        with self._writer.transaction() as connection:
            forget_arrivals(connection)

    def kept_of(self, addresses: Collection[str], most: int) -> Sequence[Unclaimed]:
        """What these addresses said while no probe claimed them (`ports.ReadingStore`)."""
        with self._writer.reading() as connection:
            return kept_of(connection, addresses, most)

    def let_go(self, kept: Sequence[Unclaimed]) -> None:
        """These are the readings of a probe now (`ports.ReadingStore`)."""
        with self._writer.transaction() as connection:
            let_go(connection, kept)


def put_aside(connection: sqlite3.Connection, batch: Batch) -> None:
    """All of the batch but its readings, and when the last of those came."""
    _put_unclaimed(connection, batch.unclaimed)
    put_refusals(connection, batch.refusals)
    _put_arrivals(connection, batch)
    connection.executemany(
        "INSERT OR REPLACE INTO spoken (probe, from_ms, unit) VALUES (?, ?, ?)",
        [(one.probe_id, one.from_ms, one.unit) for one in batch.spoken],
    )
    if batch.last_received_ms is not None:
        connection.execute("UPDATE tally SET last_received_ms = ?", (batch.last_received_ms,))


def first_arrival(connection: sqlite3.Connection, source: str, message_id: int, digest: bytes) -> int | None:
    """When this very message first came [ms], if it was committed and may be sent again; else None."""
    found = connection.execute(
        "SELECT received_ms FROM arrival WHERE source = ? AND message_id = ? AND digest = ?",
        (storable(source), message_id, digest),
    ).fetchone()
    return None if found is None else int(found[0])


def forget_arrivals(connection: sqlite3.Connection) -> None:
    """The broker numbers its messages anew."""
    connection.execute("DELETE FROM arrival")


def put_refusals(connection: sqlite3.Connection, refusals: Sequence[Refusal]) -> None:
    """Refusals, counted as they are written."""
    if not refusals:
        return
    connection.executemany(
        "INSERT INTO refusal (received_ms, source, reason, payload, size) VALUES (?, ?, ?, ?, ?)",
        [(one.received_ms, storable(one.source), storable(one.reason), one.payload, one.size) for one in refusals],
    )
    came = sum(len(one.payload) + REFUSAL_BYTES for one in refusals)
    (kept,) = connection.execute(
        "UPDATE tally SET refused = refused + ?, refused_bytes = refused_bytes + ? RETURNING refused_bytes", (len(refusals), came)
    ).fetchone()
    if kept > REFUSED_MOST_BYTES:
        _forget_oldest_refusals(connection, kept - REFUSED_MOST_BYTES)


def _forget_oldest_refusals(connection: sqlite3.Connection, bytes_to_free: int) -> None:
    """Let go of the oldest that take so much; how many there were in all stays counted."""
    last = freed = 0
    for number, size in connection.execute("SELECT number, length(payload) FROM refusal ORDER BY number"):
        last, freed = number, freed + size + REFUSAL_BYTES
        if freed >= bytes_to_free:
            break
    connection.execute("DELETE FROM refusal WHERE number <= ?", (last,))
    connection.execute("UPDATE tally SET refused_bytes = refused_bytes - ?", (freed,))


def _put_unclaimed(connection: sqlite3.Connection, unclaimed: Sequence[Unclaimed]) -> None:
    if not unclaimed:
        return
    strangers = Numbers("stranger").of(connection, {one.address for one in unclaimed})
    connection.executemany(
        _PUT_UNCLAIMED,
        [
            (
                strangers[one.address],
                one.measured_ms,
                one.value,
                one.unit and storable(one.unit),
                one.received_ms,
                storable(one.source),
            )
            for one in unclaimed
        ],
    )
    (kept,) = connection.execute("SELECT unclaimed FROM tally").fetchone()
    if kept > UNCLAIMED_MOST:
        _forget_oldest_unclaimed(connection, kept - UNCLAIMED_MOST)


def _forget_oldest_unclaimed(connection: sqlite3.Connection, count: int) -> None:
    """Let go of those that came first, and of addresses that nothing is left of."""
    rows = connection.execute("SELECT stranger, measured_ms FROM unclaimed ORDER BY received_ms LIMIT ?", (count,)).fetchall()
    connection.executemany("DELETE FROM unclaimed WHERE stranger = ? AND measured_ms = ?", rows)
    _forget_strangers(connection, "number", {stranger for stranger, _ in rows})


def _forget_strangers(connection: sqlite3.Connection, column: str, these: Collection[object]) -> None:
    connection.executemany(
        f"DELETE FROM stranger WHERE {column} = ? AND NOT EXISTS (SELECT 1 FROM unclaimed WHERE stranger = stranger.number)",
        [(one,) for one in these],
    )


def let_go(connection: sqlite3.Connection, adopted: Sequence[Unclaimed]) -> None:
    """These have a probe now, and are its readings (`ports.ReadingStore`)."""
    connection.executemany(
        "DELETE FROM unclaimed WHERE measured_ms = ? AND stranger = (SELECT number FROM stranger WHERE id = ?)",
        [(one.measured_ms, storable(one.address)) for one in adopted],
    )
    _forget_strangers(connection, "id", {storable(one.address) for one in adopted})


def kept_of(connection: sqlite3.Connection, addresses: Collection[str], most: int) -> Sequence[Unclaimed]:
    """What these addresses said while no probe claimed them (`ports.ReadingStore`)."""
    kept: list[Unclaimed] = []
    for address in addresses:
        rows = connection.execute(_OF_STRANGER, (storable(address), most - len(kept)))
        kept += [Unclaimed(address, *row) for row in rows]
    return kept


def _put_arrivals(connection: sqlite3.Connection, batch: Batch) -> None:
    count = max(batch.numbered, len(batch.arrivals))
    if not count:
        return
    # An arrival is known by how many numbered messages were settled before it, those with a time of their own too.
    (settled,) = connection.execute("UPDATE tally SET numbered = numbered + ? RETURNING numbered", (count,)).fetchone()
    connection.executemany(
        "INSERT OR REPLACE INTO arrival (number, source, message_id, digest, received_ms) VALUES (?, ?, ?, ?, ?)",
        [
            (number, storable(one.source), one.message_id, one.digest, one.received_ms)
            for number, one in enumerate(batch.arrivals, start=settled - count + 1)
        ],
    )
    connection.execute("DELETE FROM arrival WHERE number <= ?", (settled - ARRIVALS_KEPT,))


def storable(text: str) -> str:
    """The text with half characters, which no UTF-8 can hold, escaped: strangers send them, and they must not block the line."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")
