"""Notices: what was told, when, and the tap that says it was seen."""

from collector.calls import Job, Notice
from collector.errors import QuestionError
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
    notices.mark_seen(queries, SHADE.id)

    assert queries.seen == [SHADE.id]
    assert "Seen 17:40." in str(notices.layout(queries))


def test_a_tap_on_a_notice_that_is_gone_is_no_error() -> None:
    class Forgetful(FakeQueries):
        def mark_seen(self, notice_id: int) -> None:
            raise QuestionError(f"no notice {notice_id}")

    notices.mark_seen(Forgetful(fakes.no_beds().garden()), 99)


def test_a_notice_of_a_bed_that_left_the_garden_file_keeps_its_id() -> None:
    old = Notice(3, NOW_MS, "orchard", Job.WATER, "Water 10 litres", "Or the roots run short.")

    assert "orchard, told 17:40" in str(notices.layout(told(old)))
