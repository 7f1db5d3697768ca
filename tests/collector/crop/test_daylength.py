"""How long the day is where sources are silent: polar day and night, and the first long day."""

from __future__ import annotations

import datetime as dt
import itertools

import pytest

from collector.crop.daylength import (
    ALL_BULB,
    BULBING,
    Definition,
    Threshold,
    daylength_h,
    days_shorten,
    first_long_day,
    mean_solar_ms,
    sun_times_ms,
)
from collector.crop.limits import Limit

SPRING, JUNE, DECEMBER = dt.date(2026, 3, 21), dt.date(2026, 6, 21), dt.date(2026, 12, 21)


@pytest.mark.parametrize("definition", list(Definition))
@pytest.mark.parametrize("latitude_deg", [80.0, 90.0])
def test_polar_day_is_24_hours_and_the_sun_neither_rises_nor_sets(latitude_deg: float, definition: Definition) -> None:
    assert daylength_h(JUNE, latitude_deg, 0.0, definition) == 24.0
    assert daylength_h(DECEMBER, -latitude_deg, 0.0, definition) == 24.0
    assert sun_times_ms(JUNE, latitude_deg, 0.0, definition) is None


@pytest.mark.parametrize("latitude_deg", [80.0, 90.0])
def test_polar_night_is_0_hours(latitude_deg: float) -> None:
    assert daylength_h(DECEMBER, latitude_deg, 0.0, Definition.ALMANAC) == 0.0
    assert daylength_h(JUNE, -latitude_deg, 0.0, Definition.CIVIL) == 0.0


def test_the_day_closes_without_a_leap_on_the_way_into_polar_night_and_day() -> None:
    for first in (dt.date(2026, 4, 20), dt.date(2026, 10, 20)):
        hours = [daylength_h(first + dt.timedelta(days=day), 68.0, 25.0, Definition.ALMANAC) for day in range(75)]
        assert all(0.0 <= hour <= 24.0 for hour in hours)
        # at 68° N the last and the first day of the sun are up to two hours long
        assert max(abs(after - before) for before, after in itertools.pairwise(hours)) < 2.5
        assert {0.0, 24.0} & set(hours)


def test_the_definitions_follow_one_another_in_length() -> None:
    for latitude_deg in (-45.0, 0.0, 30.0, 60.0):
        geometric, almanac, civil = (daylength_h(SPRING, latitude_deg, 0.0, definition) for definition in Definition)
        assert geometric < almanac < civil


def test_noon_lies_between_sunrise_and_sunset_wherever_one_is() -> None:
    for longitude_deg in (-180.0, -75.0, 0.0, 145.0, 180.0):
        rise_ms, set_ms = sun_times_ms(SPRING, 37.0, longitude_deg, Definition.ALMANAC) or (0.0, 0.0)
        noon_ms = mean_solar_ms(SPRING, longitude_deg, 12.0)
        # the equation of time is at most 17 minutes
        assert abs((rise_ms + set_ms) / 2.0 - noon_ms) < 17 * 60_000


def test_long_days_that_grow_shorter_do_not_count() -> None:
    planted = dt.date(2026, 8, 1)
    assert daylength_h(planted, 45.0, 0.0, BULBING.definition) > 14.0
    reached = first_long_day(BULBING, 45.0, 0.0, planted, dt.date(2027, 8, 1))
    assert reached is not None
    assert dt.date(2027, 4, 10) < reached < dt.date(2027, 4, 25)


def test_a_day_that_is_long_enough_at_the_beginning_counts_at_once() -> None:
    assert first_long_day(BULBING, 45.0, 0.0, dt.date(2026, 5, 20), dt.date(2026, 5, 25)) == dt.date(2026, 5, 20)


def test_a_threshold_that_a_latitude_never_reaches_is_never_reached() -> None:
    year = (dt.date(2026, 1, 1), dt.date(2026, 12, 31))
    assert first_long_day(BULBING, 20.0, 0.0, *year) is None
    assert first_long_day(ALL_BULB, 25.0, 0.0, *year) is None
    assert first_long_day(ALL_BULB, 38.0, 0.0, *year) is not None


def test_polar_days_are_long_enough_though_they_grow_no_longer() -> None:
    assert first_long_day(BULBING, 75.0, 0.0, JUNE, DECEMBER) == JUNE


def test_a_nearer_definition_of_the_day_is_reached_later() -> None:
    def reached(definition: Definition) -> dt.date:
        threshold = Threshold(Limit(13.5, "h", BULBING.hours.evidence, BULBING.hours.source), definition)
        return first_long_day(threshold, 37.1, -7.6, dt.date(2026, 1, 1), dt.date(2026, 6, 20)) or dt.date.max

    assert reached(Definition.CIVIL) < reached(Definition.ALMANAC) < reached(Definition.GEOMETRIC) < dt.date.max


def test_days_shorten_in_autumn_on_either_side_of_the_equator() -> None:
    october, march = dt.date(2026, 10, 20), dt.date(2026, 3, 1)
    assert days_shorten(october, 37.0, 0.0)
    assert not days_shorten(march, 37.0, 0.0)
    assert days_shorten(march, -37.0, 0.0)
    assert not days_shorten(october, -37.0, 0.0)


def test_a_place_that_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match=r"latitude_deg is 91.0; want -90 to 90 \[°\]"):
        daylength_h(JUNE, 91.0, 0.0, Definition.CIVIL)
    with pytest.raises(ValueError, match=r"longitude_deg is nan"):
        daylength_h(JUNE, 37.0, float("nan"), Definition.CIVIL)
