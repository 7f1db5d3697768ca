"""Weather that never was: an invented climate, the same from the same seed.

A yearly and a daily wave, cloudiness that wanders from day to day, rain out of thick cloud,
and spells that a scenario places. Values are means, or sums for rain and evapotranspiration,
over the ten minutes that end at their time.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from collector.soil import evapotranspiration as et
from collector.soil import radiation
from collector.soil.arrays import Array

STEP_S = 600
STEP_MS = STEP_S * 1000
STEPS_PER_DAY = 86_400 // STEP_S


@dataclass(frozen=True, slots=True)
class Climate:
    """A place: mean air temperature of the year, and how far a month and an hour stray from it."""

    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    year_mean_c: float
    year_swing_k: float  # from the mean to the warmest days
    warmest_day: float  # day of the year
    day_swing_k: float  # from the mean to the warmest hour of a clear day


@dataclass(frozen=True, slots=True)
class Spell:
    """Clear dry days, from the first to the last, warmer than usual by so much once it has set in."""

    first: dt.date
    last: dt.date
    warmer_k: float


@dataclass(frozen=True, slots=True)
class Moment:
    """The weather of one step, in the units of `Weather`."""

    time_ms: int
    air_c: float
    sun_w_m2: float
    humidity_pct: float
    wind_m_s: float
    rain_mm: float
    longwave_loss_w_m2: float
    eto_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Weather:
    """Parallel arrays, one value for each step; `time_ms` is its end. `longwave_loss_w_m2` is of a surface as warm as the air."""

    time_ms: np.ndarray[tuple[int], np.dtype[np.int64]]
    air_c: Array
    sun_w_m2: Array
    humidity_pct: Array
    wind_m_s: Array
    rain_mm: Array
    longwave_loss_w_m2: Array
    eto_mm: Array

    def moments(self) -> list[Moment]:
        """The steps one by one, as plain numbers."""
        columns = (
            self.air_c,
            self.sun_w_m2,
            self.humidity_pct,
            self.wind_m_s,
            self.rain_mm,
            self.longwave_loss_w_m2,
            self.eto_mm,
        )
        return [Moment(*row) for row in zip(self.time_ms.tolist(), *(column.tolist() for column in columns), strict=True)]


def weather(climate: Climate, first: dt.date, days: int, spells: Sequence[Spell], seed: int) -> Weather:
    """The weather of so many days from 00:00 UTC of the first on; the same arguments give the same weather."""
    luck = np.random.default_rng(seed)
    dates = [first + dt.timedelta(days=day) for day in range(days + 1)]  # one more, to run up to
    day_of_year = np.array([date.timetuple().tm_yday for date in dates], dtype=float)
    warmth, dry = _spells(dates, spells)

    cloud = np.where(dry, -1.0, _wander(luck, len(dates), memory=0.65))
    clearness = np.clip(0.80 - 0.18 * cloud, 0.30, 1.0)
    season_k = climate.year_swing_k * np.cos(2.0 * np.pi * (day_of_year - climate.warmest_day) / 365.0)
    stray_k = np.where(dry, 0.3, 1.0) * 1.8 * _wander(luck, len(dates), memory=0.75)
    mean_c = climate.year_mean_c + season_k + stray_k + warmth
    swing_k = climate.day_swing_k * (0.25 + 0.75 * clearness)

    step_of_day = np.arange(days * STEPS_PER_DAY) % STEPS_PER_DAY
    day = np.arange(days * STEPS_PER_DAY) // STEPS_PER_DAY
    middle_h: Array = ((step_of_day + 0.5) * STEP_S / 3600.0).astype(np.float64)
    running_day = day + middle_h / 24.0

    def through(daily: Array) -> Array:
        """From noon to noon without a step at midnight."""
        return np.interp(running_day, np.arange(len(daily)) + 0.5, daily)

    sun_hour = middle_h + climate.longitude_deg / 15.0
    # coolest about 05:00, warmest about 15:00 by the sun: a day's wave and one of half its length
    daily_wave = 0.9 * np.cos(2.0 * np.pi * (sun_hour - 14.6) / 24.0) + 0.2 * np.cos(4.0 * np.pi * (sun_hour - 14.6) / 24.0)
    air_c = through(mean_c) + through(swing_k) * daily_wave + 0.15 * _wander(luck, len(day), memory=0.9)

    hour_angle_rad = radiation.solar_hour_angle_rad(middle_h, climate.longitude_deg, day_of_year[day])
    above_mj_m2 = radiation.extraterrestrial_mj_m2_span(climate.latitude_deg, day_of_year[day], hour_angle_rad, STEP_S / 3600.0)
    clear_w_m2 = radiation.clear_sky_mj_m2(above_mj_m2, climate.elevation_m) * 1e6 / STEP_S
    passing = (1.0 - clearness[day]) * _wander(luck, len(day), memory=0.8)
    sun_w_m2 = clear_w_m2 * np.clip(clearness[day] + 0.5 * passing, 0.1, 1.0)

    wet = cloud > 1.0 + 0.5 * np.cos(2.0 * np.pi * (day_of_year - climate.warmest_day) / 365.0)
    dew_point_c = through(mean_c - 0.85 * swing_k - np.where(dry, 2.5, 0.5) + np.where(wet, 2.0, 0.0))
    vapour_kpa = np.minimum(et.vapour_pressure_by_dew_point_kpa(dew_point_c), et.saturation_vapour_pressure_kpa(air_c))
    humidity_pct = 100.0 * vapour_kpa / et.saturation_vapour_pressure_kpa(air_c)
    breeze = 0.6 + 0.5 * np.clip(np.cos(2.0 * np.pi * (sun_hour - 15.0) / 24.0), 0.0, 1.0) * 2.0
    wind_m_s = np.clip(through(1.3 + 0.4 * _wander(luck, len(dates), memory=0.5)), 0.3, None) * breeze

    loss_mj_m2_h = radiation.net_longwave_mj_m2_h(air_c, vapour_kpa, through(clearness))
    net_mj_m2_h = radiation.net_shortwave_mj_m2(sun_w_m2 * 3600e-6) - loss_mj_m2_h
    to_soil = np.where(sun_w_m2 > 0.0, et.soil_heat_mj_m2_h(net_mj_m2_h, True), et.soil_heat_mj_m2_h(net_mj_m2_h, False))
    eto_mm_h = et.penman_monteith_mm_h(net_mj_m2_h - to_soil, air_c, wind_m_s, vapour_kpa, climate.elevation_m)

    start_ms = int(dt.datetime.combine(first, dt.time(), dt.UTC).timestamp()) * 1000
    return Weather(
        time_ms=start_ms + STEP_MS * np.arange(1, days * STEPS_PER_DAY + 1, dtype=np.int64),
        air_c=air_c,
        sun_w_m2=sun_w_m2,
        humidity_pct=humidity_pct,
        wind_m_s=wind_m_s,
        rain_mm=_rain(luck, wet[:days], cloud[:days]),
        longwave_loss_w_m2=loss_mj_m2_h * 1e6 / 3600.0,
        eto_mm=np.maximum(eto_mm_h, 0.0) * STEP_S / 3600.0,
    )


def _wander(luck: np.random.Generator, count: int, memory: float) -> Array:
    """A walk that is drawn back to zero: variance 1, correlation `memory` from one value to the next."""
    push = luck.standard_normal(count)
    walk = np.empty(count)
    walk[0] = push[0]
    kick = (1.0 - memory**2) ** 0.5
    for i in range(1, count):
        walk[i] = memory * walk[i - 1] + kick * push[i]
    return walk


def _spells(dates: Sequence[dt.date], spells: Sequence[Spell]) -> tuple[Array, np.ndarray[tuple[int], np.dtype[np.bool_]]]:
    """Degrees added on each day, rising over a spell's first three days; and whether the day lies in one."""
    warmth = np.zeros(len(dates))
    dry = np.zeros(len(dates), dtype=bool)
    for spell in spells:
        for i, date in enumerate(dates):
            if spell.first <= date <= spell.last:
                dry[i] = True
                warmth[i] += spell.warmer_k * min(1.0, ((date - spell.first).days + 1) / 3.0)
    return warmth, dry


def _rain(luck: np.random.Generator, wet: np.ndarray[tuple[int], np.dtype[np.bool_]], cloud: Array) -> Array:
    """One shower on each wet day, the heavier the thicker the cloud, of one to four hours."""
    rain_mm = np.zeros((len(wet), STEPS_PER_DAY))
    for i in np.flatnonzero(wet):
        length = int(luck.integers(6, 25))
        begin = int(luck.integers(0, STEPS_PER_DAY - length))
        rain_mm[i, begin : begin + length] = min(luck.exponential(7.0) + 4.0 * cloud[i], 40.0) / length
    return rain_mm.reshape(-1)
