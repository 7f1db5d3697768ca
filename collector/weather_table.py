"""Weather of two hands in one table: what the garden's own probes measured, and what a public service says. Pure."""

from __future__ import annotations

import numpy as np

from collector.soil.arrays import Array
from collector.soil.forecast.inputs import HOUR_MS, QUANTITIES, RAIN_MM, Times, Weather, hourly_means


def merged(own: Weather, public: Weather, now_ms: int) -> Weather:
    """Hourly weather: for each quantity and hour up to `now_ms` what the own probes say, where they speak; else the public word.

    The own table may come at any pace; its rain is what fell in each step [mm], and it counts for hours that are over.
    The public table has full hours. A column is there where either table has it, and an hour that neither knows is NaN.
    Empty tables are welcome.
    """
    begin_ms, end_ms = _span(own, public, now_ms)
    grid_ms = np.arange(begin_ms, end_ms + HOUR_MS, HOUR_MS, dtype=np.int64)
    if grid_ms.size == 0:
        return Weather()
    columns = {}
    for name in QUANTITIES:
        if name in own.columns or name in public.columns:
            measured = _hourly(own, name, grid_ms)
            measured[grid_ms > now_ms] = np.nan  # the hour that runs is not measured yet
            columns[name] = np.where(np.isfinite(measured), measured, _placed(public, name, grid_ms))
    return Weather(grid_ms, columns)


def _span(own: Weather, public: Weather, now_ms: int) -> tuple[int, int]:
    """The first and the last full hour that either table may know of; the last before the first where both are empty."""
    times_ms = np.concatenate([own.time_ms[own.time_ms <= now_ms], public.time_ms])
    if times_ms.size == 0:
        return 0, -HOUR_MS
    return -(-int(times_ms.min()) // HOUR_MS) * HOUR_MS, -(-int(times_ms.max()) // HOUR_MS) * HOUR_MS


def _hourly(own: Weather, name: str, grid_ms: Times) -> Array:
    if name not in own.columns:
        return np.full(grid_ms.size, np.nan)
    if name == RAIN_MM:
        return _hourly_amounts(own.time_ms, own.columns[name], grid_ms)
    return hourly_means(own.time_ms, own.columns[name], grid_ms)


def _placed(public: Weather, name: str, grid_ms: Times) -> Array:
    told = np.full(grid_ms.size, np.nan)
    if name in public.columns:
        told[(public.time_ms - grid_ms[0]) // HOUR_MS] = public.columns[name]
    return told


def _hourly_amounts(time_ms: Times, amount: Array, grid_ms: Times) -> Array:
    """Amounts that fell in the hours that end at the full hours, of amounts since the step before [unit of the amount].

    As a rate for each hour an amount is a mean over its step like any other, and its hourly mean is the amount of the hour.
    """
    known = np.flatnonzero(np.isfinite(amount))
    ends, last = np.unique(time_ms[known][::-1], return_index=True)
    gaps = np.diff(ends)
    usual = float(np.median(gaps)) if gaps.size else float(HOUR_MS)
    length_ms = np.minimum(np.concatenate([[usual], gaps]), usual)[: ends.size]
    return hourly_means(ends, amount[known][::-1][last] * HOUR_MS / length_ms, grid_ms)
