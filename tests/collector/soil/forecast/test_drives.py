"""What drives the soil: gaps closed, missing quantities left out, the clock always there."""

import numpy as np
import pytest

from collector.soil.forecast import drives
from collector.soil.forecast.inputs import AIR_C, HOUR_MS, HUMIDITY_PCT, SUN_W_M2, WIND_M_S, Site, Weather
from tests.collector.soil.forecast import made

HOURS_MS = made.START_MS + np.arange(1, 241) * HOUR_MS


# FAO-56, Example 19, p. 75: N'Diaye, 16 deg 13' N, 16 deg 15' W, 8 m, 1 October, 14 to 15 h: Rso 2.658 MJ/m2/h
def test_the_clear_sun_is_that_of_fao56_example_19():
    # its clock is that of the zone of 15 deg W, one hour behind UTC
    end_ms = np.array([np.datetime64("2026-10-01T16:00", "ms").astype(np.int64)])
    found = drives.clear_sun_w_m2(end_ms, Site(16 + 13 / 60, -16.25, 8.0))
    assert found[0] * 3600 / 1e6 == pytest.approx(2.658, abs=0.005)


def test_the_polar_night_has_no_sun_and_the_polar_day_no_night():
    december, june = (np.datetime64(day, "ms").astype(np.int64) + np.arange(24) * HOUR_MS for day in ("2026-12-21", "2026-06-21"))
    assert drives.clear_sun_w_m2(december, Site(80.0, 0.0, 0.0)).tolist() == [0.0] * 24
    assert drives.clear_sun_w_m2(june, Site(80.0, 0.0, 0.0)).min() > 100.0


def test_a_short_gap_is_bridged_and_a_long_one_taken_from_the_days_beside():
    wave = np.sin(np.arange(240) / 24 * 2 * np.pi)
    told = wave.copy()
    told[100:103] = np.nan
    told[120:140] = np.nan
    past = drives.past_weather(Weather(HOURS_MS, {AIR_C: told}), HOURS_MS, made.SITE)
    # the chord of four hours over the top of a wave of 1 lies 1 - cos(30°) = 0.134 below it
    assert past.columns[AIR_C] == pytest.approx(wave, abs=0.134)
    assert past.known.tolist() == [0.0 if 120 <= hour < 140 else 1.0 for hour in range(240)]


def test_a_quantity_that_is_hardly_known_is_left_out():
    rare = np.where(np.arange(240) % 3 == 0, 50.0, np.nan)
    rare[:120] = np.nan
    rare[150:200] = np.nan
    past = drives.past_weather(Weather(HOURS_MS, {AIR_C: np.ones(240), HUMIDITY_PCT: rare}), HOURS_MS, made.SITE)
    assert set(past.columns) == {AIR_C, SUN_W_M2}


def test_each_known_quantity_adds_its_drives():
    clear_sun = np.full(240, 500.0)

    def count(*names):
        return drives.drives_of(drives.HourlyWeather({name: np.ones(240) for name in names}, np.ones(240)), clear_sun).shape[1]

    assert count() == 1
    assert count(AIR_C, SUN_W_M2) == 3
    assert count(AIR_C, SUN_W_M2, WIND_M_S) == 4
    assert count(AIR_C, SUN_W_M2, WIND_M_S, HUMIDITY_PCT) == 6


def test_after_the_forecast_the_weather_is_that_of_the_last_days():
    made_weather = made.weather(10)
    past = drives.past_weather(made_weather, HOURS_MS, made.SITE)
    ahead_ms = HOURS_MS[-1] + np.arange(1, 49) * HOUR_MS
    told = Weather(ahead_ms[:24], {AIR_C: np.full(24, 33.0), SUN_W_M2: np.full(24, 5.0)})
    coming = drives.weather_ahead(told, past, ahead_ms, made.SITE)
    assert coming.columns[AIR_C][:24].tolist() == [33.0] * 24
    assert coming.columns[AIR_C][24:] == pytest.approx(past.columns[AIR_C][-120:].reshape(5, 24).mean(axis=0))
    assert coming.known.tolist() == [1.0] * 24 + [0.0] * 24
    assert coming.columns[SUN_W_M2][:24].tolist() == [5.0] * 24
    assert 0.0 < coming.columns[SUN_W_M2][24:].max() <= drives.clear_sun_w_m2(ahead_ms, made.SITE).max() * past.sun_scale


def test_later_weather_says_nothing_of_the_past():
    later = Weather(HOURS_MS + 200 * HOUR_MS, {AIR_C: np.full(240, 99.0)})
    assert drives.past_weather(later, HOURS_MS[:200], made.SITE).columns == {}


# FAO-56, eq. 50, p. 60, with kRs 0.16; Example 20, p. 77: Lyon in July, 26.6 and 14.8 °C, Ra 40.55 gives Rs 22.29 MJ/m2/d
def test_the_sun_by_the_range_of_air_temperature_is_that_of_fao56_example_20():
    july_ms = np.datetime64("2026-07-14T00:00", "ms").astype(np.int64) + np.arange(1, 73) * HOUR_MS
    lyon = Site(45 + 43 / 60, 4.8, 200.0)
    air_c = 20.7 + 5.9 * np.cos(np.arange(72) / 24 * 2 * np.pi)
    found = drives.sun_by_air_w_m2(air_c, drives.clear_sun_w_m2(july_ms, lyon), lyon.elevation_m)
    assert found[24:48].sum() * 3600 / 1e6 == pytest.approx(22.29, rel=0.01)


def test_a_lost_sun_is_judged_by_the_air_at_the_level_of_the_sun_that_was_measured():
    made_weather = made.weather(10)
    lost = made_weather.columns[SUN_W_M2].copy()
    lost[192:] = np.nan
    past = drives.past_weather(Weather(HOURS_MS, {**made_weather.columns, SUN_W_M2: lost}), HOURS_MS, made.SITE)
    assert past.known.all()
    assert past.columns[SUN_W_M2][:192] == pytest.approx(lost[:192], abs=1e-6)
    assert 0.4 < past.columns[SUN_W_M2][192:].mean() / made_weather.columns[SUN_W_M2][192:].mean() < 2.5
