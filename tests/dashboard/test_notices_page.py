"""Notices: what was told, when, and the tap that says it was seen."""

from dataclasses import replace

from collector.calls import Errand, Job, Notice
from collector.errors import QuestionError
from dashboard import ids
from dashboard.pages import notices
from tests.dashboard import fakes
from tests.dashboard.fakes import DAY_MS, HOUR_MS, NOW_MS, FakeQueries

SHADE = Notice(2, NOW_MS - HOUR_MS, "terrace", Job.SHADE, "Lay the shade cloth", "The cloves were at 18.6 °C.")
WATER = Notice(
    1, NOW_MS - 2 * DAY_MS, "wall", Job.WATER, "Water 40 litres", "Or the roots run short.", NOW_MS - DAY_MS, NOW_MS - 80_000_000
)


def told(*given: Notice) -> FakeQueries:
    queries = fakes.a_day_in_april()
    queries.told = list(given)
    return queries


def test_before_anything_is_told_the_page_says_what_will_stand_there() -> None:
    assert "Nothing was told yet." in str(notices.layout(told()))


def test_a_notice_shows_its_bed_its_words_and_its_times() -> None:
    page = str(notices.layout(told(SHADE, WATER)))

    for said in ("Terrace bed, told 16:40", "Lay the shade cloth", "The cloves were at 18.6 °C.", "1 notice not seen yet."):
        assert said in page
    assert "Wall bed, told Sunday 17:40, no longer due since yesterday 19:26" in page
    assert "Seen yesterday 17:40." in page


def test_only_an_unseen_notice_has_a_button() -> None:
    assert "Button" in str(notices.layout(told(SHADE)))
    assert "Button" not in str(notices.layout(told(WATER)))
    assert "You have seen them all." in str(notices.layout(told(WATER)))


def test_the_tap_marks_just_that_notice() -> None:
    queries = told(SHADE, WATER)
    notices.heed(queries, ids.NOTICE_SEEN, SHADE.id)

    assert queries.seen == [SHADE.id]
    assert "Seen 17:40." in str(notices.layout(queries))


def test_a_tap_on_a_notice_that_is_gone_is_no_error() -> None:
    class Forgetful(FakeQueries):
        def mark_seen(self, notice_id: int) -> None:
            raise QuestionError(f"no notice {notice_id}")

    notices.heed(Forgetful(fakes.no_beds().garden()), ids.NOTICE_SEEN, 99)


def test_a_notice_that_is_due_may_wait_until_tomorrow() -> None:
    queries = told(SHADE, WATER)
    assert str(notices.layout(queries)).count("Not again today") == 1
    notices.heed(queries, ids.NOTICE_LATER, SHADE.id)
    notices.heed(queries, ids.NOTICE_MUCH_LATER, SHADE.id)
    assert queries.snoozed == [(SHADE.id, 1), (SHADE.id, 3)]
    page = str(notices.layout(told(replace(SHADE, snoozed_ms=NOW_MS + HOUR_MS))))
    assert "Not told again before 18:40." in page
    assert "Not again today" not in page


def test_each_way_says_how_it_went_by_the_name_of_its_variable() -> None:
    for errand, said in (
        (Errand(SHADE, "COOLDEPTH_PHONE_URL", 0, 1, NOW_MS - HOUR_MS), "COOLDEPTH_PHONE_URL: delivered 16:40."),
        (Errand(SHADE, "COOLDEPTH_PHONE_URL", 0, 1, NOW_MS, None, 2), "delivered 17:40, told again 2 times."),
        (Errand(SHADE, "COOLDEPTH_PHONE_URL", NOW_MS, 3, None, "no network"), "not delivered yet: no network."),
        (Errand(SHADE, "COOLDEPTH_PHONE_URL", NOW_MS + HOUR_MS), "not delivered yet, held until 18:40."),
    ):
        queries = told(SHADE)
        queries.errands = [errand]
        assert said in str(notices.layout(queries))


def test_a_notice_of_a_bed_that_left_the_garden_file_keeps_its_id() -> None:
    old = Notice(3, NOW_MS, "orchard", Job.WATER, "Water 10 litres", "Or the roots run short.")

    assert "orchard, told 17:40" in str(notices.layout(told(old)))
