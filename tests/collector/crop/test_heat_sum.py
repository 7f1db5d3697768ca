"""The heat a crop has gathered, against the daily method and against gaps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from collector.crop import heat_sum as heat
from collector.soil import crop_coefficient
from tests.collector.crop.made import DAY_MS, flat, hours


@given(st.floats(-20.0, 45.0), st.integers(1, 10))
def test_on_days_of_one_temperature_it_is_the_daily_sum(air_c: float, days: int) -> None:
    gathered = heat.heat_sum(hours(24 * days + 1), flat(air_c, 24 * days + 1), 0, days * DAY_MS)
    daily = crop_coefficient.heat_sum_k_d(flat(air_c, days), flat(air_c, days))
    assert gathered.sum_k_d == pytest.approx(daily[-1], abs=1e-9)


def test_the_limits_are_those_of_the_crop_coefficients() -> None:
    assert heat.USUAL.base_c.value == crop_coefficient.GARLIC_BASE_C
    assert heat.USUAL.cap_c.value == crop_coefficient.GARLIC_UPPER_C


def test_a_swing_within_base_and_cap_gathers_its_mean() -> None:
    times = hours(24 * 5 + 1)
    air_c = 17.0 + 8.0 * np.sin(2.0 * np.pi * times / DAY_MS)
    assert heat.heat_sum(times, air_c, 0, 5 * DAY_MS).sum_k_d == pytest.approx(5 * 13.0)


def test_a_swing_about_the_base_gathers_what_lies_above_it() -> None:
    # 4 + 6 sin: the mean of the positive half of a sine is its height over pi
    times = np.arange(0, 2 * DAY_MS + 1, 60_000, dtype=np.int64)
    air_c = 4.0 + 6.0 * np.sin(2.0 * np.pi * times / DAY_MS)
    assert heat.heat_sum(times, air_c, 0, 2 * DAY_MS).sum_k_d == pytest.approx(2 * 6.0 / np.pi, rel=1e-4)


def test_heat_above_the_cap_adds_nothing_more() -> None:
    assert heat.heat_sum(hours(25), flat(45.0, 25), 0, DAY_MS).sum_k_d == pytest.approx(26.0)


def test_a_gap_adds_nothing_and_is_told() -> None:
    air_c = flat(14.0, 49)
    air_c[10:20] = np.nan
    found = heat.heat_sum(hours(49), air_c, 0, 2 * DAY_MS)
    assert found.gap_s == 11 * 3600.0
    assert found.sum_k_d == pytest.approx(10.0 * (48 - 11) / 24)


def test_nothing_known_is_no_heat_and_all_gap() -> None:
    assert heat.heat_sum(hours(2), flat(np.nan, 2), 0, DAY_MS) == heat.HeatSum(0.0, 0.0, 86_400.0)


def test_a_base_above_the_cap_is_refused() -> None:
    limits = replace(heat.USUAL, base_c=heat.USUAL.base_c.by_grower(31.0))
    with pytest.raises(ValueError, match=r"base 31.0 and cap 30.0 °C; want base < cap"):
        heat.heat_sum(hours(2), flat(5.0, 2), 0, DAY_MS, limits)
