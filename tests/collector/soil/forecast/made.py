"""A garden made by arithmetic: weather with days and spells, and soil that answers it as a column of heat flow does."""

from __future__ import annotations

import numpy as np

from collector.soil.forecast.banks import heat_bank
from collector.soil.forecast.inputs import AIR_C, HOUR_MS, HUMIDITY_PCT, SUN_W_M2, WIND_M_S, Record, Site, Weather

SITE = Site(37.1, -7.6, 60.0)
# 2026-05-01T00:00:00Z
START_MS = 1_777_593_600_000


def weather(days: int, seed: int = 1) -> Weather:
    """Hourly weather: a wave of the day, spells of a few days, clouds."""
    chance = np.random.default_rng(seed)
    hours = np.arange(1, 24 * days + 1)
    spells = np.repeat(np.convolve(chance.normal(size=days + 4), np.ones(4) / 2, "same")[:days], 24)
    cloud = np.repeat(chance.uniform(0.3, 1.0, days), 24)
    sun = 900.0 * cloud * np.maximum(0.0, np.sin((hours - 6) / 24 * 2 * np.pi))
    air_c = 20.0 + 3.0 * spells + 6.0 * cloud * np.sin((hours - 9) / 24 * 2 * np.pi)
    wind = 2.0 + np.repeat(chance.uniform(0.0, 2.0, days), 24)
    return Weather(
        START_MS + hours * HOUR_MS, {AIR_C: air_c, SUN_W_M2: sun, HUMIDITY_PCT: np.full(hours.size, 60.0), WIND_M_S: wind}
    )


def soil_c(air: Weather, depth_m: float) -> np.ndarray:
    """Temperature at a depth under that weather, by one column of heat flow."""
    felt_c = air.columns[AIR_C] + 0.012 * air.columns[SUN_W_M2] - 2.0
    return heat_bank(felt_c[:, None], [0], 1, depth_m).features[:, 1]


def record(air: Weather, depth_m: float, seed: int = 2, noise_k: float = 0.05) -> Record:
    """A thermometer at that depth, an hourly reading with a little noise."""
    noise = noise_k * np.random.default_rng(seed).normal(size=air.time_ms.size)
    return Record(depth_m, air.time_ms, soil_c(air, depth_m) + noise)


def rmse_k(found: np.ndarray, true: np.ndarray) -> float:
    """Root mean square of the differences that are known."""
    off = found - true
    return float(np.sqrt(np.nanmean(off**2)))
