"""Stores of every earlier version of the tables open, are brought to this one with all that they hold, and are kept as they were.

Each file in tests/released is what the program of that version wrote, as SQL: two probes with twenty readings, one of them
flagged, and a watering of thirty litres. (Versions 3 to 6 and 12 never stood alone in a program that ran.)
"""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from collector.calls import Job
from collector.journal import Deed
from collector.model import Batch, Flag, Reading
from collector.rollup import Every
from collector.stores.migrations import MIGRATIONS
from collector.stores.season import SqliteSeason
from collector.stores.sqlite import SqliteReadings, SqliteReadingStore

RELEASED = sorted((Path(__file__).parents[1] / "released").glob("schema-*.sql"))
BEGIN_MS, STEP_MS, END_MS = 1_790_000_000_000, 600_000, 1_800_000_000_000


def version_of(file):
    return int(re.fullmatch(r"schema-(\d+)\.sql", file.name)[1])


def user_version(path):
    with closing(sqlite3.connect(path)) as reader:
        return reader.execute("PRAGMA user_version").fetchone()[0]


@pytest.fixture(params=RELEASED, ids=lambda file: file.stem)
def old(request, tmp_path):
    """A store as it was left by an earlier program, and its version."""
    path = tmp_path / "garden.db"
    with closing(sqlite3.connect(path)) as database:
        database.executescript(request.param.read_text())
    assert user_version(path) == version_of(request.param)
    return path, version_of(request.param)


def test_it_opens_with_all_that_it_holds_takes_new_readings_and_is_kept_as_it_was(old):
    path, version = old
    store = SqliteReadingStore(path)
    assert user_version(path) == len(MIGRATIONS)
    later_ms = BEGIN_MS + 20 * STEP_MS
    store.commit(Batch(readings=(Reading("t12", later_ms, 16.0, 16.0, later_ms),)))
    store.close()
    with closing(SqliteReadings(path)) as readings:
        for probe, offset in (("t12", 0.0), ("m15", -13.8)):
            series = readings.series(probe, 0, later_ms)
            assert series.time_ms.tolist() == [BEGIN_MS + number * STEP_MS for number in range(20)]
            assert series.value == pytest.approx([14 + number / 16 + offset for number in range(20)])
            assert [number for number, flags in enumerate(series.flags) if flags] == [7]
            assert series.flags[7] == Flag.JUMP
            # what was rolled up on the way is of what may be believed
            assert readings.steps(probe, 0, END_MS, Every.DAY).count.sum() == 19 + (probe == "t12")
        assert readings.latest()["t12"].measured_ms == later_ms
    kept = path.with_name(f"{path.name}.version-{version}")
    assert kept.exists() == (version < len(MIGRATIONS))
    if kept.exists():
        assert user_version(kept) == version
    season = SqliteSeason(path)
    (mark,) = season.done_marks(0, END_MS)
    assert (mark.bed_id, mark.job, mark.litres) == ("terrace", Job.WATER, 30.0)
    (entry,) = season.entries(0, END_MS)
    assert entry.deed is Deed.WATERED
    season.close()


def test_the_newest_is_of_this_version():
    """Whoever changes the tables adds what the program wrote before: a new file beside these."""
    assert version_of(RELEASED[-1]) == len(MIGRATIONS)
