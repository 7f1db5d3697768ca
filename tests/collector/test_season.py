"""Season records in a real SQLite file, written by two stores at once as collector and dashboard do."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest

from collector.calls import DoneMark, Due, Errand, Job, Memory, Notice, Report
from collector.errors import QuestionError, StoreError
from collector.model import Batch, Reading
from collector.outlook import Outlook, TemperatureAhead, WaterAhead
from collector.stores.season import SqliteSeason
from collector.stores.sqlite import SqliteReadingStore

NOON_MS = 1_776_081_600_000
MINUTE_MS = 60_000
SHADE = Notice(0, NOON_MS, "terrace", Job.SHADE, "Shade the terrace bed", "18.4 °C at the cloves, limit 18 °C")
WATER = Notice(0, NOON_MS + 5, "terrace", Job.WATER, "Water the terrace bed", "68 litres")


@pytest.fixture
def season(tmp_path):
    opened = SqliteSeason(tmp_path / "garden.db")
    yield opened
    opened.close()


def errand(notice, channel="COOLDEPTH_PHONE_URL", not_before_ms=NOON_MS):
    return Errand(notice, channel, not_before_ms)


def test_an_empty_season_has_empty_answers(season):
    assert season.memories() == {}
    assert season.notices(10) == ()
    assert season.errands(None) == ()
    assert season.done_marks(0, 2**62) == ()
    assert season.last_report() is None
    assert season.kept_weather("anything") is None


def test_the_last_answer_of_a_weather_service_stands_alone_and_only_for_the_question_it_answers(season):
    season.keep_weather("here", NOON_MS, "sunny, 20 °C")
    season.keep_weather("there", NOON_MS + 5, "rain")
    assert season.kept_weather("there") == (NOON_MS + 5, "rain")
    assert season.kept_weather("here") is None


def test_memories_are_kept_by_bed_and_job_and_the_last_one_stands(season):
    first = Memory("terrace", Job.SHADE, Due.DUE, NOON_MS, told_ms=NOON_MS)
    other = Memory("terrace", Job.WATER)
    season.record([first, other], [])
    later = replace(first, due=Due.DONE, done_ms=NOON_MS + 7, told_ms=None)
    season.record([later], [])
    assert season.memories() == {("terrace", Job.SHADE): later, ("terrace", Job.WATER): other}


def test_a_raised_notice_gets_its_id_and_its_errands_carry_it(season):
    season.record([], [(SHADE, [errand(SHADE), errand(SHADE, "SECOND_PHONE")]), (WATER, [])])
    water, shade = season.notices(10)
    assert (replace(shade, id=0), replace(water, id=0)) == (SHADE, WATER)
    assert 0 < shade.id != water.id > 0
    assert season.errands(None) == (Errand(shade, "COOLDEPTH_PHONE_URL", NOON_MS), Errand(shade, "SECOND_PHONE", NOON_MS))
    assert season.notices(1) == (water,)


def test_memories_notices_and_errands_are_saved_together_or_not_at_all(season):
    twice = [errand(SHADE), errand(SHADE)]
    with pytest.raises(StoreError, match="UNIQUE"):
        season.record([Memory("terrace", Job.SHADE, Due.DUE)], [(SHADE, twice)])
    assert (season.memories(), season.notices(10), season.errands(None)) == ({}, (), ())


def test_errands_are_held_until_their_time_and_kept_when_delivered(tmp_path, season):
    season.record([], [(SHADE, [errand(SHADE, not_before_ms=NOON_MS + MINUTE_MS)])])
    assert season.errands(NOON_MS) == ()
    (due,) = season.errands(NOON_MS + MINUTE_MS)
    season.settle(replace(due, attempts=1, trouble="no answer", not_before_ms=NOON_MS + 3 * MINUTE_MS))
    assert season.errands(NOON_MS + 2 * MINUTE_MS) == ()
    (again,) = season.errands(None)
    assert (again.attempts, again.trouble) == (1, "no answer")
    season.settle(replace(again, delivered_ms=NOON_MS + 4 * MINUTE_MS, trouble=None))
    assert season.errands(None) == ()
    with season._writer.reading() as connection:
        kept = connection.execute("SELECT channel, attempts, delivered_ms FROM errand").fetchall()
    assert kept == [("COOLDEPTH_PHONE_URL", 1, NOON_MS + 4 * MINUTE_MS)]


def test_errands_come_oldest_first_whatever_order_they_were_raised_in(season):
    season.record([], [(WATER, [errand(WATER)])])
    season.record([], [(SHADE, [errand(SHADE)])])
    assert [one.notice.job for one in season.errands(None)] == [Job.SHADE, Job.WATER]


def test_settling_an_errand_that_is_not_there_is_told(season):
    with pytest.raises(QuestionError, match="not in the record"):
        season.settle(errand(replace(SHADE, id=99)))


def test_clearing_a_notice_keeps_what_the_page_has_seen_meanwhile(season):
    season.record([], [(SHADE, [])])
    (raised,) = season.notices(10)
    season.see(raised.id, NOON_MS + 1)
    season.record([], [(replace(raised, cleared_ms=NOON_MS + 2), [])])
    assert season.notices(10) == (replace(raised, seen_ms=NOON_MS + 1, cleared_ms=NOON_MS + 2),)


def test_a_notice_is_seen_when_it_was_first_seen_and_an_unknown_one_is_told(season):
    season.record([], [(SHADE, [])])
    (raised,) = season.notices(10)
    season.see(raised.id, NOON_MS + 1)
    season.see(raised.id, NOON_MS + 2)
    assert season.notices(10)[0].seen_ms == NOON_MS + 1
    with pytest.raises(QuestionError, match="notice 99: there is none"):
        season.see(99, NOON_MS)


def test_done_is_a_journal_and_undo_takes_back_the_newest_mark_that_stands(season):
    season.done("terrace", Job.WATER, NOON_MS)
    season.done("terrace", Job.WATER, NOON_MS + 1, litres=68.0)
    season.done("terrace", Job.SHADE, NOON_MS + 2)
    season.done("orchard", Job.WATER, NOON_MS + 3)
    season.undo("terrace", Job.WATER, NOON_MS + 9)
    first = DoneMark("terrace", Job.WATER, NOON_MS)
    second = DoneMark("terrace", Job.WATER, NOON_MS + 1, NOON_MS + 9, 68.0)
    shade, orchard = DoneMark("terrace", Job.SHADE, NOON_MS + 2), DoneMark("orchard", Job.WATER, NOON_MS + 3)
    assert season.done_marks(NOON_MS, NOON_MS + 4) == (first, second, shade, orchard)
    assert season.done_marks(NOON_MS + 1, NOON_MS + 3) == (second, shade)
    season.undo("terrace", Job.WATER, NOON_MS + 10)
    season.undo("terrace", Job.WATER, NOON_MS + 11)
    assert season.done_marks(0, 2**62)[0] == replace(first, undone_ms=NOON_MS + 10)


def test_the_collectors_last_word_stands_alone(season):
    season.report(["mqtt 127.0.0.1:1883: no answer"], NOON_MS)
    season.report([], NOON_MS + 1)
    assert season.last_report() == Report(NOON_MS + 1)
    season.report(["a", "b — °C"], NOON_MS + 2)
    assert season.last_report() == Report(NOON_MS + 2, ("a", "b — °C"))


def test_page_advice_and_intake_write_side_by_side_and_nothing_is_lost(tmp_path, season):
    page, store = SqliteSeason(tmp_path / "garden.db"), SqliteReadingStore(tmp_path / "garden.db")

    def mark(number):
        page.done("terrace", Job.WATER, number)

    def advise(number):
        season.record([Memory("terrace", Job.WATER, since_ms=number)], [(replace(WATER, raised_ms=number), [])])

    def take_in(number):
        store.commit(Batch(readings=(Reading("t12", number, 1.0, 1.0, number),)))

    with ThreadPoolExecutor(6) as pool:
        waiting = [pool.submit(work, number) for number in range(40) for work in (mark, advise, take_in)]
        for one in waiting:
            one.result()
    assert len(page.done_marks(0, 100)) == 40
    assert sorted(notice.raised_ms for notice in page.notices(100)) == list(range(40))
    assert store.latest()["t12"].measured_ms == 39
    page.close()
    store.close()


def test_records_outlive_the_store_that_wrote_them(tmp_path):
    season = SqliteSeason(tmp_path / "garden.db")
    season.record([Memory("terrace", Job.SHADE, Due.DUE, 5)], [(SHADE, [errand(SHADE)])])
    season.close()
    season.close()
    again = SqliteSeason(tmp_path / "garden.db")
    assert again.memories()[("terrace", Job.SHADE)].due is Due.DUE
    assert again.errands(NOON_MS)[0].notice.title == SHADE.title
    again.close()


def outlook(made_ms, **parts):
    return Outlook("terrace", made_ms, parts.pop("temperature", None), parts.pop("water", None), **parts)


def test_an_outlook_is_kept_whole_until_the_next_one(season):
    hours = NOON_MS + 3_600_000 * np.arange(1, 4)
    warm = TemperatureAhead(
        hours, np.array([0.05, 0.12]), np.array([[16.0, 15.0], [16.25, 15.5], [np.nan, 15.75]]),
        np.array([15.0, 15.5, np.nan]), np.array([14.0, 14.5, 14.0]), np.array([16.0, 16.5, 17.0]), np.array([15.0, 15.1, 15.2]),
        0.5, np.array([15.0, 15.25, 15.375]), np.array([15.0, 15.0, 15.0]),
    )  # fmt: skip
    dry = WaterAhead(hours, *np.arange(12.0).reshape(4, 3), refill_ms=NOON_MS + 5, early_ms=NOON_MS, late_ms=None, demand=0.75)
    made = outlook(NOON_MS, temperature=warm, water=dry, weather="somebody", diffusivity_m2_s=5.2e-7, why_not=("because",))
    season.keep_outlook(outlook(NOON_MS - 1))
    season.keep_outlook(made)
    kept = season.outlook("terrace", NOON_MS)
    np.testing.assert_array_equal(kept.temperature.profile_c, warm.profile_c)
    np.testing.assert_array_equal(kept.temperature.cloves_c, warm.cloves_c)
    np.testing.assert_array_equal(kept.temperature.with_cloth_c, warm.with_cloth_c)
    np.testing.assert_array_equal(kept.temperature.time_ms, hours)
    assert kept.temperature.time_ms.dtype == np.int64
    assert kept.temperature.cloth_share == 0.5
    np.testing.assert_array_equal(kept.water.high_mm, dry.high_mm)
    assert (kept.water.refill_ms, kept.water.early_ms, kept.water.late_ms) == (NOON_MS + 5, NOON_MS, None)
    assert (kept.weather, kept.diffusivity_m2_s, kept.why_not) == ("somebody", 5.2e-7, ("because",))


def test_an_outlook_that_is_too_old_or_of_another_bed_is_none(season):
    season.keep_outlook(outlook(NOON_MS))
    assert season.outlook("terrace", NOON_MS + 1) is None
    assert season.outlook("kiln", 0) is None
    assert season.outlook("terrace", NOON_MS).temperature is None
