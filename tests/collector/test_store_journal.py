"""The journal in SQLite: what is written stays, also what it said before it was changed."""

import sqlite3
from contextlib import closing
from dataclasses import replace

import pytest

from collector.calls import DoneMark, Job
from collector.errors import QuestionError
from collector.journal import AMOUNTS, DEED_OF, Deed, Entry
from collector.stores import schema
from collector.stores.season import SqliteSeason
from tests.fakes import NOW_MS

COUNT = Entry(
    "terrace", Deed.COUNTED, NOW_MS, NOW_MS + 5, "Porcelain", None, {"leaves": 6, "browned": 1}, "the east end is behind"
)


@pytest.fixture
def season(tmp_path):
    opened = SqliteSeason(tmp_path / "garden.db")
    yield opened
    opened.close()


def test_an_entry_comes_back_as_it_was_written_with_a_number(season):
    kept = season.write(COUNT)
    assert kept == replace(COUNT, number=1)
    assert season.entries(NOW_MS, NOW_MS + 1) == (kept,)
    assert season.entries(NOW_MS + 1, 2**62) == ()


def test_entries_come_in_the_order_of_what_they_tell_and_not_of_their_writing(season):
    later = season.write(replace(COUNT, at_ms=NOW_MS + 10))
    earlier = season.write(replace(COUNT, at_ms=NOW_MS - 10))
    assert season.entries(0, 2**62) == (earlier, later)


def test_a_changed_entry_keeps_all_that_it_said_before(season):
    first = season.write(COUNT)
    second = season.write(replace(first, amounts={"leaves": 7}, written_ms=NOW_MS + 60))
    third = season.write(replace(second, struck_ms=NOW_MS + 90))
    assert season.versions(first.number) == (first, second, third)
    assert season.entries(0, 2**62) == ()
    assert season.entries(0, 2**62, struck=True) == (third,)


def test_an_unknown_number_is_a_question(season):
    with pytest.raises(QuestionError, match="journal entry 9: there is none of that number"):
        season.write(replace(COUNT, number=9))
    with pytest.raises(QuestionError, match="journal entry 9"):
        season.versions(9)


def test_a_tap_is_an_entry_and_an_entry_answers_as_a_tap_does(season):
    season.done("terrace", Job.WATER, NOW_MS, litres=68.0)
    (tapped,) = season.entries(0, 2**62)
    assert (tapped.deed, tapped.amounts) == (Deed.WATERED, {"litres": 68.0})
    season.write(Entry("terrace", Deed.CLOTH_LAID, NOW_MS + 1, NOW_MS + 7))
    season.undo("terrace", Job.WATER, NOW_MS + 9)
    assert season.done_marks(0, 2**62) == (
        DoneMark("terrace", Job.WATER, NOW_MS, NOW_MS + 9, 68.0),
        DoneMark("terrace", Job.SHADE, NOW_MS + 1),
    )
    assert season.versions(tapped.number) == (tapped, replace(tapped, struck_ms=NOW_MS + 9))


def test_every_job_has_a_deed_and_every_amount_a_range():
    assert set(DEED_OF) == set(Job)
    assert all(amount.low < amount.high for amounts in AMOUNTS.values() for amount in amounts.values())


def test_taps_of_an_older_file_become_entries(tmp_path, monkeypatch):
    path, all_of_it = tmp_path / "garden.db", schema.MIGRATIONS
    of_taps = next(number for number, steps in enumerate(all_of_it) if any("CREATE TABLE journal " in step for step in steps))
    monkeypatch.setattr(schema, "MIGRATIONS", all_of_it[:of_taps])
    SqliteSeason(path).close()
    with closing(sqlite3.connect(path)) as old, old:
        old.executemany(
            "INSERT INTO done (bed, job, at_ms, undone_ms, litres) VALUES (?, ?, ?, ?, ?)",
            [("terrace", "water", 5, None, 68.0), ("terrace", "shade", 6, 9, None), ("gate", "stake", 7, None, None)],
        )
    monkeypatch.setattr(schema, "MIGRATIONS", all_of_it)
    opened = SqliteSeason(path)
    assert opened.done_marks(0, 100) == (
        DoneMark("terrace", Job.WATER, 5, None, 68.0),
        DoneMark("terrace", Job.SHADE, 6, 9),
        DoneMark("gate", Job.STAKE, 7),
    )
    opened.close()
