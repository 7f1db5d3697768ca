"""The SQLite file itself: made, told apart from others, brought up to date, refused in words."""

import sqlite3
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager

import pytest

from collector.calls import Job
from collector.errors import SchemaError, StoreBusyError, StoreError
from collector.model import Batch
from collector.stores import schema
from collector.stores.season import SqliteSeason
from collector.stores.sqlite import SqliteReadings, SqliteReadingStore

OPENERS = pytest.mark.parametrize("opened", [SqliteReadingStore, SqliteSeason])


def pragma(path, name):
    with sqlite3.connect(path) as connection:
        value = connection.execute(f"PRAGMA {name}").fetchone()[0]
    connection.close()
    return value


@OPENERS
def test_opening_makes_a_file_that_says_whose_it_is_and_how_old(tmp_path, opened):
    path = tmp_path / "garden.db"
    opened(path).close()
    assert pragma(path, "application_id").to_bytes(4, "big") == b"Cool"
    assert pragma(path, "user_version") == len(schema.MIGRATIONS)
    assert pragma(path, "journal_mode") == "wal"


def test_every_commit_is_forced_to_the_disk(tmp_path):
    connection = schema.open_writer(tmp_path / "garden.db")
    # 2 is FULL (https://www.sqlite.org/pragma.html#pragma_synchronous): under WAL anything less may lose a commit.
    assert connection.execute("PRAGMA synchronous").fetchone() == (2,)
    connection.close()


def test_a_file_of_a_newer_version_is_refused_by_both_versions_and_left_as_it_is(tmp_path):
    path = tmp_path / "garden.db"
    SqliteReadingStore(path).close()
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA user_version = 99")
    connection.close()
    before = path.read_bytes()
    for use in (SqliteReadingStore, SqliteSeason, lambda path: SqliteReadings(path).latest()):
        with pytest.raises(
            SchemaError, match=rf"version 99, this program knows version {len(schema.MIGRATIONS)} .*install the newer"
        ):
            use(path)
    assert path.read_bytes() == before


def test_a_file_that_is_no_database_is_refused_and_left_as_it_is(tmp_path):
    path = tmp_path / "garden.db"
    path.write_bytes(b"time,temperature\n" * 500)
    for use in (SqliteReadingStore, SqliteSeason, lambda path: SqliteReadings(path).latest()):
        with pytest.raises(SchemaError, match=r"garden\.db: this file is no SQLite database; give store\.path another name"):
            use(path)
    assert path.read_bytes() == b"time,temperature\n" * 500


def test_the_database_of_another_program_is_refused_and_left_as_it_is(tmp_path):
    path = tmp_path / "garden.db"
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE reading (something TEXT)")
    connection.close()
    before = path.read_bytes()
    for use in (SqliteReadingStore, SqliteSeason, lambda path: SqliteReadings(path).latest()):
        with pytest.raises(SchemaError, match="made by another program"):
            use(path)
    assert path.read_bytes() == before


def test_a_missing_folder_is_told_and_not_made(tmp_path):
    with pytest.raises(StoreError, match=r"there is no folder .*shed; make it"):
        SqliteReadingStore(tmp_path / "shed" / "garden.db")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_in_place_of_the_file_is_told(tmp_path):
    with pytest.raises(StoreError, match="this is a folder"):
        SqliteReadingStore(tmp_path)


def test_many_that_open_a_new_file_at_once_find_one_store(tmp_path):
    path = tmp_path / "garden.db"
    code = (
        "import sys, pathlib; from collector.stores.season import SqliteSeason; SqliteSeason(pathlib.Path(sys.argv[1])).close()"
    )
    call = [sys.executable, "-c", code, str(path)]
    processes = [subprocess.Popen(call, stderr=subprocess.PIPE, text=True) for _ in range(3)]
    endings = [(process.communicate()[1], process.returncode) for process in processes]
    assert endings == [("", 0)] * 3
    assert pragma(path, "integrity_check") == "ok"


def test_threads_that_open_a_new_file_at_once_find_one_store(tmp_path):
    def open_and_write(number):
        season = SqliteSeason(tmp_path / "garden.db")
        season.done(f"bed {number}", Job.WATER, number)
        season.close()

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(open_and_write, range(16)))
    season = SqliteSeason(tmp_path / "garden.db")
    assert len(season.done_marks(0, 100)) == 16
    season.close()


def test_an_older_file_is_brought_up_to_date_by_a_writer_and_waited_for_by_a_reader(tmp_path, monkeypatch):
    path = tmp_path / "garden.db"
    SqliteReadingStore(path).close()
    newer = (*schema.MIGRATIONS, ("CREATE TABLE next_year (plan TEXT) STRICT",))
    monkeypatch.setattr(schema, "MIGRATIONS", newer)
    with pytest.raises(
        StoreBusyError, match=rf"version {len(newer) - 1}, this program reads version {len(newer)}; start the collector"
    ):
        SqliteReadings(path).latest()
    SqliteReadingStore(path).close()
    assert pragma(path, "user_version") == len(newer)
    assert SqliteReadings(path).latest() == {}


def test_no_reader_ever_meets_a_version_between_the_old_and_the_new(tmp_path, monkeypatch):
    path = tmp_path / "garden.db"
    with monkeypatch.context() as patched:
        patched.setattr(schema, "MIGRATIONS", schema.MIGRATIONS[:1])
        SqliteReadingStore(path).close()
    other = sqlite3.connect(path)
    met = set()

    @contextmanager
    def watched(connection):
        with transaction(connection):
            yield
            met.add(other.execute("PRAGMA user_version").fetchone()[0])
        met.add(other.execute("PRAGMA user_version").fetchone()[0])

    transaction = schema.transaction
    monkeypatch.setattr(schema, "transaction", watched)
    schema.open_writer(path).close()
    other.close()
    assert met == {1, len(schema.MIGRATIONS)}


def test_a_migration_that_fails_leaves_the_older_file_whole(tmp_path, monkeypatch):
    path = tmp_path / "garden.db"
    SqliteReadingStore(path).close()
    broken = (*schema.MIGRATIONS, ("CREATE TABLE next_year (plan TEXT) STRICT", "CREATE TABLE reading (again TEXT) STRICT"))
    with monkeypatch.context() as patched:
        patched.setattr(schema, "MIGRATIONS", broken)
        with pytest.raises(StoreError, match="already exists"):
            SqliteReadingStore(path)
    assert pragma(path, "user_version") == len(schema.MIGRATIONS)
    with sqlite3.connect(path) as connection:
        assert connection.execute("SELECT count(*) FROM sqlite_schema WHERE name = 'next_year'").fetchone() == (0,)
    connection.close()
    SqliteReadingStore(path).close()


def test_a_store_held_by_another_program_is_busy_and_takes_the_batch_later(tmp_path, monkeypatch):
    monkeypatch.setattr(schema, "BUSY_TIMEOUT_S", 0.05)
    path = tmp_path / "garden.db"
    store = SqliteReadingStore(path)
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(StoreBusyError, match="another program is writing to it"):
        store.commit(Batch())
    other.execute("COMMIT")
    other.close()
    store.commit(Batch())
    store.close()
