"""What a weather service would have said of the invented weather: a table for the garden, a little wrong on purpose."""

from __future__ import annotations

import datetime as dt

import numpy as np

from collector.simulate.scenario import Scenario
from collector.simulate.weather import STEP_MS, weather
from collector.soil.arrays import Array

HOUR_MS = 3_600_000
_STEPS = HOUR_MS // STEP_MS
# How far a foretold hour strays: air by this much, and sun by this share, wandering over about a day. Invented.
AIR_STRAYS_K, SUN_STRAYS, WANDERS_H = 0.8, 0.12, 24


def foretold_csv(scenario: Scenario) -> str:
    """Hourly means, and rain in sums, of the scenario's weather as a table for `[weather] source = "file"`."""
    days = (scenario.end - scenario.weather_first).days
    true = weather(scenario.climate, scenario.weather_first, days, scenario.spells, scenario.seed)
    luck = np.random.default_rng(scenario.seed + 1)
    time_ms = true.time_ms[_STEPS - 1 :: _STEPS]
    air_c = _means(true.air_c) + AIR_STRAYS_K * _wandering(luck, time_ms.size)
    sun_w_m2 = np.maximum(_means(true.sun_w_m2) * (1.0 + SUN_STRAYS * _wandering(luck, time_ms.size)), 0.0)
    columns = (air_c, sun_w_m2, _means(true.humidity_pct), _means(true.wind_m_s), _STEPS * _means(true.rain_mm))
    lines = ["time_utc,air_temperature_c,solar_irradiance_w_m2,relative_humidity_pct,wind_speed_m_s,rain_mm"]
    for at_ms, *values in zip(time_ms.tolist(), *(column.tolist() for column in columns), strict=True):
        at = dt.datetime.fromtimestamp(at_ms / 1000, dt.UTC)
        lines.append(",".join([f"{at:%Y-%m-%dT%H:%M:%SZ}", *(f"{value:.2f}" for value in values)]))
    return "\n".join(lines) + "\n"


def _means(values: Array) -> Array:
    means: Array = values[: values.size // _STEPS * _STEPS].reshape(-1, _STEPS).mean(axis=1)
    return means


def _wandering(luck: np.random.Generator, count: int) -> Array:
    """Noise of variance 1 that changes slowly."""
    smooth = np.convolve(luck.standard_normal(count + WANDERS_H - 1), np.ones(WANDERS_H), mode="valid")
    wandering: Array = smooth / np.sqrt(WANDERS_H)
    return wandering
