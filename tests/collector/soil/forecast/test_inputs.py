"""Readings and weather of any pace on the grid of full hours."""

import numpy as np
import pytest

from collector.soil.forecast.inputs import HOUR_MS, hourly_means, hours_of

GRID_MS = np.arange(10, 16, dtype=np.int64) * HOUR_MS


def test_a_reading_at_the_full_hour_is_its_value():
    assert hours_of(GRID_MS, np.arange(6.0), GRID_MS).tolist() == [0, 1, 2, 3, 4, 5]


def test_hourly_readings_between_the_hours_are_joined_by_straight_lines():
    times = GRID_MS + HOUR_MS // 4
    found = hours_of(times, np.arange(6.0), GRID_MS)
    assert found[1:].tolist() == pytest.approx([0.75, 1.75, 2.75, 3.75, 4.75])


def test_quick_readings_of_a_straight_line_are_not_shifted():
    times = np.arange(9 * 60, 17 * 60, 10) * 60_000
    assert hours_of(times, times / HOUR_MS, GRID_MS) == pytest.approx(GRID_MS / HOUR_MS)


def test_an_hour_with_no_reading_around_it_is_not_known():
    found = hours_of(GRID_MS[[0, 5]], np.array([1.0, 2.0]), GRID_MS)
    assert np.isnan(found).tolist() == [False, True, True, True, True, False]


def test_the_order_of_readings_does_not_matter_and_nan_is_no_reading():
    shuffled = [3, 0, 5, 1, 4, 2]
    values = np.array([1.0, np.nan, 3.0, 4.0, 5.0, 6.0])
    found = hours_of(GRID_MS[shuffled], values[shuffled], GRID_MS)
    assert found == pytest.approx(values, nan_ok=True)


def test_hourly_weather_on_the_hour_stays_as_it_is():
    assert hourly_means(GRID_MS, np.arange(6.0), GRID_MS) == pytest.approx(np.arange(6.0))


def test_half_hours_are_averaged_over_the_hour_that_ends():
    times = GRID_MS[0] + np.arange(-1, 11) * HOUR_MS // 2
    assert hourly_means(times, np.arange(12.0), GRID_MS) == pytest.approx([0.5, 2.5, 4.5, 6.5, 8.5, 10.5])


def test_three_hour_weather_holds_for_each_of_its_hours():
    times = np.array([12, 15], dtype=np.int64) * HOUR_MS
    assert hourly_means(times, np.array([6.0, 9.0]), GRID_MS) == pytest.approx([6, 6, 6, 9, 9, 9])


def test_a_gap_in_the_weather_stays_a_gap():
    found = hourly_means(np.delete(GRID_MS, [2, 3]), np.array([0.0, 1.0, 4.0, 5.0]), GRID_MS)
    assert found == pytest.approx([0, 1, np.nan, np.nan, 4, 5], nan_ok=True)


def test_of_two_weather_rows_at_one_time_the_later_counts():
    times = np.append(GRID_MS, GRID_MS[2])
    found = hourly_means(times, np.append(np.zeros(6), 7.0), GRID_MS)
    assert found == pytest.approx([0, 0, 7, 0, 0, 0])
