"""What if: the changes to choose from, what the chosen one does, and a chart of both courses."""

from dash import dcc, html

from collector.query import SoilQueries
from collector.units import UnitSystem
from dashboard.figures.chart import Reader
from dashboard.figures.two_courses import if_changed
from dashboard.pages import what_if
from tests.collector.advice.test_what_ifs import STRAW, seen, soil_says
from tests.dashboard.test_journal import found, words
from tests.fakes import FakeClock
from tests.fakes_advice import FakeReadings, FakeSeason, bed, garden


def asked(*beds):
    season, readings = FakeSeason(), soil_says()
    readings.counts = lambda: None
    season.outlooks = {"terrace": seen().outlook}
    return SoilQueries(garden(*(beds or (STRAW,))), readings, season, FakeClock())


def test_the_page_says_how_it_is_and_what_the_first_change_would_do():
    page = what_if.layout(asked())
    (choices,) = found(page, dcc.RadioItems)
    assert choices.value == choices.options[0]["value"]
    told = words(page)
    assert "If nothing is changed the cloves average up to 18.4 °C" in told
    assert f"{choices.options[0]['label']}." in told
    assert len(found(page, dcc.Graph)) == 1


def test_an_address_names_the_change():
    page = what_if.layout(asked(), bed="terrace", change="cover-0.1")
    assert "10 cm more cover." in words(page)


def test_what_is_not_offered_says_so():
    assert "no longer offered" in words(html.Div(what_if.said(asked(), "terrace", "cover-9", "light")))
    assert "no longer offered" in words(html.Div(what_if.said(asked(), "moon", "cover-0.1", "light")))


def test_a_bed_that_is_not_foreseen_says_what_that_takes():
    readings = FakeReadings()
    readings.counts = lambda: None
    young = SoilQueries(garden(bed()), readings, FakeSeason(), FakeClock())
    assert "some days of readings" in words(what_if.layout(young))
    assert "names no bed" in words(what_if.layout(SoilQueries(garden(), readings, FakeSeason(), FakeClock())))


def test_several_beds_are_picked_from():
    two = asked(STRAW, bed(bed_id="gate", name="Gate bed"))
    links = [one.href for one in found(what_if.layout(two), dcc.Link, className="pick here")]
    assert links == ["/what-if?bed=terrace"]


def test_the_chart_draws_the_change_full_and_things_as_they_are_dashed():
    view = asked().what_if("terrace")
    drawn = if_changed(view, view.changes[0], Reader("light", UnitSystem.METRIC, "Europe/Lisbon"))
    lines = {one["name"]: one for one in drawn["data"] if one.get("name")}
    assert lines["As things are"]["line"]["dash"]
    assert "dash" not in lines[view.changes[0].name]["line"]
    assert "As things are: 18.4 °C" in lines["plates"]["text"][0]
