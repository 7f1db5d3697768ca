"""Banks: the drives as the soil might feel them, delayed and damped in several ways.

`filter_bank` knows nothing of soil and passes every drive through first-order lags. `heat_bank`
passes it through columns of soil that differ in how well they conduct and are covered. Both are
linear, so that a bank is told whole by its present state and its response to one hour of a drive.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from collector.soil.arrays import Array
from collector.soil.heat import Column, cells_m, transition

# Time constants [h], from the top soil to the fortnight of its deeper layers. Common practice, no source.
FILTERS_H = (2.0, 5.0, 12.0, 30.0, 80.0, 250.0)
# Diffusivity of soil [m²/s] from dry to moist (Campbell 1985, computed from its conductivity and the heat
# capacity of de Vries 1963), and surface conductance over soil conductivity [1/m] from a thick mulch to bare soil in wind.
COLUMNS = ((3e-7, 5.0), (3e-7, 50.0), (8e-7, 5.0), (8e-7, 50.0))
COLUMN_M = 2.0
_STEP_S = 300.0
# The state before the first hour is that of a steady drive, the mean of so many first hours.
_WARM_UP_H = 20 * 24


@dataclass(frozen=True, slots=True, eq=False)
class Bank:
    """Features over n hours, p of them, made of m drives.

    `features` (n by p) [units of the drives]; `free` (p by o by h) is how they go on from o origins when every drive
    is zero from there on; `response` (p by m by h) is what one hour of a drive adds.
    """

    features: Array
    free: Array
    response: Array


def filter_bank(drives: Array, origins: Sequence[int], hours: int) -> Bank:
    """Every drive through first-order lags [units of the drives].

    Args:
        drives: hourly, without gaps, n by m [any units].
        origins: rows after which forecasts begin, o of them [index].
        hours: how far they reach [h].

    Raises:
        ValueError: drives with gaps or none at all, or an origin outside them.

    Source: textbook first-order lag, exact for hourly means.
    """
    _check(drives, origins)
    m = drives.shape[1]
    keep = np.exp(-1.0 / np.array(FILTERS_H))
    state = np.repeat(drives[:_WARM_UP_H].mean(axis=0)[None], keep.size, axis=0)
    path = np.empty((drives.shape[0], keep.size, m))
    for hour, drive in enumerate(drives):
        state = keep[:, None] * state + (1.0 - keep)[:, None] * drive
        path[hour] = state
    powers = keep[:, None] ** np.arange(hours + 1)
    free = path[list(origins)].transpose(1, 2, 0)[..., None] * powers[:, None, None, 1:]
    response = np.zeros((keep.size, m, m, hours))
    response[:, range(m), range(m)] = ((1.0 - keep)[:, None] * powers[:, :-1])[:, None]
    return Bank(path.reshape(-1, keep.size * m), free.reshape(-1, len(origins), hours), response.reshape(-1, m, hours))


def heat_bank(drives: Array, origins: Sequence[int], hours: int, depth_m: float) -> Bank:
    """Every drive as the felt temperature over columns of soil, seen at a depth [units of the drives].

    Args:
        drives: hourly, without gaps, n by m [any units].
        origins: rows after which forecasts begin, o of them [index].
        hours: how far they reach [h].
        depth_m: depth below the soil surface, within the column [m].

    Raises:
        ValueError: a depth outside the column, drives with gaps or none at all, or an origin outside them.

    Source: Fourier's law in finite volumes, `collector.soil.heat`.
    """
    _check(drives, origins)
    m = drives.shape[1]
    steps = [_hour_of_column(*pair) for pair in COLUMNS]
    state_step, surface_step = np.array([step[0] for step in steps]), np.array([step[1] for step in steps])
    seen = _seen_at(steps[0][2], depth_m)
    state = np.broadcast_to(drives[:_WARM_UP_H].mean(axis=0), (len(COLUMNS), seen.size, m)).copy()
    path = np.empty((drives.shape[0], len(COLUMNS), m))
    kept = {}
    wanted = set(origins)
    for hour, drive in enumerate(drives):
        state = state_step @ state + surface_step[:, :, None] * drive
        path[hour] = seen @ state
        if hour in wanted:
            kept[hour] = state
    rows = np.empty((len(COLUMNS), hours, seen.size))
    impulse = np.empty((len(COLUMNS), hours))
    ahead = np.broadcast_to(seen, (len(COLUMNS), 1, seen.size))
    for hour in range(hours):
        impulse[:, hour] = (ahead @ surface_step[:, :, None])[:, 0, 0]
        ahead = ahead @ state_step
        rows[:, hour] = ahead[:, 0]
    free = np.stack([rows @ kept[origin] for origin in origins])
    response = np.zeros((len(COLUMNS), m, m, hours))
    response[:, range(m), range(m)] = impulse[:, None]
    return Bank(
        path.reshape(-1, len(COLUMNS) * m),
        free.transpose(1, 3, 0, 2).reshape(-1, len(origins), hours),
        response.reshape(-1, m, hours),
    )


def _check(drives: Array, origins: Sequence[int]) -> None:
    if drives.ndim != 2 or not drives.size or not np.isfinite(drives).all():
        raise ValueError(f"drives have shape {drives.shape}; want hours by drives, one or more of each, none of them NaN")
    if not all(0 <= origin < drives.shape[0] for origin in origins):
        raise ValueError(f"origins {list(origins)} are not all rows of the {drives.shape[0]} hours of drives")


def _hour_of_column(diffusivity_m2_s: float, surface_per_m: float) -> tuple[Array, Array, Array]:
    """One hour of a uniform column as a linear map, n by n for its state and n for the surface, and the depths of its cells."""
    depth_m, thickness_m = cells_m([], COLUMN_M, 0.015, 1.3)
    ones = np.ones(depth_m.size)
    # only the ratios of conductivity, capacity and conductance matter: conductivity counts as 1
    step = transition(
        Column(depth_m, thickness_m, ones, ones / diffusivity_m2_s), surface_per_m, open_below=False, step_s=_STEP_S
    )
    state, surface = np.eye(depth_m.size), np.zeros(depth_m.size)
    for _ in range(round(3600.0 / _STEP_S)):
        surface = step.state @ surface + step.surface
        state = step.state @ state
    return state, surface, depth_m


def _seen_at(cells_depth_m: Array, depth_m: float) -> Array:
    """Shares of the cells in the temperature at a depth."""
    if not 0.0 <= depth_m <= COLUMN_M:
        raise ValueError(f"depth_m is {depth_m}; want 0 to {COLUMN_M}, the depth of the column below the soil surface [m]")
    return np.array([float(np.interp(depth_m, cells_depth_m, unit)) for unit in np.eye(cells_depth_m.size)])


def settled(known: Array) -> Array:
    """How far the last day's drives are known at each hour [ratio], n values from 0 to 1.

    Args:
        known: 1 for an hour whose drives are known, else 0, n values, one or more, none of them NaN [ratio].

    Raises:
        ValueError: no hour, or a value outside 0 to 1.

    Source: mean over the last day; common practice, no source.
    """
    if not known.size or not ((known >= 0.0) & (known <= 1.0)).all():
        raise ValueError(f"known has {known.size} values, {known[:5]} ...; want one or more, each from 0 to 1")
    hours = min(24, known.size)
    share: Array = np.convolve(known, np.ones(hours) / hours)[: known.size]
    share[: hours - 1] = np.cumsum(known[: hours - 1]) / np.arange(1, hours)
    return share
