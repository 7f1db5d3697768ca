"""What is odd about an entry is asked, what cannot be is refused, and what is usual is neither."""

import datetime as dt
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from collector.advice.season.notebook import Notebook
from collector.advice.season.record import start_of
from collector.errors import QuestionError
from collector.journal import Deed, Entry
from tests.fakes import NOW_MS, FakeClock
from tests.fakes_advice import DAY_MS, FakeSeason, bed, garden

LISBON = ZoneInfo("Europe/Lisbon")


def noted(deed, *, days_ago=0.0, what=None, variety=None, note="", bed_id="terrace", **amounts):
    return Entry(bed_id, deed, NOW_MS - round(days_ago * DAY_MS), 0, variety, what, amounts, note)


@pytest.fixture
def book():
    return Notebook(garden(bed()), FakeSeason(), FakeClock())


@pytest.mark.parametrize(
    "entry",
    [
        noted(Deed.WATERED, litres=68.0),
        noted(Deed.WATERED),
        noted(Deed.COUNTED, leaves=7, browned=1, bulb_to_neck=1.3, stem_thickens=0),
        noted(Deed.COUNTED, what="bulbing"),
        noted(Deed.FED, what="Fish feed", n_g_m2=1.5),
        noted(Deed.CLOTH_LAID, shade_pct=50.0),
        noted(Deed.COVERED, what="straw", thickness_m=0.05),
        noted(Deed.LIFTED, variety="Porcelain"),
        noted(Deed.NOTED, note="Aphids on two plants"),
        noted(Deed.PLANTED, days_ago=175),
    ],
)
def test_what_is_usual_is_not_asked_about(book, entry):
    assert book.ask(entry) == ()


@pytest.mark.parametrize(
    ("entry", "asked"),
    [
        (noted(Deed.WATERED, litres=900.0), "900 litres on this bed is more than it drinks in a fortnight of hot days. Right?"),
        (noted(Deed.LIFTED, days_ago=200), "That is before the planting, 20 October. Is the date right?"),
        (noted(Deed.NOTED, days_ago=-2), "Wednesday at 9:00 is still to come. Is the date right?"),
        (noted(Deed.NOTED, days_ago=500), "That is more than a year ago. Is the date right?"),
        (noted(Deed.COUNTED, leaves=5, browned=7), "7 brown leaves of 5: the brown ones count among them. Are the counts right?"),
        (noted(Deed.COUNTED, leaves=30), "Garlic rarely has more than twelve leaves; this says 30. Is the count right?"),
        (noted(Deed.CLOTH_OFF), "By the journal no cloth lies there. Is this the right bed?"),
        (noted(Deed.CURED), "By the journal it was not lifted yet. Write that down first, or keep this all the same?"),
        (noted(Deed.FED, n_g_m2=9.0), "9 g/m² at once is more than Cornell's 5.6 g/m² for a whole spring. Right?"),
    ],
)
def test_what_is_odd_is_asked_about_and_kept_where_the_grower_insists(book, entry, asked):
    assert book.ask(entry) == (asked,)
    kept = book.write(entry)
    assert book.entries() == (kept,)


def test_what_was_written_before_makes_an_entry_odd(book):
    book.write(noted(Deed.LIFTED, days_ago=3))
    assert book.ask(noted(Deed.LIFTED))[0].startswith("It was lifted Friday by the journal.")
    assert book.ask(noted(Deed.FED))[0].startswith("It was lifted Friday")
    book.write(noted(Deed.CLOTH_LAID, days_ago=2))
    assert book.ask(noted(Deed.CLOTH_LAID)) == ("By the journal a cloth lies there since Saturday. One more?",)
    book.write(noted(Deed.FEEDING_STOPPED, days_ago=9))
    assert any(question.startswith("You wrote that it is fed no more.") for question in book.ask(noted(Deed.FED)))


def test_a_watering_many_times_the_usual_is_asked_about(book):
    for days_ago in (1, 2, 3):
        book.write(noted(Deed.WATERED, days_ago=days_ago, litres=40.0))
    assert book.ask(noted(Deed.WATERED, litres=210.0)) == ("210 litres is 5 times the most that was ever given here. Right?",)


@pytest.mark.parametrize(
    ("entry", "told"),
    [
        (noted(Deed.WATERED, bed_id="gate"), "bed 'gate': the garden file names no such bed; it names terrace"),
        (noted(Deed.COUNTED, variety="Purple"), "planting 'Purple': Terrace bed has Porcelain; or leave it out"),
        (noted(Deed.WATERED, litres=-1.0), r"litres is -1; want a number from 0 to 1e\+07 \[L\]"),
        (noted(Deed.WATERED, litres=float("nan")), "litres is nan"),
        (noted(Deed.COUNTED, leaves=6.5), r"leaves is 6.5; want a whole number from 0 to 40 \[leaves\]"),
        (noted(Deed.WATERED, leaves=6), "leaves: an entry 'watered' knows litres"),
        (noted(Deed.COUNTED, what="flowering"), "stage 'flowering'; want one of planted, sprouted"),
        (noted(Deed.NOTED, note="x" * 2001), "the note has 2001 characters; want at most 2000"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_kept(book, entry, told):
    for use in (book.ask, book.write):
        with pytest.raises(QuestionError, match=told):
            use(entry)
    assert book.entries() == ()


def test_a_change_is_asked_about_without_itself_and_striking_twice_is_harmless(book):
    laid = book.write(noted(Deed.CLOTH_LAID, days_ago=2))
    assert book.ask(replace(laid, at_ms=NOW_MS - DAY_MS)) == ()
    changed = book.write(replace(laid, at_ms=NOW_MS - DAY_MS))
    assert [one.at_ms for one in book.versions(laid.number)] == [NOW_MS - 2 * DAY_MS, NOW_MS - DAY_MS]
    struck = book.strike(changed.number)
    assert struck.struck_ms == NOW_MS
    assert book.strike(changed.number) == struck
    assert book.entries() == ()


def test_the_newest_come_first_of_one_bed_where_that_is_asked_for():
    book = Notebook(garden(bed(), bed(bed_id="gate")), FakeSeason(), FakeClock())
    older, newer = book.write(noted(Deed.NOTED, days_ago=3, note="a")), book.write(noted(Deed.NOTED, note="b"))
    other = book.write(noted(Deed.NOTED, days_ago=1, note="c", bed_id="gate"))
    assert book.entries() == (newer, other, older)
    assert book.entries("terrace", 1) == (newer,)
    assert start_of(dt.date(2026, 4, 13), LISBON) < NOW_MS
