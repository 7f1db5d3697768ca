"""A season's report: what it gathers, how beds differ in it, and a page that needs nothing else and holds no markup of others."""

import datetime as dt
import re
from dataclasses import replace
from html.parser import HTMLParser
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from collector.advice.season.past import Harvest
from collector.advice.season.record import start_of
from collector.calls import Due, Job, Memory, Notice
from collector.errors import QuestionError
from collector.journal import Deed, Entry
from collector.report import Reporter
from collector.report_page import page
from collector.units import UnitSystem
from tests.fakes import FakeClock
from tests.fakes_advice import HOUR_MS, FakeReadings, FakeSeason, T, bed, garden, probe

ZONE = ZoneInfo("Europe/Lisbon")
FIRST, LAST = dt.date(2026, 3, 1), dt.date(2026, 4, 12)
TERRACE = bed(thermometers_m=(0.12,), moistures_m=())
GATE = bed(thermometers_m=(0.12,), moistures_m=(), bed_id="gate", name="Gate bed")


def at(day, hour=12):
    return start_of(day, ZONE) + round(hour * HOUR_MS)


def told(deed, day, bed_id="terrace", note="", what=None, **amounts):
    return Entry(bed_id, deed, at(day), at(day), None, what, amounts, note)


def reporter(*beds, **more):
    """Two beds of which the first is 2 K warmer, give or take, and passes 18 °C at times."""
    whole = garden(*(beds or (TERRACE, GATE)), **more)
    readings, season, luck = FakeReadings(), FakeSeason(), np.random.default_rng(3)
    for day in range((LAST - FIRST).days + 1):
        date = FIRST + dt.timedelta(days=day)
        if date == dt.date(2026, 3, 20):
            continue  # a day of silence
        base_c = 14.0 + 0.08 * day
        for one, warmer_k in zip(whole.beds, (2.0 + 0.5 * luck.standard_normal(), 0.0), strict=False):
            for hour in range(24):
                swing_k = 1.5 * np.sin(2 * np.pi * (hour - 10) / 24)
                readings.say(probe(T, 0.12, one.id), base_c + warmer_k + swing_k, at(date, hour + 0.5))
    return Reporter(whole, readings, season, FakeClock(at(LAST, 23.9))), season


def test_days_are_known_or_not_and_hours_over_the_limit_are_counted():
    made, _ = reporter()
    report = made.report(first=FIRST)
    terrace = report.beds[0].past
    assert (report.first, report.last) == (FIRST, LAST)
    assert len(terrace.days) == 43
    assert np.isnan(terrace.mean_c[19])
    assert np.isfinite(np.delete(terrace.mean_c, 19)).all()
    assert terrace.mean_c[0] == pytest.approx(16.0, abs=1.5)
    last_day = 24 * (terrace.mean_c[-1] + 1.5 * np.sin(2 * np.pi * (np.arange(24) - 10) / 24) > 18.0).mean()
    assert terrace.over_h[-1] == pytest.approx(last_day)


def test_beds_differ_by_what_they_do_and_as_surely_as_their_days_tell():
    made, _ = reporter()
    (pair,) = made.report(first=FIRST).pairs
    assert pair.mean_k.low < 2.0 < pair.mean_k.high
    assert pair.mean_k.sure
    assert pair.mean_k.days == 42
    other_limit = replace(GATE, cool_limit_c=20.0)
    (pair,) = reporter(TERRACE, other_limit)[0].report(first=FIRST).pairs
    assert pair.over_h is None


def test_water_feed_harvest_and_what_was_told_are_gathered_of_the_days_alone():
    made, season = reporter()
    for entry in (
        told(Deed.WATERED, FIRST, litres=72.0),
        told(Deed.WATERED, LAST, litres=36.0),
        told(Deed.WATERED, LAST),
        told(Deed.WATERED, FIRST - dt.timedelta(days=1), litres=500.0),
        told(Deed.WEIGHED, LAST, yield_kg=14.4, diameter_mm=55.0),
        told(Deed.WATERED, LAST, "gate", litres=9.0),
    ):
        season.write(entry)
    season.record([Memory("terrace", Job.SHADE, Due.DUE)], [(Notice(0, at(LAST), "terrace", Job.SHADE, "Lay it", "Warm."), [])])
    terrace = made.report(["terrace"], first=FIRST).beds[0]
    assert terrace.past.water_mm == pytest.approx(15.0)  # 108 L on 7.2 m²
    assert terrace.past.untold == 1
    assert terrace.past.harvest == Harvest(14.4, None, 55.0)
    assert [one.title for one in terrace.told] == ["Lay it"]


def test_it_goes_from_the_planting_to_the_lift_where_no_dates_are_given():
    made, season = reporter()
    assert made.report().first == dt.date(2025, 10, 20)
    assert made.report().last == LAST
    season.write(told(Deed.LIFTED, dt.date(2026, 4, 2)))
    assert made.report().last == LAST  # the other bed is not
    season.write(told(Deed.LIFTED, dt.date(2026, 4, 5), "gate"))
    assert made.report().last == dt.date(2026, 4, 5)


def test_what_cannot_be_asked_is_told():
    made, _ = reporter()
    with pytest.raises(QuestionError, match="bed 'moon': the garden file names no such bed; it names terrace, gate"):
        made.report(["moon"])
    with pytest.raises(QuestionError, match="would end on 2026-01-01 and begin on 2026-03-01"):
        made.report(first=FIRST, last=dt.date(2026, 1, 1))
    bare = Reporter(garden(replace(TERRACE, plantings=())), FakeReadings(), FakeSeason(), FakeClock())
    with pytest.raises(QuestionError, match="names no planting; want the dates"):
        bare.report()


class Reader(HTMLParser):
    """Reads a page as a browser does: its tags, its text, and every address in it."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.words, self.addresses = [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.addresses += [value for name, value in attrs if name in ("src", "href", "action", "data", "srcset")]

    def handle_data(self, data):
        self.words.append(data)


def test_the_page_is_whole_alone_and_the_same_each_time():
    made, season = reporter()
    season.write(told(Deed.WATERED, LAST, litres=72.0, note="after the wind"))
    text = page(made.report(first=FIRST))
    read = Reader(text)
    assert text == page(made.report(first=FIRST))
    assert read.addresses == []
    assert not re.search(r"@import|url\(|<script", text)
    assert "svg" in read.tags
    for said in ("Terrace bed", "Cool limit 18 °C.", "Watered: 72 litres, after the wind", "42 of 43", "warmer"):
        assert any(said in word for word in read.words), said
    assert "nan" not in " ".join(read.words).lower().split()


def test_names_and_notes_are_text_and_never_markup():
    odd = '<img src="//elsewhere"><script>alert(1)</script>'
    made, season = reporter(replace(TERRACE, name=odd), name=odd)
    season.write(told(Deed.NOTED, LAST, note=odd))
    read = Reader(page(made.report(first=FIRST)))
    assert read.addresses == []
    assert not {"img", "script"} & set(read.tags)
    assert sum(odd in word for word in read.words) >= 3


def test_a_garden_that_reads_us_units_reads_them_here():
    made, season = reporter(units=UnitSystem.US)
    season.write(told(Deed.WEIGHED, LAST, yield_kg=9.07))
    words = " ".join(Reader(page(made.report(first=FIRST))).words)
    assert "Cool limit 64.4 °F." in words
    assert "20 lb" in words
    assert "°C" not in words.split("By which limits")[0]  # those stand as the garden file has them
    assert "March 1, 2026 to April 12, 2026" in words


def test_what_was_told_says_until_when_it_stood():
    made, season = reporter()
    notice = Notice(0, at(LAST), "terrace", Job.SHADE, "Lay it.", "Warm.")
    season.record([], [(notice, []), (replace(notice, cleared_ms=at(LAST, 18)), [])])
    words = Reader(page(made.report(["terrace"], first=FIRST))).words
    assert "Lay it. Still stands." in words
    assert "Lay it. Over 12 April 2026 18:00." in words


def test_each_limit_of_the_season_stands_with_its_evidence_and_source():
    made, _ = reporter(limits={"chill_warm_c": 8.0})
    words = Reader(page(made.report(first=FIRST))).words
    own = words[words.index("chill_warm_c") + 1]
    assert own.startswith("8 °C; your own number: set by the grower; the usual is 10 °C")
    light = words[words.index("day_bulbing_h") + 1]
    assert light.startswith("13.5 h; weak: Brewster")


def test_a_bed_that_never_spoke_is_not_known():
    made = Reporter(garden(TERRACE), FakeReadings(), FakeSeason(), FakeClock(at(LAST)))
    words = " ".join(Reader(page(made.report(first=FIRST))).words)
    assert "Not known: no day of these had readings near the cloves." in words
    assert "not weighed" in words
