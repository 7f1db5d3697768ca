"""The SQLite file: its tables, its age, and how it is opened.

One file holds readings and season records. Its application id says that it is ours, its
user version how old its tables are; each migration and its version number are one
transaction, so a crash leaves the old file or the new one. What SQLite says when it cannot
is put into sentences here, for every store alike.
"""

from __future__ import annotations

import fcntl
import os
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from collector.errors import SchemaError, StoreBusyError, StoreError

# "Cool" in ASCII, in the place that SQLite keeps for an application's mark.
APPLICATION_ID = 0x436F6F6C
# How long a writer waits for another before it says that the store is busy.
BUSY_TIMEOUT_S = 5.0

# One entry a version, never changed once released: the next version is a new entry.
#
# A reading takes about 30 bytes: the number of its probe for its id, `raw` NULL where it
# equals `value`, the time of arrival as a delay. Keys need no second tree (WITHOUT ROWID).
MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (
        "CREATE TABLE probe (number INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE) STRICT",
        """CREATE TABLE reading (
            probe INTEGER NOT NULL REFERENCES probe(number),
            measured_ms INTEGER NOT NULL,
            value REAL NOT NULL,
            raw REAL,                   -- NULL: the same as value
            delay_ms INTEGER NOT NULL,  -- received_ms - measured_ms
            flags INTEGER NOT NULL,
            PRIMARY KEY (probe, measured_ms)
        ) STRICT, WITHOUT ROWID""",
        "CREATE TABLE stranger (number INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE) STRICT",
        """CREATE TABLE unclaimed (
            stranger INTEGER NOT NULL REFERENCES stranger(number),
            measured_ms INTEGER NOT NULL,
            value REAL NOT NULL,
            unit TEXT,
            received_ms INTEGER NOT NULL,
            source TEXT NOT NULL,
            PRIMARY KEY (stranger, measured_ms)
        ) STRICT, WITHOUT ROWID""",
        """CREATE TABLE refusal (
            number INTEGER PRIMARY KEY,
            received_ms INTEGER NOT NULL,
            source TEXT NOT NULL,
            reason TEXT NOT NULL,
            payload BLOB NOT NULL,      -- the head of it
            size INTEGER NOT NULL       -- its true length
        ) STRICT""",
        """CREATE TABLE arrival (
            number INTEGER PRIMARY KEY,
            source TEXT NOT NULL,
            message_id INTEGER NOT NULL,
            digest BLOB NOT NULL,
            received_ms INTEGER NOT NULL,
            UNIQUE (source, message_id)
        ) STRICT""",
        # One row: what would take a walk through a whole table to find out.
        "CREATE TABLE tally (refused INTEGER NOT NULL, last_received_ms INTEGER) STRICT",
        "INSERT INTO tally VALUES (0, NULL)",
        """CREATE TABLE memory (
            bed TEXT NOT NULL,
            job TEXT NOT NULL,
            due TEXT NOT NULL,
            since_ms INTEGER NOT NULL,
            told_ms INTEGER,
            done_ms INTEGER,
            PRIMARY KEY (bed, job)
        ) STRICT, WITHOUT ROWID""",
        """CREATE TABLE notice (
            id INTEGER PRIMARY KEY,
            raised_ms INTEGER NOT NULL,
            bed TEXT NOT NULL,
            job TEXT NOT NULL,
            title TEXT NOT NULL,
            text TEXT NOT NULL,
            seen_ms INTEGER,
            cleared_ms INTEGER
        ) STRICT""",
        """CREATE TABLE errand (
            notice INTEGER NOT NULL REFERENCES notice(id),
            channel TEXT NOT NULL,
            not_before_ms INTEGER NOT NULL,
            attempts INTEGER NOT NULL,
            delivered_ms INTEGER,
            trouble TEXT,
            PRIMARY KEY (notice, channel)
        ) STRICT, WITHOUT ROWID""",
        "CREATE INDEX open_errand ON errand (not_before_ms) WHERE delivered_ms IS NULL",
        """CREATE TABLE done (
            number INTEGER PRIMARY KEY,
            bed TEXT NOT NULL,
            job TEXT NOT NULL,
            at_ms INTEGER NOT NULL,
            undone_ms INTEGER,
            litres REAL
        ) STRICT""",
        "CREATE INDEX done_at ON done (at_ms)",
        # One row: what the collector last said of itself, the troubles as a JSON list.
        "CREATE TABLE report (one INTEGER PRIMARY KEY CHECK (one = 1), at_ms INTEGER NOT NULL, troubles TEXT NOT NULL) STRICT",
    ),
    (
        # One row for each bed: what was last expected of it, as JSON.
        "CREATE TABLE outlook (bed TEXT PRIMARY KEY, made_ms INTEGER NOT NULL, body TEXT NOT NULL) STRICT, WITHOUT ROWID",
    ),
    (
        # How pressing a job was when it was told; before there was "soon" ahead of time, it was due.
        "ALTER TABLE memory ADD COLUMN told TEXT",
        "UPDATE memory SET told = 'due' WHERE told_ms IS NOT NULL",
    ),
    (
        # One row: the last good answer of the public weather service as it came, and the question it answers.
        """CREATE TABLE weather (
            one INTEGER PRIMARY KEY CHECK (one = 1),
            asked TEXT NOT NULL,
            at_ms INTEGER NOT NULL,
            body TEXT NOT NULL
        ) STRICT""",
    ),
    (
        # Readings on their way to a series store elsewhere. A row is a reading as in the first version, its series
        # what the series store calls one; `look` is 1 where it may be there already, so that its flags are to be
        # heeded; `version` tells a row from the one it replaced.
        """CREATE TABLE queue_series (
            number INTEGER PRIMARY KEY,
            probe TEXT NOT NULL,
            bed TEXT NOT NULL,
            quantity TEXT NOT NULL,
            UNIQUE (probe, bed, quantity)
        ) STRICT""",
        """CREATE TABLE queue (
            series INTEGER NOT NULL REFERENCES queue_series(number),
            measured_ms INTEGER NOT NULL,
            value REAL NOT NULL,
            raw REAL,
            delay_ms INTEGER NOT NULL,
            flags INTEGER NOT NULL,
            look INTEGER NOT NULL,
            version INTEGER NOT NULL,
            PRIMARY KEY (series, measured_ms)
        ) STRICT, WITHOUT ROWID""",
        # What the intake must know of each probe when it starts while the series store is away: its newest reading,
        # and up to when it has spoken at all, dated in the future or not.
        """CREATE TABLE queue_newest (
            probe TEXT PRIMARY KEY,
            measured_ms INTEGER NOT NULL,
            value REAL NOT NULL,
            raw REAL,
            delay_ms INTEGER NOT NULL,
            flags INTEGER NOT NULL,
            highest_ms INTEGER NOT NULL
        ) STRICT, WITHOUT ROWID""",
        # One row; the triggers keep it true whoever writes.
        "CREATE TABLE queue_tally (waiting INTEGER NOT NULL, version INTEGER NOT NULL) STRICT",
        "INSERT INTO queue_tally VALUES (0, 0)",
        "CREATE TRIGGER queue_in AFTER INSERT ON queue BEGIN UPDATE queue_tally SET waiting = waiting + 1; END",
        "CREATE TRIGGER queue_out AFTER DELETE ON queue BEGIN UPDATE queue_tally SET waiting = waiting - 1; END",
    ),
    (
        # How many numbered messages were ever settled: an arrival's number counts them.
        "ALTER TABLE tally ADD COLUMN numbered INTEGER NOT NULL DEFAULT 0",
        "UPDATE tally SET numbered = (SELECT coalesce(max(number), 0) FROM arrival)",
    ),
    (
        # Flags to be put on readings in a series store elsewhere, or taken off (`put` 0), when it can be reached.
        """CREATE TABLE queue_mark (
            number INTEGER PRIMARY KEY,
            probe TEXT NOT NULL,
            from_ms INTEGER NOT NULL,
            to_ms INTEGER NOT NULL,
            flag INTEGER NOT NULL,
            put INTEGER NOT NULL
        ) STRICT""",
    ),
)

_BUSY = {
    sqlite3.SQLITE_BUSY: "another program is writing to it; if this stays, see which one",
    sqlite3.SQLITE_LOCKED: "another program is writing to it; if this stays, see which one",
    sqlite3.SQLITE_FULL: "the disk is full; make room on it",
    sqlite3.SQLITE_READONLY: "the file or its folder may not be written; give this user the right to write there",
    sqlite3.SQLITE_PERM: "the file or its folder may not be written; give this user the right to write there",
    sqlite3.SQLITE_IOERR: "the disk failed to read or write; see that it is in place, sound and not full",
    sqlite3.SQLITE_CANTOPEN: "see that its folder is there and that this user may write in it, to read as well",
    sqlite3.SQLITE_NOMEM: "the machine is out of memory; end other programs",
}
_DAMAGED = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}


@contextmanager
def explained(path: Path) -> Iterator[None]:
    """Turn what SQLite raises inside into StoreBusyError, SchemaError or StoreError with a sentence."""
    try:
        yield
    except sqlite3.Error as error:
        raise _explanation(path, error) from error


def _explanation(path: Path, error: sqlite3.Error) -> StoreError:
    # The low byte is the kind of trouble; the rest of the code says it more finely.
    code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & 0xFF
    if code in _BUSY:
        return StoreBusyError(f"store {path}: SQLite says {str(error)!r}: {_BUSY[code]}")
    if code == sqlite3.SQLITE_NOTADB:
        return SchemaError(f"store {path}: this file is no SQLite database; give store.path another name or move the file away")
    if code in _DAMAGED:
        return StoreError(f"store {path}: the file is damaged (SQLite says {str(error)!r}); put a sound copy in its place")
    return StoreError(f"store {path}: SQLite says {str(error)!r} ({type(error).__name__})")


def open_writer(path: Path) -> sqlite3.Connection:
    """A writing connection to the file, made and brought to this version first where that is needed.

    Every commit is on disk when it returns. Raises StoreError where the folder is not there,
    SchemaError for a file that is not ours or newer than this program, StoreBusyError where
    it cannot be written now.
    """
    with _reachable(path):
        if not path.parent.is_dir():
            raise StoreError(f"store {path}: there is no folder {path.parent}; make it, or give store.path another one")
        if path.is_dir():
            raise StoreError(f"store {path}: this is a folder; store.path wants the name of a file in it")
    with _one_at_a_time(path.parent), explained(path):
        connection = sqlite3.connect(path, timeout=BUSY_TIMEOUT_S, isolation_level=None, check_same_thread=False)
        try:
            if version_of(connection, path) < len(MIGRATIONS):
                _migrate(connection, path)
            # In this order: a file of somebody else's must not be changed, not even its journal mode.
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA foreign_keys = ON")
        except BaseException:
            connection.close()
            raise
    return connection


@contextmanager
def _reachable(path: Path) -> Iterator[None]:
    """Turn what the system says of a path that it will not even look at into a StoreError with a sentence."""
    try:
        yield
    except OSError as error:
        raise StoreError(
            f"store {path}: {error.strerror}; let this user into its folders, or give store.path another name"
        ) from error


@contextmanager
def _one_at_a_time(folder: Path) -> Iterator[None]:
    # Collector and dashboard start together; while a new file changes its journal mode, SQLite
    # tells others at once that it is locked, whatever their time-out. So they queue at the door.
    try:
        descriptor = os.open(folder, os.O_RDONLY)
    except OSError as error:
        raise StoreBusyError(f"store folder {folder}: {error.strerror}; let this user read and write there") from error
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield
    finally:
        os.close(descriptor)


def open_reader(path: Path) -> sqlite3.Connection | None:
    """A connection that cannot write, or None while there is no store yet (no file, or one without tables).

    Raises SchemaError for a file that is not ours or newer than this program, StoreBusyError
    for one that waits for its collector to bring it to this version.
    """
    with _reachable(path):
        if not path.parent.is_dir():
            raise StoreError(f"store {path}: there is no folder {path.parent}; see store.path in the garden file")
        if not path.exists():
            return None
    with explained(path):
        connection = sqlite3.connect(
            f"{path.absolute().as_uri()}?mode=ro", uri=True, timeout=BUSY_TIMEOUT_S, isolation_level=None, check_same_thread=False
        )
        try:
            version = version_of(connection, path)
        except BaseException:
            connection.close()
            raise
    if version == len(MIGRATIONS):
        return connection
    connection.close()
    if version == 0:
        return None
    raise StoreBusyError(
        f"store {path}: its tables are version {version}, this program reads version {len(MIGRATIONS)}; "
        "start the collector of this version once, it brings them up to date"
    )


def version_of(connection: sqlite3.Connection, path: Path) -> int:
    """The version of the tables, 0 for an empty file. Raises SchemaError if they are not ours, or newer than this program."""
    # One question, so that the three answers are of one moment: another process may be making the file.
    application_id, version, tables = connection.execute(
        """SELECT application_id, user_version, (SELECT count(*) FROM sqlite_schema)
        FROM pragma_application_id, pragma_user_version"""
    ).fetchone()
    if application_id != APPLICATION_ID and (application_id or version or tables):
        raise SchemaError(
            f"store {path}: this SQLite database was made by another program; "
            "give store.path another name, and leave that file as it is"
        )
    if version > len(MIGRATIONS):
        raise SchemaError(
            f"store {path}: its tables are version {version}, this program knows version {len(MIGRATIONS)} and older; "
            "install the newer Cooldepth that wrote it, or use another file"
        )
    return int(version)


def _migrate(connection: sqlite3.Connection, path: Path) -> None:
    # All in one, so that no reader ever meets a version between two; and asked again inside, as another process may have
    # come first.
    with transaction(connection):
        for statements in MIGRATIONS[version_of(connection, path) :]:
            for statement in statements:
                connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")


def _identity(path: Path) -> tuple[int, int] | None:
    """Which file it is, whatever it is called; None where there is none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """All of what is done inside, or none of it; waits its turn behind other writers."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        # After some troubles (a full disk) SQLite has rolled back by itself.
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


class Writer:
    """One writing connection that several threads may share, one transaction at a time."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._connection = open_writer(path)
        self._lock = threading.Lock()
        self._file = _identity(path)

    @contextmanager
    def transaction(self) -> Iterator[sqlite3.Connection]:
        """The connection inside a transaction: all or nothing. Raises what `explained` raises.

        Raises StoreError, too, where the file is no longer where it was: what went into it is lost to whoever opens it next.
        """
        with self._lock:
            with explained(self._path), transaction(self._connection):
                yield self._connection
            if _identity(self._path) != self._file:
                raise StoreError(
                    f"store {self._path}: the file was moved, deleted or replaced while it was in use; "
                    "put it back and start again, or start again to begin a new one"
                )

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """The connection for reading only. Raises what `explained` raises."""
        with self._lock, explained(self._path):
            yield self._connection

    def close(self) -> None:
        """Finish. Harmless when called twice."""
        with self._lock:
            self._connection.close()


class Reader:
    """Reading connections that any thread may ask; None in their place until there is a store to read."""

    def __init__(self, path: Path) -> None:
        """Nothing is opened before the first question, so a dashboard may start before its collector."""
        self._path = path
        self._lock = threading.Lock()
        self._connection: sqlite3.Connection | None = None
        self._closed = False

    @contextmanager
    def asking(self) -> Iterator[sqlite3.Connection | None]:
        """The connection that all short questions share, one at a time. Raises what `explained` raises."""
        with self._lock:
            if self._connection is None and not self._closed:
                self._connection = open_reader(self._path)
            with explained(self._path):
                yield self._connection

    @contextmanager
    def streaming(self) -> Iterator[sqlite3.Connection | None]:
        """A connection for one stream. Raises what `explained` raises.

        A stream holds its place for as long as its reader takes, so it has a connection to
        itself, and one transaction: it tells of one moment while the writer goes on.
        """
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

    def close(self) -> None:
        """Finish. Harmless when called twice."""
        with self._lock:
            self._closed = True
            if self._connection is not None:
                self._connection.close()
                self._connection = None
