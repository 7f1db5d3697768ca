"""The invented weather: the same from the same seed, and like weather."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from collector.simulate.weather import STEP_MS, STEPS_PER_DAY, Climate, Spell, Weather, weather

CLIMATE = Climate(35.0, 20.0, 50.0, year_mean_c=16.0, year_swing_k=7.0, warmest_day=210.0, day_swing_k=6.0)
FIRST = dt.date(2025, 1, 1)


def year(seed: int = 3, spells: tuple[Spell, ...] = ()) -> Weather:
    return weather(CLIMATE, FIRST, 365, spells, seed)


def by_day(values: np.ndarray) -> np.ndarray:
    return values.reshape(-1, STEPS_PER_DAY)


def test_the_same_seed_gives_the_same_weather_and_another_seed_another() -> None:
    assert np.array_equal(year().air_c, year().air_c)
    assert np.array_equal(year().rain_mm, year().rain_mm)
    assert not np.array_equal(year().air_c, year(seed=4).air_c)


def test_times_are_the_ends_of_ten_minutes_from_midnight_on() -> None:
    time_ms = year().time_ms
    assert time_ms[0] == int(dt.datetime(2025, 1, 1, 0, 10, tzinfo=dt.UTC).timestamp() * 1000)
    assert set(np.diff(time_ms).tolist()) == {STEP_MS}
    assert len(time_ms) == 365 * STEPS_PER_DAY


def test_summer_is_warmer_than_winter_and_the_afternoon_than_the_morning() -> None:
    air = by_day(year().air_c)
    assert air[180:230].mean() - air[0:40].mean() == pytest.approx(2 * CLIMATE.year_swing_k, rel=0.25)
    hour_of_warmest = air.mean(axis=0).argmax() * 24 / STEPS_PER_DAY + CLIMATE.longitude_deg / 15
    hour_of_coolest = air.mean(axis=0).argmin() * 24 / STEPS_PER_DAY + CLIMATE.longitude_deg / 15
    assert 13.5 < hour_of_warmest < 16.0
    assert 2.0 < hour_of_coolest < 7.0


def test_the_sun_is_down_at_night_and_never_beyond_a_clear_sky() -> None:
    sun = by_day(year().sun_w_m2)
    assert sun.min() == 0.0
    assert sun[:, :18].max() == 0.0  # 00:00 to 03:00 UTC is night at 20° E in every month
    assert 800.0 < sun.max() < 1060.0


def test_every_value_is_one_that_weather_can_have() -> None:
    past = year()
    for column in (
        past.air_c,
        past.sun_w_m2,
        past.humidity_pct,
        past.wind_m_s,
        past.rain_mm,
        past.longwave_loss_w_m2,
        past.eto_mm,
    ):
        assert np.isfinite(column).all()
    assert past.humidity_pct.min() > 5.0
    assert past.humidity_pct.max() <= 100.0 + 1e-9
    assert past.wind_m_s.min() > 0.0
    assert past.wind_m_s.max() < 12.0
    assert past.rain_mm.min() == 0.0
    assert 150.0 < past.rain_mm.sum() < 1500.0


def test_reference_evapotranspiration_of_a_year_is_that_of_a_warm_climate() -> None:
    daily = by_day(year().eto_mm).sum(axis=1)
    assert 0.5 < daily[:31].mean() < 2.5
    assert 4.0 < daily[180:212].mean() < 8.0


def test_a_spell_is_dry_clear_and_warmer_than_the_same_days_without_it() -> None:
    spell = Spell(dt.date(2025, 4, 10), dt.date(2025, 4, 20), warmer_k=6.0)
    days = slice(99, 110)
    with_it, without = year(spells=(spell,)), year()
    assert by_day(with_it.rain_mm)[days].sum() == 0.0
    assert by_day(with_it.sun_w_m2)[days].mean() >= by_day(without.sun_w_m2)[days].mean()
    settled = slice(102, 109)
    calm = [by_day(year(seed=seed).air_c)[settled].mean() for seed in range(12)]
    assert by_day(with_it.air_c)[settled].mean() - np.mean(calm) == pytest.approx(6.0, abs=1.5)
    assert np.array_equal(by_day(with_it.air_c)[:97], by_day(without.air_c)[:97])


def test_moments_are_the_rows_of_the_weather() -> None:
    past = weather(CLIMATE, FIRST, 2, (), 3)
    moments = past.moments()
    assert len(moments) == 2 * STEPS_PER_DAY
    assert moments[100].time_ms == past.time_ms[100]
    assert moments[100].air_c == past.air_c[100]
    assert moments[100].eto_mm == past.eto_mm[100]
