"""The sentence on a bed's page about how far the last watering got."""

from dataclasses import replace

from collector.calls import Due, Job
from dashboard.components.wetted import wetted
from dashboard.pages import bed as page
from tests.dashboard.fakes import HOUR_MS, NOW_MS, FakeQueries, bed_view, garden_view, water

SENTENCE = "The water reached 8 cm by 9:40; the roots go down to 30 cm."


def test_the_page_says_how_far_the_water_got_and_nothing_where_there_was_none():
    view = replace(bed_view("fine"), wetted=SENTENCE)
    assert SENTENCE in str(page.layout(FakeQueries(garden_view([view])), bed_id=view.bed.id))
    assert wetted(bed_view("fine")) == []


def test_a_call_to_turn_the_water_off_says_it_already_until_it_is_done():
    asked = water("fine")
    hose = replace(asked, call=replace(asked.call, job=Job.HOSE))
    view = replace(bed_view("fine"), wetted=SENTENCE, calls=(hose,))
    assert wetted(view) == []
    done = replace(hose, call=replace(hose.call, due=Due.DONE))
    assert [one.children for one in wetted(replace(view, calls=(done,)))] == [SENTENCE]


def test_water_that_nobody_told_of_is_offered_as_an_entry() -> None:
    view = replace(bed_view("fine"), wetted="The water reached 25 cm.", unsaid_watering_ms=NOW_MS - HOUR_MS)
    (_, asked) = wetted(view)
    link = asked.children
    assert link.children == "Was that a watering? Write it down"
    assert link.href == f"/journal?bed={view.bed.id}&deed=watered&at={NOW_MS - HOUR_MS}"
    assert len(wetted(replace(view, unsaid_watering_ms=None))) == 1
