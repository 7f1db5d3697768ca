"""A copy of all that a garden has on disk, taken while it runs, and put back: one file with a check of everything in it."""

from __future__ import annotations

import hashlib
import io
import json
import sqlite3
import tarfile
import tempfile
from collections.abc import Callable, Mapping
from contextlib import closing
from pathlib import Path
from typing import Any

from collector.errors import StoreError
from collector.stores.migrations import MIGRATIONS
from collector.stores.schema import explained, open_reader, version_of
from collector.stores.sole import sole_collector

MANIFEST, DATABASE, GARDEN, PICTURES = "manifest.json", "garden.db", "garden.toml", "pictures"
PAGES_AT_ONCE = 5_000
# What is counted in a copy, so that what comes back can be held against what went in.
_COUNTED = ("reading", "journal", "notice", "calibration", "queue", "unclaimed", "refusal")

Say = Callable[[str], None]


def back_up(garden_file: Path, store: Path, out: Path, made_utc: str, say: Say) -> Mapping[str, Any]:
    """Copy store, pictures and garden file into a new file, read it back, and answer its manifest.

    The store may be written meanwhile: the copy is of one moment. Raises StoreError where it cannot be made, or is not what
    it should be; then there is no such file.
    """
    if out.exists():
        raise StoreError(f"backup {out}: there is such a file already; nothing is written over, so name another")
    part = out.with_name(f".{out.name}.part")
    try:
        with tempfile.TemporaryDirectory(dir=out.parent, prefix=".cooldepth-backup-") as folder:
            copy = Path(folder) / DATABASE
            _copy_database(store, copy, say)
            _without_secrets(copy)
            files = {DATABASE: copy, GARDEN: garden_file}
            pictures = store.with_name(f"{store.name}.pictures")
            files |= {f"{PICTURES}/{one.name}": one for one in sorted(pictures.glob("*.jpg"))} if pictures.is_dir() else {}
            with tarfile.open(part, "w:gz", compresslevel=3) as archive:
                digests = {name: _put(archive, name, path) for name, path in files.items()}
                told = {"made_utc": made_utc, "schema": len(MIGRATIONS), "rows": _rows(copy), "sha256": digests}
                _put_bytes(archive, MANIFEST, json.dumps(told, indent=2).encode())
        say("reading it back ...")
        found = verify(part)
        part.replace(out)
    except OSError as error:
        raise StoreError(f"backup {out}: {error.strerror or error}") from error
    finally:
        part.unlink(missing_ok=True)
    return found


def verify(backup: Path) -> Mapping[str, Any]:
    """Read a backup through, hold everything in it against its checks, and open the database in it; answers the manifest.

    Raises StoreError where it is not whole.
    """
    with tempfile.TemporaryDirectory(prefix="cooldepth-verify-") as folder:
        return _unpack(backup, Path(folder))


def garden_text(backup: Path) -> str:
    """The garden file in a backup. Raises StoreError where it is not whole."""
    with tempfile.TemporaryDirectory(prefix="cooldepth-verify-") as folder:
        _unpack(backup, Path(folder))
        return (Path(folder) / GARDEN).read_text(encoding="utf-8-sig")


def restore(backup: Path, garden_file: Path, store: Path, *, overwrite: bool, say: Say) -> Mapping[str, Any]:
    """Put a backup's garden file, store and pictures where they belong; answers its manifest.

    What is there stays unless `overwrite` says otherwise, and then it is moved aside, with `.before-restore` at its end. Raises
    StoreError where something is there, a collector uses the store, or the backup is not whole: then nothing is changed.
    """
    pictures = store.with_name(f"{store.name}.pictures")
    there = [path for path in (garden_file, store, pictures) if path.exists()]
    if there and not overwrite:
        names = ", ".join(str(path) for path in there)
        raise StoreError(f"restore: {names} would be written over; move it away, or say --overwrite to have it moved aside")
    try:
        store.parent.mkdir(parents=True, exist_ok=True)
        with sole_collector(store), tempfile.TemporaryDirectory(dir=store.parent, prefix=".cooldepth-restore-") as folder:
            say("reading the backup ...")
            told = _unpack(backup, Path(folder))
            aside = [path for path in (*there, *(store.with_name(store.name + end) for end in ("-wal", "-shm"))) if path.exists()]
            for path in aside:
                path.replace(path.with_name(f"{path.name}.before-restore"))
            (Path(folder) / DATABASE).replace(store)
            (Path(folder) / GARDEN).replace(garden_file)
            if (Path(folder) / PICTURES).is_dir():
                (Path(folder) / PICTURES).replace(pictures)
    except OSError as error:
        raise StoreError(f"restore to {store}: {error.strerror or error}") from error
    return told


def _without_secrets(copy: Path) -> None:
    """Take the key out that signs links in messages: whoever finds a backup must not answer them. A missing one is made anew."""
    with closing(sqlite3.connect(copy, isolation_level=None)) as database:
        database.execute("PRAGMA secure_delete = ON")  # what is deleted is written over, and not only let go of
        database.execute("DELETE FROM link_key")


def _copy_database(store: Path, copy: Path, say: Say) -> None:
    connection = open_reader(store)
    if connection is None:
        raise StoreError(f"store {store}: there is nothing to back up yet")

    def progress(_status: int, left: int, pages: int) -> None:
        say(f"{pages - left} of {pages} pages copied")

    with explained(store), closing(connection), closing(sqlite3.connect(copy)) as target:
        # One transaction around it, or each write meanwhile would begin it anew.
        connection.execute("BEGIN")
        connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
        connection.backup(target, pages=PAGES_AT_ONCE, progress=progress)
        target.execute("PRAGMA journal_mode = DELETE")


def _rows(database: Path) -> dict[str, int]:
    with closing(sqlite3.connect(database)) as connection:
        return {name: connection.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in _COUNTED}


def _put(archive: tarfile.TarFile, name: str, path: Path) -> str:
    with path.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
    archive.add(path, name, recursive=False)
    return digest


def _put_bytes(archive: tarfile.TarFile, name: str, content: bytes) -> None:
    about = tarfile.TarInfo(name)
    about.size = len(content)
    archive.addfile(about, io.BytesIO(content))


def _unpack(backup: Path, folder: Path) -> Mapping[str, Any]:
    """Everything of a backup into a folder, each held against its check."""
    try:
        with tarfile.open(backup, "r:gz") as archive:
            archive.extractall(folder, filter="data")
        told: dict[str, Any] = json.loads((folder / MANIFEST).read_bytes())
        digests = dict(told["sha256"])
        wrong = [name for name, digest in digests.items() if _digest(folder / name) != digest]
        strange = {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()} - {MANIFEST, *digests}
        rows, schema = dict(told["rows"]), int(told["schema"])
    except FileNotFoundError as error:
        raise StoreError(f"backup {backup}: {error.filename or backup} is not there") from error
    except (tarfile.TarError, EOFError, ValueError, KeyError, TypeError, OSError) as error:
        raise StoreError(f"backup {backup}: it is no backup of this program, or not whole ({error})") from error
    if wrong or strange or not {DATABASE, GARDEN} <= digests.keys():
        spoilt = ", ".join(sorted({*wrong, *strange})) or "garden.db or garden.toml"
        raise StoreError(f"backup {backup}: {spoilt} in it is not what was put in; take another backup")
    if schema > len(MIGRATIONS):
        raise StoreError(f"backup {backup}: it is of a newer version of this program; install that, or a newer one")
    with explained(folder / DATABASE), closing(sqlite3.connect(folder / DATABASE)) as connection:
        version_of(connection, folder / DATABASE)
        (sound,) = connection.execute("PRAGMA integrity_check").fetchone()
    if sound != "ok" or _rows(folder / DATABASE) != rows:
        raise StoreError(f"backup {backup}: the database in it is not sound ({sound}); take another backup")
    return told


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
