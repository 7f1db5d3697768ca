"""Feed: the next feeding with its dose, what was given against the usual range, and cautions that are always there."""

from dataclasses import replace

import pytest
from dash import dcc, html

from collector.journal import Deed, Entry
from collector.model import Feed
from collector.query import SoilQueries
from collector.units import UnitSystem
from dashboard.pages import feed
from tests.dashboard.test_journal import found, words
from tests.fakes import NOW_MS, FakeClock
from tests.fakes_advice import DAY_MS, FakeReadings, FakeSeason, bed, garden

FED = replace(bed(), nitrogen_g_m2=6.0, nitrogen_at_planting_g_m2=4.0)


def asked(*beds, entries=(), units=UnitSystem.METRIC):
    journal = FakeSeason()
    for entry in entries:
        journal.write(entry)
    readings = FakeReadings()
    readings.counts = lambda: None
    fish = (Feed("Fish feed", 4.0, 1.0, 3.0, 1.15),)
    return SoilQueries(garden(*(beds or (FED,)), units=units, feeds=fish, tank_l=10.0), readings, journal, FakeClock())


def entry(deed, days_ago, **amounts):
    return Entry("terrace", deed, NOW_MS - days_ago * DAY_MS, NOW_MS, amounts=amounts)


LEAVES = entry(Deed.COUNTED, 60, leaves=5)


def test_the_next_feeding_stands_with_its_dose_its_products_and_what_was_given():
    page = feed.layout(asked(entries=[LEAVES, entry(Deed.FED, 40, n_g_m2=2.0)]))
    told = words(page)
    # 4 of 6 g/m² are left for two of the three feedings that fit before bulbing
    assert "of nitrogen. It is overdue." in told
    assert "6 g/m² of nitrogen so far, with that at planting." in told
    assert "Fish feed (4-1-3): " in told
    assert "in 10 L of water" in told
    assert "Fed 4 March: 2 g/m² of nitrogen." in told
    (link,) = found(page, dcc.Link, className="tap")
    assert link.href == "/journal?bed=terrace&deed=fed"


def test_the_cautions_stand_first_whatever_is_due():
    for queries in (asked(), asked(entries=[LEAVES])):
        (cautions,) = found(feed.layout(queries), html.Ul, className="cautions")
        for hazard in ("label", "backflow", "pesticide"):
            assert hazard in words(cautions).lower()


def test_the_bar_is_as_long_as_what_was_given_and_the_bracket_is_the_usual_range():
    page = feed.layout(asked(entries=[LEAVES, entry(Deed.FED, 40, n_g_m2=3.0)]))
    (given,), (usual,) = (found(page, html.Div, className=name) for name in ("given", "usual"))
    assert float(given.style["width"].rstrip("%")) == pytest.approx(100 * 7.0 / 14.0, abs=0.1)
    assert float(usual.style["left"].rstrip("%")) == pytest.approx(100 * 8.4 / 14.0, abs=0.1)
    much = feed.layout(asked(entries=[LEAVES, entry(Deed.FED, 40, n_g_m2=24.0)]))
    (over,) = found(much, html.Div, className="given")
    assert over.style["width"] == "100.0%"


def test_a_bed_without_a_plan_a_planting_or_a_target_says_so():
    assert "No plan yet" in words(feed.layout(asked()))
    assert "Nothing is planted here" in words(feed.layout(asked(bed(clove_m=None))))
    assert "Set nitrogen_g_m2 for the bed" in words(feed.layout(asked(bed(), entries=[LEAVES])))


def test_us_units_are_told_where_the_garden_reads_them():
    told = words(feed.layout(asked(entries=[LEAVES], units=UnitSystem.US)))
    assert "lb/acre of nitrogen" in told
    assert "g/m²" not in told.replace("nitrogen_g_m2", "")
