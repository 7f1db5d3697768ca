"""Compare: which two, how they differ, and a chart of both."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from dash import dcc, html

from collector.query import SoilQueries
from collector.units import UnitSystem
from dashboard.figures.chart import Reader
from dashboard.figures.two_courses import two_seasons
from dashboard.pages import compare
from tests.collector.advice.season.test_comparer import BEFORE, GATE, NOW, OTHER, TERRACE, comparer
from tests.dashboard.test_journal import found, words
from tests.fakes_advice import FakeReadings, bed, garden


def asked():
    _, readings, season, clock = comparer()
    readings.counts = lambda: None
    return SoilQueries(garden(TERRACE, GATE), readings, season, clock)


def test_it_begins_with_two_different_seasons_and_says_how_they_differ():
    page = compare.layout(asked())
    picks = found(page, dcc.RadioItems)
    assert [one.value for one in picks] == [NOW, OTHER]
    assert "Terrace bed was 2 °C warmer at the cloves than Gate bed." in words(page)
    assert len(found(page, html.Tr)) >= 3


def test_an_address_names_the_two():
    page = compare.layout(asked(), first=NOW, second=BEFORE)
    assert "3 °C warmer" in words(page)


@pytest.mark.parametrize(("first", "second"), [(NOW, NOW), (None, NOW), (NOW, "moon")])
def test_what_cannot_be_compared_says_so(first, second):
    told = words(html.Div(compare.compared(asked(), first, second, "light")))
    assert "Pick two different ones." in told or "no longer in the garden file" in told


def test_a_garden_of_one_season_has_nothing_to_compare():
    readings = FakeReadings()
    readings.counts = lambda: None
    _, _, season, clock = comparer()
    alone = SoilQueries(garden(bed(bed_id="gate")), readings, season, clock)
    assert "can be compared with it" in words(compare.layout(alone))


def figure(**changed):
    return two_seasons(
        replace(asked().seasons.compare(NOW, OTHER), **changed), Reader("light", UnitSystem.METRIC, "Europe/Lisbon")
    )


def test_the_chart_has_a_full_and_a_dashed_line_and_the_limit():
    drawn = {one["name"]: one for one in figure()["data"] if one.get("name")}
    assert "dash" not in drawn["Terrace bed"]["line"]
    assert drawn["Gate bed"]["line"]["dash"]
    known = [y for y in drawn["Terrace bed"]["y"] if y is not None]
    assert min(known) == pytest.approx(16.0, abs=0.01)
    assert any(18.0 in one["y"] for one in figure()["data"])


def test_a_tap_tells_the_day_and_both():
    plates = next(one for one in figure()["data"] if one.get("name") == "plates")
    noon_ms = int(dt.datetime(2026, 3, 2, 12, tzinfo=dt.UTC).timestamp() * 1000)
    text = plates["text"][plates["x"].index(noon_ms)]
    assert text == "<b>Monday 2 March</b><br>Terrace bed: 16.1 °C<br>Gate bed: 14.1 °C"


def test_a_chart_of_two_that_are_not_known_says_so():
    nothing = np.full_like(asked().seasons.compare(NOW, OTHER).first_c, np.nan)
    drawn = figure(first_c=nothing, second_c=nothing)
    assert "No day of either is known" in str(drawn["layout"]["annotations"])
