"""The SQLite file: its age, and how it is opened.

One file holds readings and season records. Its application id says that it is ours, its
user version how old its tables are; what brings them up to date and the new version number
are one transaction, so a crash leaves the old file or the new one. What SQLite says when it
cannot is put into sentences here, for every store alike.
"""

from __future__ import annotations

import fcntl
import os
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from collector.errors import SchemaError, StoreBusyError, StoreError
from collector.stores.migrations import MIGRATIONS as MIGRATIONS

# "Cool" in ASCII, in the place that SQLite keeps for an application's mark.
APPLICATION_ID = 0x436F6F6C
# How long a writer waits for another before it says that the store is busy.
BUSY_TIMEOUT_S = 5.0

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
            if (version := version_of(connection, path)) < len(MIGRATIONS):
                if version:
                    _keep_as_it_was(connection, path, version)
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


def _keep_as_it_was(connection: sqlite3.Connection, path: Path, version: int) -> None:
    """A copy of the file beside it before it is changed for good: a newer program's file is none to the older one."""
    copy = path.with_name(f"{path.name}.version-{version}")
    if copy.exists():
        return
    part = path.with_name(f".{copy.name}.part")
    try:
        with closing(sqlite3.connect(part)) as target:
            connection.backup(target)
        part.replace(copy)
    except OSError as error:
        raise StoreBusyError(f"store {path}: it could not be copied before it is brought to this version ({error})") from error
    finally:
        part.unlink(missing_ok=True)


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


@contextmanager
def moment(connection: sqlite3.Connection) -> Iterator[None]:
    """All that is asked inside is of one moment, while writers go on."""
    connection.execute("BEGIN")
    try:
        yield
    finally:
        if connection.in_transaction:
            connection.execute("COMMIT")


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
