"""Season: how far each bed is, and one time line of what was done and seen."""

import datetime as dt

from dash import html

from collector.journal import Deed, Entry
from collector.query import SoilQueries
from dashboard.pages import season
from tests.dashboard.test_journal import found, words
from tests.fakes import NOW_MS, FakeClock
from tests.fakes_advice import DAY_MS, FakeReadings, FakeSeason, bed, garden


def asked(*beds, entries=()):
    journal = FakeSeason()
    for entry in entries:
        journal.write(entry)
    readings = FakeReadings()
    readings.counts = lambda: None
    return SoilQueries(garden(*(beds or (bed(),))), readings, journal, FakeClock())


def entry(deed, days_ago, **amounts):
    return Entry("terrace", deed, NOW_MS - days_ago * DAY_MS, NOW_MS, amounts=amounts)


def marks(page):
    return [(one.children, float(one.style["left"].rstrip("%"))) for one in found(page, html.Span, className="mark")]


def test_each_planting_says_how_far_it_is_and_each_entry_has_its_mark_in_its_row():
    page = season.layout(
        asked(entries=[entry(Deed.COUNTED, 20, leaves=6), entry(Deed.WATERED, 10, litres=60.0), entry(Deed.FED, 5, n_g_m2=1.5)])
    )
    assert "Porcelain: leaves, by your count of 6 leaves on 24 March." in words(page)
    (count, count_at), (water, water_at), (feed, feed_at) = marks(page)
    assert (count, water, feed) == ("6", "|", "◆")
    assert 0.0 < count_at < water_at < feed_at < 100.0
    assert "Leaves: 1 entry" in str(page)


def test_the_time_line_is_as_long_as_a_season_and_shows_its_months_and_today():
    page = season.layout(asked())
    months = [one.children for one in found(page, html.Span, className="month")]
    assert months == ["Oct", "Nov", "Dec", "Jan", "Feb", "Mar", "Apr"]
    (now,) = found(page, html.Span, className="now")
    assert 90.0 < float(now.style["left"].rstrip("%")) < 100.0
    young = season.time_line((), dt.date(2026, 4, 1), dt.date(2026, 4, 13), asked().garden())
    assert [one.children for one in found(young, html.Span, className="month")][-1] == "Sep"


def test_a_bed_with_nothing_planted_says_so_and_a_garden_without_beds_too():
    page = season.layout(asked(bed(clove_m=None)))
    assert "The garden file names no planting in this bed." in words(page)
    empty = SoilQueries(garden(), FakeReadings(), FakeSeason(), FakeClock())
    empty._readings.counts = lambda: None
    assert "Nothing grows here." in words(season.layout(empty))
