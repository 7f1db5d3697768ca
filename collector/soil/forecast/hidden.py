"""Temperature at a depth where no thermometer is, from those above and below.

Between two thermometers the soil itself is asked: heat flows through the layer between, with the two
readings as its ends. Below the deepest, the soil goes on without end. Above the shallowest, the wave of
the day is run backward, which makes errors grow: that is worth little beyond ten centimetres or so.
How well the soil conducts is learned from the wave of the day at every thermometer that has another above it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from collector.soil.arrays import Array
from collector.soil.forecast.drives import fill_across_days
from collector.soil.forecast.inputs import DAY_H
from collector.soil.heat import Column, cells_m, transition
from collector.soil.thermal import damping_depth_m

# Diffusivity of soil [m²/s] from dry to wet and stony: Campbell 1985 with the heat capacity of de Vries 1963, computed.
CANDIDATES_M2_S = (2.5e-7, 3.5e-7, 5e-7, 7e-7, 1e-6)
_LAYER_CELLS = 12
_BELOW_M = 1.5
_STEP_S = 300.0
# The first day is still that of the state it was begun with.
_SETTLED_H = DAY_H
# A perfect contact [W m⁻² K⁻¹ per W m⁻¹ K⁻¹]: the end of the layer is as warm as its thermometer.
_CONTACT_PER_M = 1e6


@dataclass(frozen=True, slots=True, eq=False)
class Estimate:
    """Temperature at a depth [°C], n hourly values, NaN where no thermometer spoke, and its standard error [K]."""

    temperature_c: Array
    error_k: float


def estimate_at(depths_m: Sequence[float], readings_c: Array, depth_m: float) -> Estimate:
    """Temperature at a depth [°C, and its error in K] from thermometers at other depths.

    Args:
        depths_m: depths of the thermometers, ascending, d of them, one or more [m].
        readings_c: what they said, hourly, n by d, NaN is missing; every thermometer has said something [°C].
        depth_m: the depth asked for, at which there is none of them [m].

    Source: heat conduction between known ends; the daily wave above them, Carslaw & Jaeger 1959 (from memory).
    """
    filled_c = np.column_stack([fill_across_days(column) for column in readings_c.T])
    depths = np.asarray(depths_m, dtype=np.float64)
    misfit_k2 = np.array([_misfit_k2(depths, filled_c, diffusivity) for diffusivity in CANDIDATES_M2_S])
    # the likelier ones count; with a thermometer alone all are alike
    likely = np.exp(-2.0 * (misfit_k2 - misfit_k2.min()) / max(float(misfit_k2.min()), 0.05**2))
    likely /= likely.sum()
    guesses_c = np.stack([_conducted(depths, filled_c, depth_m, diffusivity) for diffusivity in CANDIDATES_M2_S])
    mean_c = likely @ guesses_c
    spread_k = np.sqrt(likely @ (guesses_c - mean_c) ** 2)
    spoke = np.isfinite(readings_c[:, _neighbours(depths, depth_m)]).all(axis=1)
    error_k = np.hypot(float(np.nanmean(np.where(spoke, spread_k, np.nan))) if spoke.any() else 0.0, _at_least_k(depths, depth_m))
    return Estimate(np.where(spoke, mean_c, np.nan), float(error_k))


def _misfit_k2(depths: Array, filled_c: Array, diffusivity_m2_s: float) -> float:
    """How far the daily waves below the first thermometer are from what the others make of them, mean square [K²]."""
    total_k2 = 0.0
    for one in range(1, depths.size):
        others_c = np.delete(filled_c, one, axis=1)
        off_k = _conducted(np.delete(depths, one), others_c, float(depths[one]), diffusivity_m2_s) - filled_c[:, one]
        total_k2 += float(np.var((off_k - _daily_mean(off_k))[_SETTLED_H:])) if off_k.size > 2 * _SETTLED_H else 0.0
    return total_k2


def _at_least_k(depths: Array, depth_m: float) -> float:
    """Soil is no uniform column: 1 K for each 20 cm to the nearest thermometer, common practice, no source."""
    return float(np.abs(depths - depth_m).min()) / 0.20


def _neighbours(depths: Array, depth_m: float) -> list[int]:
    below = int(np.searchsorted(depths, depth_m))
    return [place for place in (below - 1, below) if 0 <= place < depths.size]


def _conducted(depths: Array, filled_c: Array, depth_m: float, diffusivity_m2_s: float) -> Array:
    near = _neighbours(depths, depth_m)
    if len(near) == 2:
        upper, lower = near
        span_m = float(depths[lower] - depths[upper])
        cells = np.full(_LAYER_CELLS, span_m / _LAYER_CELLS)
        return _through(cells, filled_c[:, upper], filled_c[:, lower], depth_m - float(depths[upper]), diffusivity_m2_s)
    if depths[near[0]] < depth_m:
        away_m = depth_m - float(depths[near[0]])
        _, cells = cells_m([], away_m + _BELOW_M, 0.01, 1.2)
        return _through(cells, filled_c[:, near[0]], None, away_m, diffusivity_m2_s)
    return _wave_above(filled_c[:, near[0]], float(depths[near[0]]) - depth_m, diffusivity_m2_s)


def _through(cells: Array, upper_c: Array, lower_c: Array | None, away_m: float, diffusivity_m2_s: float) -> Array:
    """Temperature `away_m` below the upper end of a layer whose ends are known, or whose lower end is far away."""
    ones = np.ones(cells.size)
    middles_m = np.cumsum(cells) - cells / 2.0
    column = Column(middles_m, cells, ones, ones / diffusivity_m2_s)
    step = transition(column, _CONTACT_PER_M, open_below=lower_c is not None, step_s=_STEP_S)
    state, surface, bottom = np.eye(cells.size), np.zeros(cells.size), np.zeros(cells.size)
    for _ in range(round(3600.0 / _STEP_S)):
        surface, bottom = step.state @ surface + step.surface, step.state @ bottom + step.bottom
        state = step.state @ state
    # an end is taken as the mean of the hour's two ends
    mean_upper_c = (upper_c + np.concatenate([upper_c[:1], upper_c[:-1]])) / 2.0
    low_c = mean_upper_c if lower_c is None else (lower_c + np.concatenate([lower_c[:1], lower_c[:-1]])) / 2.0
    share = middles_m / float(cells.sum())
    first_upper, first_lower = float(upper_c[: 2 * DAY_H].mean()), float(low_c[: 2 * DAY_H].mean())
    cells_c = first_upper + share * (first_lower - first_upper)
    seen = np.array([float(np.interp(away_m, middles_m, unit)) for unit in np.eye(cells.size)])
    path_c = np.empty(upper_c.size)
    for hour in range(upper_c.size):
        cells_c = state @ cells_c + surface * mean_upper_c[hour] + bottom * low_c[hour]
        path_c[hour] = seen @ cells_c
    return path_c


def _wave_above(lower_c: Array, away_m: float, diffusivity_m2_s: float) -> Array:
    """The wave of the day, taller and earlier the higher up; its mean over a day stays. The last hours cannot be known."""
    steps = away_m / float(damping_depth_m(diffusivity_m2_s, 3600.0 * DAY_H))
    mean_c = _daily_mean(lower_c)
    hours = np.arange(lower_c.size) + steps * DAY_H / (2.0 * np.pi)
    wave_c = np.interp(hours, np.arange(lower_c.size), lower_c - mean_c, right=np.nan)
    above_c: Array = mean_c + np.exp(steps) * wave_c
    return above_c


def _daily_mean(values: Array) -> Array:
    """Mean over the day around each hour."""
    half = DAY_H // 2
    padded = np.pad(values, (half, half), mode="edge")
    mean: Array = np.convolve(padded, np.concatenate([[0.5], np.ones(DAY_H - 1), [0.5]]) / DAY_H, mode="valid")
    return mean
