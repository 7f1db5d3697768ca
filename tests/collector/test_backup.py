"""Backups: taken while readings come in, checked, read back, put back; and nothing written over unless that is said."""

import sqlite3
import tarfile
import threading
from contextlib import closing

import pytest

from collector.cli import main
from collector.errors import StoreError
from collector.model import Batch, Reading
from collector.stores import backup
from collector.stores.migrations import MIGRATIONS
from collector.stores.pictures import Pictures
from collector.stores.schema import APPLICATION_ID
from collector.stores.season import SqliteSeason
from collector.stores.sole import sole_collector
from collector.stores.sqlite import SqliteReadings, SqliteReadingStore
from tests.collector.test_cli import GARDEN, put
from tests.collector.test_pictures import saved, two_halves

NOON_MS = 1_776_081_600_000


def readings_of(number, count=500):
    return tuple(Reading("t12", NOON_MS + (number * count + at) * 1000, 15.0, 15.0, NOON_MS) for at in range(count))


@pytest.fixture
def garden(tmp_path):
    folder = tmp_path / "garden"
    folder.mkdir()
    path = folder / "garden.toml"
    path.write_text("# mine\n" + GARDEN)
    put(path, readings=readings_of(0))
    assert main(["journal", "add", "--garden", str(path), "--deed", "watered", "--amount", "litres=60"]) == 0
    Pictures(folder / "garden.db").keep(saved(two_halves()))
    return path


def exported(path, capsys):
    capsys.readouterr()
    assert main(["export", "--garden", str(path)]) == 0
    return capsys.readouterr().out


def test_what_was_backed_up_comes_back_on_another_machine(garden, tmp_path, capsys):
    before, out = exported(garden, capsys), tmp_path / "stick.cooldepth"
    assert main(["backup", "--garden", str(garden), "--out", str(out)]) == 0
    told = capsys.readouterr()
    assert "500 readings and 1 journal entries" in told.out
    assert "read back and whole" in told.out
    assert "pages copied" in told.err
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    assert main(["restore", str(out), "--garden", str(elsewhere / "garden.toml")]) == 0
    assert exported(elsewhere / "garden.toml", capsys) == before
    assert (elsewhere / "garden.toml").read_text() == garden.read_text()
    pictures = [sorted(one.name for one in (folder / "garden.db.pictures").iterdir()) for folder in (garden.parent, elsewhere)]
    assert pictures[0] == pictures[1] != []


def test_the_key_that_signs_links_is_not_in_it_and_a_new_one_is_made(garden, tmp_path):
    season = SqliteSeason(garden.parent / "garden.db")
    key = season.link_key()
    season.close()
    out, elsewhere = tmp_path / "stick.cooldepth", tmp_path / "elsewhere"
    elsewhere.mkdir()
    assert main(["backup", "--garden", str(garden), "--out", str(out)]) == 0
    with tarfile.open(out) as archive:
        assert all(key not in archive.extractfile(one).read() for one in archive.getmembers())
    assert key in (garden.parent / "garden.db").read_bytes() + (garden.parent / "garden.db-wal").read_bytes()
    assert main(["restore", str(out), "--garden", str(elsewhere / "garden.toml")]) == 0
    restored = SqliteSeason(elsewhere / "garden.db")
    assert restored.link_key() != key
    restored.close()


def test_it_is_of_one_moment_while_readings_come_in(garden, tmp_path):
    store, stop, batches = SqliteReadingStore(garden.parent / "garden.db"), threading.Event(), [1]

    def write():
        while not stop.is_set():
            store.commit(Batch(readings=readings_of(batches[0])))
            batches[0] += 1

    writer = threading.Thread(target=write)
    writer.start()
    try:
        counts = []
        for number in range(3):
            told = backup.back_up(garden, garden.parent / "garden.db", tmp_path / f"{number}.cooldepth", "now", lambda _: None)
            counts.append(told["rows"]["reading"])
    finally:
        stop.set()
        writer.join()
        store.close()
    # whole batches only, and never fewer than before
    assert all(count % 500 == 0 for count in counts)
    assert counts == sorted(counts)
    assert counts[0] >= 500


def test_where_something_is_it_refuses_and_when_told_moves_it_aside(garden, tmp_path, capsys):
    out = tmp_path / "one.cooldepth"
    assert main(["backup", "--garden", str(garden), "--out", str(out)]) == 0
    put(garden, readings=readings_of(1))
    later = exported(garden, capsys)
    assert main(["restore", str(out), "--garden", str(garden)]) == 1
    assert "would be written over; move it away, or say --overwrite" in capsys.readouterr().err
    assert exported(garden, capsys) == later
    assert main(["restore", str(out), "--garden", str(garden), "--overwrite"]) == 0
    assert len(exported(garden, capsys).splitlines()) == 501
    aside = garden.parent / "garden.db.before-restore"
    with closing(SqliteReadings(aside)) as kept:
        assert len(list(kept.readings(["t12"], 0, 2**60))) == 1000


def test_a_backup_is_never_written_over_another(garden, tmp_path, capsys):
    out = tmp_path / "one.cooldepth"
    out.write_text("mine")
    assert main(["backup", "--garden", str(garden), "--out", str(out)]) == 1
    assert "there is such a file already" in capsys.readouterr().err
    assert out.read_text() == "mine"


def test_a_collector_that_uses_the_store_is_not_pulled_from_under(garden, tmp_path, capsys):
    out = tmp_path / "one.cooldepth"
    assert main(["backup", "--garden", str(garden), "--out", str(out)]) == 0
    with sole_collector(garden.parent / "garden.db"):
        assert main(["restore", str(out), "--garden", str(garden), "--overwrite"]) == 1
    assert "another collector uses this file" in capsys.readouterr().err


def spoilt(path, how):
    data = bytearray(path.read_bytes())
    match how:
        case "cut short":
            path.write_bytes(bytes(data[: len(data) // 2]))
        case "a byte changed":
            data[len(data) // 2] ^= 0xFF
            path.write_bytes(bytes(data))
        case "no backup":
            path.write_text("hello")
        case "empty":
            path.write_bytes(b"")


@pytest.mark.parametrize("how", ["cut short", "a byte changed", "no backup", "empty"])
def test_one_that_is_not_whole_is_found_out_and_changes_nothing(garden, tmp_path, capsys, how):
    out = tmp_path / "one.cooldepth"
    assert main(["backup", "--garden", str(garden), "--out", str(out)]) == 0
    spoilt(out, how)
    assert main(["backup", "--verify", str(out)]) == 1
    before = exported(garden, capsys)
    assert main(["restore", str(out), "--garden", str(garden), "--overwrite"]) == 1
    assert exported(garden, capsys) == before


@pytest.mark.parametrize("name", ["../escaped.toml", "/tmp/escaped.toml"])
def test_one_that_would_write_elsewhere_is_refused(garden, tmp_path, name):
    out, evil = tmp_path / "one.cooldepth", tmp_path / "evil.cooldepth"
    assert main(["backup", "--garden", str(garden), "--out", str(out)]) == 0
    with tarfile.open(out) as good, tarfile.open(evil, "w:gz") as bad:
        for member in good.getmembers():
            bad.addfile(member, good.extractfile(member))
        bad.add(garden, name)
    with pytest.raises(StoreError):
        backup.verify(evil)
    assert not (tmp_path / "escaped.toml").exists()


def test_before_a_store_is_brought_to_this_version_it_is_kept_as_it_was(tmp_path):
    path = tmp_path / "garden.db"
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        for statements in MIGRATIONS[:-1]:
            for statement in statements:
                connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {len(MIGRATIONS) - 1}")
        connection.execute("INSERT INTO probe (id) VALUES ('t12')")
    SqliteReadingStore(path).close()
    with closing(sqlite3.connect(tmp_path / f"garden.db.version-{len(MIGRATIONS) - 1}")) as old:
        assert old.execute("PRAGMA user_version").fetchone() == (len(MIGRATIONS) - 1,)
        assert old.execute("SELECT id FROM probe").fetchall() == [("t12",)]
