"""Readings of several probes brought together: those of now, or at the times of a grid. Pure."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from collector.model import Probe, Series
from collector.soil.arrays import Array
from collector.soil.profile import Profile, profile_of


def profile_now(probes: Sequence[Probe], series: Mapping[str, Series], now_ms: int, patience_ms: int) -> Profile | None:
    """The newest trusted reading of each probe, where it is no older than `patience_ms` [ms]."""
    points = []
    for probe in probes:
        trusted = series[probe.id].trusted() if probe.id in series else None
        if trusted is None or probe.depth_m is None:
            continue
        newest = int(np.searchsorted(trusted.time_ms, now_ms, side="right")) - 1
        if newest >= 0 and now_ms - int(trusted.time_ms[newest]) <= patience_ms:
            points.append((probe.depth_m, float(trusted.value[newest])))
    return profile_of(points)


def profiles_over(
    probes: Sequence[Probe], series: Mapping[str, Series], grid_ms: NDArray[np.int64], gap_ms: int
) -> list[Profile | None]:
    """A profile for each time of a grid: each probe linear in time across gaps up to `gap_ms` [ms], None where all are silent."""
    depths_m, rows = _rows(probes, series, grid_ms, gap_ms)
    return [
        profile_of([(depth_m, float(value)) for depth_m, value in zip(depths_m, row, strict=True) if not np.isnan(value)])
        for row in rows
    ]


def read_over(
    probes: Sequence[Probe],
    series: Mapping[str, Series],
    grid_ms: NDArray[np.int64],
    gap_ms: int,
    read: Callable[[Profile], Sequence[float]],
) -> Array:
    """What `read` finds in the profile of each time of a grid: d values each, n by d, NaN not known or where all are silent.

    `read` must be a sum of the profile's values, weighed by their depths alone. So it is asked for its weights, once for each
    set of probes that speak together, and not for each time: a season has thousands of these.
    """
    depths_m, rows = _rows(probes, series, grid_ms, gap_ms)
    known = np.isfinite(rows)
    found: Array | None = None
    for together in np.unique(known[known.any(axis=1)], axis=0):
        speak = np.flatnonzero(together)
        weights = np.array([read(_unit(depths_m, speak, one)) for one in speak.tolist()], dtype=np.float64)
        if found is None:
            found = np.full((grid_ms.size, weights.shape[1]), np.nan)
        those = (known == together).all(axis=1)
        found[those] = rows[those][:, speak] @ weights
    return np.empty((grid_ms.size, 0)) if found is None else found


def _unit(depths_m: Sequence[float], speak: NDArray[np.intp], one: int) -> Profile:
    """A profile of those that speak, 1 at one of them and 0 at the others."""
    made = profile_of([(depths_m[probe], float(probe == one)) for probe in speak.tolist()])
    assert made is not None
    return made


def _rows(
    probes: Sequence[Probe], series: Mapping[str, Series], grid_ms: NDArray[np.int64], gap_ms: int
) -> tuple[list[float], Array]:
    """Depths of the probes that have one [m], and their values at the times of a grid, n by p."""
    columns = [
        (probe.depth_m, on_grid(series[probe.id], grid_ms, gap_ms))
        for probe in probes
        if probe.depth_m is not None and probe.id in series
    ]
    rows = np.array([values for _, values in columns]).reshape(len(columns), len(grid_ms)).T
    return [depth_m for depth_m, _ in columns], rows


def on_grid(series: Series, grid_ms: NDArray[np.int64], gap_ms: int) -> NDArray[np.float64]:
    """Trusted values at the times of a grid, linear between readings no farther apart than `gap_ms` [ms], else NaN."""
    trusted = series.trusted()
    times_ms, last = trusted.time_ms, len(trusted.time_ms) - 1
    if last < 0:
        return np.full(len(grid_ms), np.nan)
    values = np.interp(grid_ms, times_ms, trusted.value, left=np.nan, right=np.nan)
    next_ms = times_ms[np.clip(np.searchsorted(times_ms, grid_ms, side="left"), 0, last)]
    previous_ms = times_ms[np.clip(np.searchsorted(times_ms, grid_ms, side="right") - 1, 0, last)]
    values[next_ms - previous_ms > gap_ms] = np.nan
    return values
