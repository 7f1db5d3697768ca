"""Radiation where the published examples do not reach: polar days, night, and arrays."""

from __future__ import annotations

import numpy as np
import pytest

from collector.soil import radiation as r


def test_beyond_the_polar_circle_the_sun_may_stay_up_or_down_all_day() -> None:
    assert r.daylight_hours(80.0, 172.0) == pytest.approx(24.0)
    assert r.daylight_hours(80.0, 355.0) == 0.0
    assert r.daylight_hours(90.0, 172.0) == pytest.approx(24.0)
    assert r.extraterrestrial_mj_m2_d(80.0, 355.0) == pytest.approx(0.0, abs=1e-9)
    assert r.extraterrestrial_mj_m2_d(80.0, 172.0) > 40.0


def test_at_night_the_sun_gives_nothing_and_never_less() -> None:
    hours = np.arange(0.5, 24.0)
    angle = r.solar_hour_angle_rad(hours, 0.0, np.full(24, 274.0))
    by_hour = r.extraterrestrial_mj_m2_span(16.2, np.full(24, 274.0), angle, 1.0)
    assert by_hour.min() == 0.0
    assert np.count_nonzero(by_hour == 0.0) >= 11


@pytest.mark.parametrize("span_h", [1.0, 1 / 6])
@pytest.mark.parametrize("latitude_deg", [-40.0, 0.0, 36.0, 58.0])
def test_the_spans_of_a_day_add_up_to_the_day(latitude_deg: float, span_h: float) -> None:
    middles = np.arange(span_h / 2, 24.0, span_h)
    days = np.full_like(middles, 130.0)
    angle = r.solar_hour_angle_rad(middles, 0.0, days)
    total = r.extraterrestrial_mj_m2_span(latitude_deg, days, angle, span_h).sum()
    # a span that holds midnight of the sun is cut at one end only, which is night at these latitudes
    assert total == pytest.approx(r.extraterrestrial_mj_m2_d(latitude_deg, 130.0), rel=1e-6)


def test_noon_is_earlier_by_the_clock_in_the_east() -> None:
    assert r.solar_hour_angle_rad(10.0, 30.0, 100.0) == pytest.approx(r.solar_hour_angle_rad(12.0, 0.0, 100.0))


def test_a_sky_brighter_than_clear_counts_as_clear() -> None:
    assert r.net_longwave_mj_m2_h(20.0, 1.5, 1.3) == r.net_longwave_mj_m2_h(20.0, 1.5, 1.0)


def test_missing_in_is_missing_out() -> None:
    assert np.isnan(r.net_shortwave_mj_m2(float("nan")))
    assert np.isnan(r.net_longwave_mj_m2_d(20.0, float("nan"), 1.5, 0.8))
