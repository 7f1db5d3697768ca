"""Readings in a real SQLite file: what hangs on the file itself, on its disk, and on readers beside the writer."""

import os
import sqlite3
import subprocess
import sys
import threading

import pytest

from collector.errors import StoreBusyError, StoreError
from collector.model import Batch, Refusal
from collector.stores import sqlite as sqlite_store
from collector.stores.sqlite import Counts, SqliteReadings, SqliteReadingStore
from tests.collector.made_readings import everything, reading


@pytest.fixture
def path(tmp_path):
    return tmp_path / "garden.db"


@pytest.fixture
def store(path):
    opened = SqliteReadingStore(path)
    yield opened
    opened.close()


@pytest.fixture
def readings(path):
    opened = SqliteReadings(path)
    yield opened
    opened.close()


def test_a_garden_that_has_no_file_yet_is_empty_and_no_error(path, readings):
    assert readings.latest() == {}
    assert readings.series("t12", 0, 2**62).time_ms.tolist() == []
    assert everything(readings, "t12") == []
    assert list(readings.refused()) == []
    assert readings.unclaimed() == ()
    assert readings.counts() == Counts(0, None)
    assert not path.exists()


def test_a_reader_that_was_first_sees_what_the_writer_brings(path, readings):
    assert readings.latest() == {}
    store = SqliteReadingStore(path)
    store.commit(Batch(readings=(reading(),)))
    assert readings.latest() == {"t12": reading()}
    store.close()


def test_latest_is_the_newest_of_each_probe_and_looks_up_rather_than_walks(path, store, readings):
    store.commit(Batch(readings=tuple(reading(probe, minute) for probe in ("a", "b") for minute in range(50))))
    assert readings.latest() == store.latest() == {"a": reading("a", 49), "b": reading("b", 49)}
    with sqlite3.connect(path) as connection:
        for question in (sqlite_store._LATEST, sqlite_store._LAST_UNCLAIMED):
            plan = [row[3] for row in connection.execute(f"EXPLAIN QUERY PLAN {question}")]
            assert not [step for step in plan if step.startswith(("SCAN reading", "SCAN unclaimed"))], plan
    connection.close()


def test_a_store_that_is_full_says_so_keeps_nothing_of_the_batch_and_goes_on_when_there_is_room(path, store, readings):
    store.commit(Batch(readings=(reading(),)))
    connection = store._writer._connection
    (pages,) = connection.execute("PRAGMA page_count").fetchone()
    connection.execute(f"PRAGMA max_page_count = {pages + 4}")
    large = Batch(readings=(reading(minute=1),), refusals=(Refusal(0, "s", "r", b"x" * 65536, 65536),))
    with pytest.raises(StoreBusyError, match=r"garden\.db: SQLite says 'database or disk is full': the disk is full; make room"):
        store.commit(large)
    assert everything(readings, "t12") == [reading()]
    connection.execute("PRAGMA max_page_count = 1000000")
    store.commit(large)
    assert everything(readings, "t12") == [reading(), reading(minute=1)]


def test_a_disk_that_is_full_indeed_loses_nothing_that_was_committed(tmp_path):
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(disk)], capture_output=True, check=False)
    if mount.returncode:
        pytest.skip("may not mount a small file system here; the test above fills a store by its page count")
    try:
        store = SqliteReadingStore(disk / "garden.db")
        kept = 0

        def fill():
            nonlocal kept
            while True:
                store.commit(Batch(readings=tuple(reading(minute=kept + number) for number in range(1000))))
                kept += 1000

        with pytest.raises(StoreBusyError, match=r"make room|not full"):
            fill()
        readings = SqliteReadings(disk / "garden.db")
        assert kept > 0
        assert len(readings.series("t12", 0, 2**62).value) == kept
        readings.close()
        store.close()
    finally:
        subprocess.run(["umount", str(disk)], check=True)


OPEN_AS_ANYBODY = """
import os
from pathlib import Path
from collector.errors import StoreBusyError
from collector.stores.sqlite import SqliteReadings, SqliteReadingStore
if os.geteuid() == 0:
    os.setuid(65534)  # root may write anywhere, nobody may not
for use in (SqliteReadingStore, lambda path: SqliteReadings(path).latest()):
    try:
        use(Path("garden.db"))
    except StoreBusyError as error:
        print(error)
"""


def test_a_folder_that_may_not_be_written_is_told_to_writer_and_reader(path):
    SqliteReadingStore(path).close()
    path.parent.chmod(0o555)
    call = [sys.executable, "-c", OPEN_AS_ANYBODY]
    told = subprocess.run(call, cwd=path.parent, capture_output=True, text=True, check=True).stdout.splitlines()
    path.parent.chmod(0o755)
    assert len(told) == 2
    assert all(line.startswith("store garden.db: SQLite says") and "this user may write in it" in line for line in told)


def test_a_damaged_file_is_told_and_not_called_busy(path, readings):
    store = SqliteReadingStore(path)
    store.commit(Batch(readings=tuple(reading(minute=minute) for minute in range(5000))))
    store.close()
    content = bytearray(path.read_bytes())
    content[4096:] = os.urandom(len(content) - 4096)
    path.write_bytes(content)
    with pytest.raises(StoreError, match="is damaged") as caught:
        readings.series("t12", 0, 2**62)
    assert not isinstance(caught.value, StoreBusyError)


def test_two_readers_see_whole_batches_while_the_writer_writes(path, store):
    done = threading.Event()
    seen, trouble = [], []

    def look():
        readings = SqliteReadings(path)
        try:
            while not done.is_set():
                count = len(readings.series("t12", 0, 2**62).value)
                streamed = sum(1 for _ in readings.readings(["t12"], 0, 2**62))
                seen.append((count, streamed))
        except StoreError as error:
            trouble.append(error)
        finally:
            readings.close()

    readers = [threading.Thread(target=look) for _ in range(2)]
    for reader in readers:
        reader.start()
    for batch in range(60):
        store.commit(Batch(readings=tuple(reading(minute=batch * 100 + number) for number in range(100))))
    done.set()
    for reader in readers:
        reader.join()
    assert trouble == []
    assert seen
    assert all(count % 100 == 0 and streamed % 100 == 0 for count, streamed in seen)


def test_a_stream_tells_of_one_moment_while_the_writer_goes_on_and_may_be_left_early(store, readings):
    store.commit(Batch(readings=tuple(reading(minute=minute) for minute in range(10))))
    stream = readings.readings(["t12"], 0, 2**62)
    assert next(stream) == reading()
    store.commit(Batch(readings=tuple(reading(minute=minute) for minute in range(10, 20))))
    assert len(list(stream)) == 9
    left = readings.readings(["t12"], 0, 2**62)
    next(left)
    left.close()
    assert len(everything(readings, "t12")) == 20


def test_closing_twice_is_harmless_and_a_closed_reader_is_empty(store, readings):
    store.commit(Batch(readings=(reading(),)))
    assert readings.latest()
    readings.close()
    readings.close()
    store.close()
    store.close()
    with pytest.raises(StoreError, match="closed"):
        store.commit(Batch())


def test_a_reading_takes_less_than_sixty_bytes_of_disk(path, store):
    for hour in range(40):
        told = [
            reading(f"bed-t{probe}", hour * 60 + minute, value=12 + minute / 16, raw=285 + minute / 16)
            for probe in range(10)
            for minute in range(60)
        ]
        store.commit(Batch(readings=tuple(told)))
    empty = path.with_name("empty.db")
    SqliteReadingStore(empty).close()
    store.close()
    assert (path.stat().st_size - empty.stat().st_size) / (40 * 600) < 60


WRITE_ON = """
import sys
from pathlib import Path
from collector.model import Batch, Reading
from collector.stores.sqlite import SqliteReadingStore
store = SqliteReadingStore(Path(sys.argv[1]))
for batch in range(1_000_000):
    store.commit(Batch(readings=tuple(Reading("t12", batch * 50 + n, 1.0, 2.0, 0) for n in range(50))))
    sys.stdout.write(f"{batch}\\n")
    sys.stdout.flush()
"""


def test_a_writer_killed_between_two_statements_leaves_whole_batches_and_all_that_it_had_told(path):
    told = -1
    for batches in (1, 20, 60):
        with subprocess.Popen([sys.executable, "-c", WRITE_ON, str(path)], stdout=subprocess.PIPE, text=True) as writer:
            for _ in range(batches):
                told = max(told, int(writer.stdout.readline()))
            writer.kill()  # SIGKILL, wherever it stands
            told = max([told, *(int(line) for line in writer.stdout if line.endswith("\n"))])
        readings = SqliteReadings(path)
        times_ms = readings.series("t12", 0, 2**62).time_ms
        readings.close()
        assert len(times_ms) % 50 == 0
        assert len(times_ms) >= (told + 1) * 50
        assert times_ms.tolist() == list(range(len(times_ms)))
        with sqlite3.connect(path) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        connection.close()
