"""What a bed is exposed to: no gaps, no impossible values, whatever weather there is."""

from __future__ import annotations

import numpy as np
import pytest

from collector.soil.exposure import PAST_D, USUAL_CLEARNESS, exposure_of
from collector.soil.forecast.drives import clear_sun_w_m2
from collector.soil.forecast.inputs import AIR_C, DAY_H, HOUR_MS, HUMIDITY_PCT, SUN_W_M2, Site, Weather
from tests.collector.soil.forecast import made

NOW_MS = made.START_MS + 12 * DAY_H * HOUR_MS
AIR = made.weather(20)


def test_observed_and_forecast_weather_come_through_as_they_are() -> None:
    exposure = exposure_of(AIR, made.SITE, NOW_MS + 20 * 60_000, 48)
    there = np.isin(AIR.time_ms, exposure.time_ms)
    assert exposure.time_ms.size == PAST_D * DAY_H + 48
    assert exposure.time_ms[-48] == NOW_MS + HOUR_MS
    assert exposure.air_c == pytest.approx(AIR.columns[AIR_C][there])
    assert exposure.sun_w_m2 == pytest.approx(AIR.columns[SUN_W_M2][there], abs=1e-6)


def test_without_any_weather_the_sun_is_a_usual_one_and_the_air_is_not_known() -> None:
    exposure = exposure_of(Weather(), made.SITE, NOW_MS, 48)
    assert np.isnan(exposure.air_c).all()
    assert exposure.sun_w_m2 == pytest.approx(USUAL_CLEARNESS * clear_sun_w_m2(exposure.time_ms, made.SITE))
    assert pytest.approx(0.70) == USUAL_CLEARNESS


def test_a_moist_or_a_cloudy_sky_takes_less_from_the_ground() -> None:
    plain = exposure_of(AIR, made.SITE, NOW_MS, 48).sky_loss_w_m2.mean()
    moist = Weather(AIR.time_ms, {**AIR.columns, HUMIDITY_PCT: np.full(AIR.time_ms.size, 95.0)})
    cloudy = Weather(AIR.time_ms, {**AIR.columns, SUN_W_M2: 0.3 * AIR.columns[SUN_W_M2]})
    assert exposure_of(moist, made.SITE, NOW_MS, 48).sky_loss_w_m2.mean() < plain
    assert exposure_of(cloudy, made.SITE, NOW_MS, 48).sky_loss_w_m2.mean() < plain


@pytest.mark.parametrize("latitude_deg", [-90.0, -78.0, 78.0, 90.0])
@pytest.mark.parametrize("month_ms", [0, 180 * DAY_H * HOUR_MS])
def test_polar_day_and_night_give_numbers_that_can_be(latitude_deg: float, month_ms: int) -> None:
    exposure = exposure_of(Weather(), Site(latitude_deg, 20.0, 10.0), NOW_MS + month_ms, 72)
    for values in (exposure.sun_w_m2, exposure.sky_loss_w_m2, exposure.wind_m_s, exposure.reference_mm):
        assert np.isfinite(values).all()
        assert values.min() >= 0.0
    summer = (latitude_deg > 0) == (month_ms == 0)
    assert (exposure.sun_w_m2.min() > 0.0) == summer
    assert (exposure.sun_w_m2.max() == 0.0) != summer


def test_no_coming_hours_are_refused() -> None:
    with pytest.raises(ValueError, match="hours is 0; want 1 or more"):
        exposure_of(Weather(), made.SITE, NOW_MS, 0)
