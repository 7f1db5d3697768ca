"""Months of readings by the hour, and two courses brought together."""

import datetime as dt
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from collector.advice.season.record import HOUR_MS, Course, day_of, start_of, together

T0 = 1_780_000_000_000 // HOUR_MS * HOUR_MS
LISBON = ZoneInfo("Europe/Lisbon")


def course(*said):
    return Course(np.array([T0 + round(hours * HOUR_MS) for hours, _ in said], np.int64), np.array([value for _, value in said]))


def test_a_mean_is_known_where_three_quarters_of_its_hours_are():
    three = course((0.5, 10.0), (1.5, 11.0), (2.5, 12.0))
    assert three.mean(T0, T0 + 4 * HOUR_MS) == pytest.approx(11.0)
    assert three.mean(T0, T0 + 5 * HOUR_MS) is None


def test_the_newest_value_is_told_while_it_is_fresh_enough():
    one = course((0.0, 8.0), (1.0, float("nan")))
    assert one.last(T0 + 2 * HOUR_MS, 2 * HOUR_MS) == 8.0
    assert one.last(T0 + 2 * HOUR_MS + 1, 2 * HOUR_MS) is None


def test_two_courses_come_together_on_lines_over_three_hours_and_no_more():
    air = together(course((0, 10.0), (2, 14.0), (8, 20.0)), course((1, 80.0), (8, 90.0)))
    assert ((air.time_ms - T0) / HOUR_MS).tolist() == [0, 1, 2, 8]
    np.testing.assert_allclose(air.air_c, [10.0, 12.0, 14.0, 20.0])
    np.testing.assert_allclose(air.humidity_pct, [np.nan, 80.0, np.nan, 90.0])
    assert np.isnan(together(course((0, 10.0)), Course()).humidity_pct).all()


def test_a_date_is_the_gardens_own_also_where_its_clock_changes():
    spring = dt.date(2026, 3, 29)  # 23 hours long in Lisbon
    begin_ms = start_of(spring, LISBON)
    assert day_of(begin_ms, LISBON) == spring
    assert day_of(begin_ms - 1, LISBON) == spring - dt.timedelta(days=1)
    assert start_of(spring + dt.timedelta(days=1), LISBON) - begin_ms == 23 * HOUR_MS
