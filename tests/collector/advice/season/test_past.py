"""What is known of a bed over some days: its seasons, when stages were first seen, what was weighed, what it rained."""

import datetime as dt
from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from collector.advice.season.built import locale_of
from collector.advice.season.past import Harvest, Span, past_of, seasons_of
from collector.advice.season.record import start_of
from collector.crop.observed import Stage
from collector.journal import Deed, Entry
from collector.model import Planting
from collector.units import Quantity
from tests.fakes_advice import HOUR_MS, FakeReadings, T, bed, garden, probe

ZONE = ZoneInfo("Europe/Lisbon")
PLANTED, TODAY = dt.date(2025, 10, 20), dt.date(2026, 4, 13)
TERRACE = bed(thermometers_m=(0.12,), moistures_m=())


def at(day, hour=12):
    return start_of(day, ZONE) + round(hour * HOUR_MS)


def wrote(deed, day, planting=None, what=None, bed_id="terrace", **amounts):
    return Entry(bed_id, deed, at(day), at(day), planting, what, amounts)


def spans(*entries, of=TERRACE, today=TODAY):
    return [(one.first, one.last) for one in seasons_of(of, entries, today, ZONE)]


def known(*entries, first=PLANTED, last=TODAY, of=TERRACE, readings=None):
    whole = garden(of)
    span = Span(of, first, last, PLANTED)
    return past_of(span, whole, locale_of(whole), readings or FakeReadings(), entries, at(last, 23))


# ---------------------------------------------------------------- which seasons there were


def test_a_season_goes_from_its_planting_until_today():
    assert spans() == [(PLANTED, TODAY)]


def test_a_planting_that_is_only_planned_begins_no_season():
    assert spans(today=dt.date(2025, 10, 1)) == []


def test_the_journal_tells_better_when_it_was_planted_than_the_plan_in_the_garden_file():
    late = dt.date(2025, 11, 3)
    assert spans(wrote(Deed.PLANTED, late)) == [(late, TODAY)]


def test_the_lift_ends_a_season_and_what_is_planted_after_it_begins_another():
    before, lifted = dt.date(2024, 10, 15), dt.date(2025, 6, 20)
    assert spans(wrote(Deed.PLANTED, before), wrote(Deed.LIFTED, lifted)) == [(PLANTED, TODAY), (before, lifted)]


def test_a_season_of_which_no_lift_was_written_ends_when_garlic_would_be_long_out_of_the_ground():
    before = dt.date(2024, 10, 15)
    assert spans(wrote(Deed.PLANTED, before))[1] == (before, before + dt.timedelta(days=330))


def test_two_varieties_planted_weeks_apart_are_one_season():
    two = replace(TERRACE, plantings=(*TERRACE.plantings, Planting("Ember", 0.1, dt.date(2025, 12, 1), "softneck")))
    assert spans(of=two) == [(PLANTED, TODAY)]


def test_a_season_goes_on_until_all_its_varieties_are_lifted():
    two = replace(TERRACE, plantings=(*TERRACE.plantings, Planting("Ember", 0.1, PLANTED, "softneck")))
    first, last = dt.date(2026, 4, 1), dt.date(2026, 4, 9)
    one_lift = wrote(Deed.LIFTED, first, "Ember")
    assert spans(one_lift, of=two) == [(PLANTED, TODAY)]
    assert spans(one_lift, wrote(Deed.LIFTED, last, "Porcelain"), of=two) == [(PLANTED, last)]
    assert spans(wrote(Deed.LIFTED, last), of=two) == [(PLANTED, last)]


def test_what_was_planted_in_another_bed_begins_nothing_here():
    assert spans(wrote(Deed.PLANTED, dt.date(2024, 10, 1), bed_id="gate")) == [(PLANTED, TODAY)]


def test_every_season_has_a_name_of_its_own():
    found = seasons_of(TERRACE, [wrote(Deed.PLANTED, dt.date(2024, 10, 15))], TODAY, ZONE)
    assert [one.key for one in found] == ["2025-10-20-terrace", "2024-10-15-terrace"]


# ---------------------------------------------------------------- what is known of one


def test_a_day_counts_by_its_own_hours_also_where_the_clock_is_changed():
    readings = FakeReadings()
    for hour in range(23):  # 29 March 2026 has 23 hours in Lisbon
        readings.say(probe(T, 0.12), 19.0 if hour >= 13 else 15.0, at(dt.date(2026, 3, 29), hour + 0.5))
    past = known(first=dt.date(2026, 3, 28), last=dt.date(2026, 3, 30), readings=readings)
    assert np.isnan(past.mean_c[[0, 2]]).all()
    assert past.mean_c[1] == pytest.approx((13 * 15 + 10 * 19) / 23)
    assert past.over_h[1] == pytest.approx(10.0)


def test_stages_are_counted_from_the_planting_to_the_look_that_first_showed_them():
    past = known(
        wrote(Deed.COUNTED, PLANTED + dt.timedelta(days=20), leaves=1),
        wrote(Deed.COUNTED, PLANTED + dt.timedelta(days=50), leaves=4, stem_thickens=0),
        wrote(Deed.COUNTED, PLANTED + dt.timedelta(days=60), leaves=5, stem_thickens=0),
        wrote(Deed.COUNTED, PLANTED + dt.timedelta(days=150), leaves=9, stem_thickens=1),
    )
    assert past.seen_d == {Stage.SPROUTED: 20, Stage.LEAVES: 50, Stage.BULBING: 150}


def test_of_several_varieties_the_first_that_shows_a_stage_counts():
    two = replace(TERRACE, plantings=(*TERRACE.plantings, Planting("Ember", 0.12, PLANTED, "softneck")))
    past = known(
        wrote(Deed.COUNTED, PLANTED + dt.timedelta(days=70), "Porcelain", leaves=4),
        wrote(Deed.COUNTED, PLANTED + dt.timedelta(days=63), "Ember", leaves=4),
        of=two,
    )
    assert past.seen_d == {Stage.LEAVES: 63}


def test_bulbs_are_weighed_when_they_are_cured_and_count_for_the_season_that_was_lifted():
    lifted = dt.date(2026, 4, 2)
    cured = wrote(Deed.WEIGHED, lifted + dt.timedelta(days=9), yield_kg=9.0, bulbs=120, diameter_mm=50.0)
    more = wrote(Deed.WEIGHED, lifted + dt.timedelta(days=10), yield_kg=3.0, diameter_mm=60.0)
    whole = garden(TERRACE)
    span = Span(TERRACE, PLANTED, lifted, PLANTED)

    def harvest(*entries):
        return past_of(span, whole, locale_of(whole), FakeReadings(), entries, at(TODAY)).harvest

    found = harvest(wrote(Deed.LIFTED, lifted), cured, more)
    assert found == Harvest(yield_kg=12.0, bulbs=120, diameter_mm=55.0)
    assert found.yield_kg_m2(6.0) == pytest.approx(2.0)
    assert found.yield_kg_m2(float("nan")) is None
    assert harvest(cured) is None  # these days end before it, and nothing was lifted in them


def test_rain_is_what_a_gauge_caught_and_not_known_where_there_is_none_or_it_never_spoke():
    of = bed(thermometers_m=(), moistures_m=(), others=(Quantity.RAIN,))
    readings = FakeReadings()
    assert known(of=of, readings=readings).rain_mm is None
    readings.say(probe(Quantity.RAIN, None), 4.0, at(dt.date(2026, 1, 5)), at(dt.date(2026, 2, 5)), at(dt.date(2025, 9, 1)))
    assert known(of=of, readings=readings).rain_mm == pytest.approx(8.0)
    assert known().rain_mm is None
