"""Two spans beside each other: day by day, or by the same days of two years, and in words."""

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pytest

from collector.advice.season.beside import beside
from collector.advice.season.beside_words import ONE_HARVEST, headline, names, notes, rows
from collector.advice.season.past import Harvest, Past, Span
from collector.advice.voice import voice_of
from collector.crop.observed import Stage
from collector.units import UnitSystem
from tests.fakes_advice import bed, garden

TERRACE, GATE = bed(), bed(bed_id="gate", name="Gate bed")
VOICE, US = (voice_of(garden(units=units)) for units in (UnitSystem.METRIC, UnitSystem.US))
START = dt.date(2026, 3, 1)
LUCK = np.random.default_rng(11)
STRAY_K = 0.3 * LUCK.standard_normal(400)


def past(of=TERRACE, first=START, days=40, warmer_k=0.0, planted=dt.date(2025, 10, 20), **more):
    """A bed whose days rise from 14 °C, so much warmer, give or take."""
    mean_c = 14.0 + 0.05 * np.arange(days) + warmer_k + (STRAY_K[:days] if warmer_k else 0.0)
    told = {
        "entries": (),
        "days": tuple(first + dt.timedelta(days=day) for day in range(days)),
        "mean_c": mean_c,
        "over_h": np.clip(mean_c - 12.0, 0.0, 24.0),
        "water_mm": 30.0,
        "untold": 0,
        "rain_mm": None,
        "seen_d": {},
        "harvest": None,
    }
    return Past(span=Span(of, first, first + dt.timedelta(days=days - 1), planted), **{**told, **more})


def said(pair, voice=VOICE):
    return dict(rows(pair, voice))


# ---------------------------------------------------------------- which days are compared


def test_beds_of_one_season_are_compared_on_the_days_that_both_have():
    pair = beside(past(warmer_k=2.0), past(GATE, first=START + dt.timedelta(days=10)))
    assert pair.years == 0
    assert np.isnan(pair.second_c[:10]).all()
    assert pair.second_c[10] == pytest.approx(14.0)
    assert pair.mean_k.days == 30


def test_seasons_of_two_years_are_compared_on_the_same_days_of_the_year():
    now, before = past(), past(first=START.replace(year=2025) + dt.timedelta(days=5))
    pair = beside(now, before)
    assert pair.years == -1
    assert np.isnan(pair.second_c[:5]).all()
    assert pair.second_c[5] == before.mean_c[0]
    assert beside(before, now).years == 1
    assert beside(before, now).mean_k.mean == pytest.approx(-pair.mean_k.mean)


def test_the_29th_of_february_has_no_day_beside_it_in_a_year_without_one():
    leap = past(first=dt.date(2024, 2, 20), days=20)
    pair = beside(leap, past(first=dt.date(2025, 2, 20), days=20))
    (alone,) = np.flatnonzero(np.isnan(pair.second_c))
    assert leap.days[alone] == dt.date(2024, 2, 29)


def test_seasons_that_share_no_day_of_the_year_are_not_compared():
    pair = beside(past(first=dt.date(2026, 3, 1)), past(first=dt.date(2025, 8, 1)))
    assert pair.mean_k is None
    assert headline(pair, VOICE) == "Which was cooler is not known: they have no day in common of which both tell."
    assert said(pair)["Mean at the cloves"] == "not known: no day in common"


# ---------------------------------------------------------------- in words


def test_the_headline_says_which_was_cooler_only_where_the_days_tell():
    sure = beside(past(warmer_k=2.0), past(GATE))
    assert headline(sure, VOICE) == f"Terrace bed was {VOICE.warmer_by(sure.mean_k.mean)} warmer at the cloves than Gate bed."
    assert "cooler" in headline(beside(past(GATE), past(warmer_k=2.0)), VOICE)
    alike = past(GATE, mean_c=past().mean_c + STRAY_K[:40] - STRAY_K[:40].mean())
    assert headline(beside(past(), alike), VOICE) == "Which was cooler, these days do not tell."
    short = beside(past(days=4, warmer_k=2.0), past(GATE, days=4))
    assert headline(short, VOICE).endswith("That is by 4 days, too few to say how sure it is.")


def test_a_difference_is_told_with_its_ends_and_how_many_days_it_is_worth():
    pair = beside(past(), past(GATE, warmer_k=2.0))
    line, found = said(pair)["Mean at the cloves"], pair.mean_k
    low, high = VOICE.warmer_by(-found.high), VOICE.warmer_by(-found.low)
    assert line == f"{VOICE.warmer_by(-found.mean)} cooler ({low} to {high}), by 40 days, which count as {found.independent:.0f}"
    assert float(low.split()[0]) < float(high.split()[0])
    assert "°F cooler (" in said(pair, US)["Mean at the cloves"]


def test_a_difference_that_may_be_none_has_an_end_below_nothing_and_says_so():
    alike = past(GATE, mean_c=past().mean_c + 4.0 * (STRAY_K[:40] - STRAY_K[:40].mean()) + 0.01)
    line = said(beside(past(), alike))["Mean at the cloves"]
    assert "(−" in line
    assert "; it may be none)" in line


def test_hours_are_compared_against_a_common_limit_only():
    assert "Hours a day over 18 °C" in said(beside(past(), past(GATE)))
    other = beside(past(), past(replace(GATE, cool_limit_c=20.0)))
    assert said(other)["Hours over the limit"] == "not compared: the beds have limits of their own"
    assert (other.over_h, other.limit_c) == (None, None)
    unset = [past(replace(one, cool_limit_c=None)) for one in (TERRACE, GATE)]
    assert said(beside(*unset))["Hours over the limit"] == "not known: no cool limit is set"


def test_water_stages_and_harvest_stand_beside_each_other_in_the_growers_units():
    first = past(untold=1, seen_d={Stage.LEAVES: 50, Stage.BULBING: 150}, harvest=Harvest(14.4, 288, 55.0))
    second = past(GATE, water_mm=math.nan, seen_d={Stage.LEAVES: 62}, harvest=Harvest(7.2, None, 50.0))
    lines = said(beside(first, second))
    water = "30 litres a square metre (and 1 watering of which no amount was told) and not known (no area is told)"
    assert lines["Water given"] == water
    assert lines["First seen leaves"] == "50 and 62 days after planting"
    assert "First seen bulbing" not in lines
    assert lines["Yield"] == "2.00 kg/m² and 1.00 kg/m²"
    assert lines["Width of a usual bulb"] == "55 mm and 50 mm"
    assert "Weight of a usual bulb" not in lines
    weighed = past(GATE, harvest=Harvest(7.2, 180, 50.0))
    assert said(beside(first, weighed))["Weight of a usual bulb"] == "50 g and 40 g"
    assert said(beside(first, weighed), US)["Yield"] == "0.41 lb/ft² and 0.20 lb/ft²"  # 1 kg/m² is 0.2048 lb/ft²
    assert said(beside(past(), past(GATE)))["Yield"] == "not weighed"
    assert said(beside(first, past(GATE)))["Yield"] == "weighed of one of them only"


def test_of_one_harvest_nobody_can_tell_what_was_chance_and_of_two_years_the_weather_is_in_it():
    weighed = [past(one, harvest=Harvest(7.2, None, None)) for one in (TERRACE, GATE)]
    assert ONE_HARVEST in notes(beside(*weighed))
    assert ONE_HARVEST not in notes(beside(past(), past(GATE)))
    years = beside(past(rain_mm=100.0), past(first=START.replace(year=2024), rain_mm=80.0))
    assert any("2 years apart. The weather was another" in note for note in notes(years))
    assert said(years)["Rain caught"] == "100 litres a square metre and 80 litres a square metre"


def test_beds_are_named_by_their_planting_too_where_that_tells_them_apart():
    assert names(past().span, past(GATE).span, VOICE) == ("Terrace bed", "Gate bed")
    older = past(first=dt.date(2025, 3, 1), planted=dt.date(2024, 10, 15)).span
    assert names(past().span, older, VOICE) == (
        "Terrace bed, planted 20 October 2025",
        "Terrace bed, planted 15 October 2024",
    )
    assert names(past(planted=None).span, older, US)[0] == "Terrace bed, from March 1, 2026"
