"""Where the probes of a bed go: drawn to scale, with reasons, steps and cautions."""

from dataclasses import replace

import pytest

from collector.units import UnitSystem
from dashboard.pages import mounting, stakes
from tests.dashboard import fakes
from tests.dashboard.test_today import every, of_class, words


@pytest.fixture
def queries():
    return fakes.one_bed("fine")


def test_each_place_is_drawn_at_its_depth_filled_where_a_probe_is(queries):
    page = mounting.layout(queries)
    # the bed has thermometers at 5, 10, 20 and 30 cm and moisture probes at 15 and 25; the cloves lie at 12
    left = {each.style["--from"]: "there" in each.className for each in of_class(page, "left")}
    assert left == {"5": True, "10": True, "12": False, "20": True, "30": True}
    right = {each.style["--from"]: "there" in each.className for each in of_class(page, "right")}
    assert right == {"10": False, "15": True, "25": True}  # 25 does for 20
    assert [each.style["--from"] for each in of_class(page, "clove")] == ["12"]


def test_covers_lie_over_the_soil_as_thick_as_they_are(queries):
    page = mounting.layout(queries)  # with 12 cm of straw
    assert [(each.style["--from"], each.style["--thick"]) for each in of_class(page, "cover")] == [("-12", "12")]
    (drawing,) = of_class(page, "mounting-cut")
    assert (drawing.style["--above"], drawing.style["--below"]) == ("12", "40")


def test_reasons_steps_and_cautions_stand_under_it(queries):
    said = words(mounting.layout(queries))
    for part in (
        "Where the bulbs form. Its limit of 18 °C is kept here.",
        "Slide the staff in",
        "have gas, power, water",
        "24 V",
    ):
        assert part in said


def test_depths_are_told_in_the_growers_unit_and_a_bed_may_be_picked(queries):
    beds = [fakes.bed_view("fine"), fakes.bed_view("due")]
    queries.shown = fakes.garden_view(beds, units=UnitSystem.US)
    page = mounting.layout(queries, bed="due")
    assert words(page).startswith("Probes in the Due.")
    assert "4.5 in down, soil temperature" in words(page)
    assert {each.href for each in every(page) if getattr(each, "href", "") and "mounting" in each.href} == {
        "/mounting?bed=fine",
        "/mounting?bed=due",
    }


def test_a_bed_with_nothing_in_it_and_a_garden_with_no_bed_have_their_page(queries):
    bare = replace(fakes.bed(), covers=(), plantings=(), probes=())
    queries.shown = fakes.garden_view([replace(fakes.bed_view("never"), bed=bare)])
    assert "10 cm down, soil temperature" in words(mounting.layout(queries, bed="no such"))
    assert "The garden file names no bed." in words(mounting.layout(fakes.no_beds()))


def test_the_page_of_stakes_leads_there(queries):
    assert "/mounting?bed=fine" in str(stakes.layout(queries))


def test_the_drawing_goes_as_deep_as_the_deepest_probe(queries):
    (view,) = queries.shown.beds
    deep = replace(view.bed.probes[0], id="deep", depth_m=0.6)
    queries.shown = fakes.garden_view([replace(view, bed=replace(view.bed, probes=(*view.bed.probes, deep)))])
    page = mounting._drawing(queries.shown.beds[0].bed, (), UnitSystem.METRIC)
    assert page.style["--below"] == "66"
    assert {each.style["--from"] for each in of_class(page, "there")} >= {"60"}
