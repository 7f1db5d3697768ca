"""The ground as a linear model that a Kalman filter can correct, once for each diffusivity it may have.

Heat flows between cells below a soil surface whose temperature nobody measures: it is a wandering
level, a quick part that clouds make, a wave of the day and one of half a day, each of slowly
changing height. The soil also takes and gives heat in ways that one diffusivity does not tell
(layers, water on its way, frost): slow sources along the depth and a little noise. What a probe
says is the soil at its depth, an offset that stays for weeks, and a misfit that stays for a day:
near the surface no probe sits just where it is said to, and the soil there is least like the rest.
How large the misfits are is told by the waves (waves.py), so the model leaves that open.

All noises stand in proportion to each other; how large they all are is learned (filter.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from collector.soil.arrays import Array
from collector.soil.heat import cells_m

TICK_MS = 600_000
SECONDS_PER_DAY = 86_400.0
COLUMN_M = 1.5

# What a bed's soil may be like, dry to wet and stony [m²/s]; Campbell 1985 gives 0.2 to 0.5e-6 for a loam, and
# stones, sand and vapour more.
DIFFUSIVITIES_M2_S = (0.25e-6, 0.4e-6, 0.6e-6, 0.9e-6, 1.3e-6)

# The noises below are no physics: chosen on the measured soils of Bondville and Twitchell (see the tests) so that a
# probe left out is told best. Stationary standard deviations [K] and how long each lasts.
_LEVEL_K2_PER_DAY = 4.0
_QUICK_K, _QUICK_S = 2.5, 2 * 3600.0
_DAY_WAVE_K, _HALF_DAY_WAVE_K, _WAVES_S = 15.0, 5.0, 5 * SECONDS_PER_DAY
_SOIL_K2_PER_S, _SOIL_REACH_M = 0.1**2 / 3600.0, 0.2
_SOURCE_K_PER_DAY, _SOURCE_S = 0.5, 10 * SECONDS_PER_DAY
_SOURCES_AT_M = (0.0, 0.1, 0.25, 0.5, 1.0)
_OFFSET_K, _OFFSET_S = 1.0, 20 * SECONDS_PER_DAY
_MISFIT_K, _MISFIT_REACH_M = 12.0, 0.033
MISFIT_S = 20 * 3600.0
_START_K, _START_REACH_M = 4.0, 0.5

_SURFACE_PARTS = 6  # level, quick, and two for each wave
# Halvings of a tick until a step is short beside the quickest cell.
_HALVINGS = 8


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """The model of one set of probe depths: m probes, n states, b diffusivities.

    `step` (b, n, n) carries a state over one tick and `noise` (b, n, n) is what that adds to its covariance, which is
    `start` (n, n) before any reading. `hears` (m, n) is what each probe says of a state, and `misfit_k` (m) how far its
    misfit goes. The first `cells` states are the cells of the soil, from the top down, with their middles at `middles_m`.
    """

    depths_m: Array
    diffusivities_m2_s: Array
    middles_m: Array
    step: Array
    noise: Array
    start: Array
    hears: Array
    misfit_k: Array

    @property
    def cells(self) -> int:
        """How many states are cells of the soil."""
        return int(self.middles_m.size)

    def rows(self, depths_m: Array) -> Array:
        """What the temperature at depths is made of [share of each state], d by n, linear between the cells.

        Args:
            depths_m: depths below the soil surface, 0 to `COLUMN_M`, d of them [m].

        Raises:
            ValueError: a depth outside the column, or NaN.

        Source: linear interpolation; common practice, no source.
        """
        if not ((depths_m >= 0.0) & (depths_m <= COLUMN_M)).all():
            raise ValueError(f"depths_m is {depths_m.tolist()}; want depths from 0 to {COLUMN_M} m")
        return _rows(self.middles_m, self.start.shape[0], depths_m)


@lru_cache(maxsize=32)
def ground_of(depths_m: tuple[float, ...], diffusivities_m2_s: tuple[float, ...] = DIFFUSIVITIES_M2_S) -> Ground:
    """The model for probes at these depths [a Ground].

    Args:
        depths_m: one or more, in any order; two probes may share a depth [m].
        diffusivities_m2_s: what the soil may be like, one or more, above 0 [m²/s].

    Raises:
        ValueError: no probe, or a depth that is not within the column.

    Source: Fourier's law in finite volumes; random processes of textbooks (from memory); noises chosen on measured soils.
    """
    wrong = [depth_m for depth_m in depths_m if not 0 <= depth_m <= COLUMN_M]
    if not depths_m or wrong:
        raise ValueError(f"depths_m is {list(depths_m)}; want one or more depths from 0 to {COLUMN_M} m; leave out {wrong}")
    middles_m, thickness_m = cells_m((), COLUMN_M, finest_m=0.012, growth=1.25)
    cells, probes, depths = middles_m.size, len(depths_m), np.array(depths_m)
    sources = cells + _SURFACE_PARTS
    offsets = sources + len(_SOURCES_AT_M)
    misfits = offsets + probes
    states = misfits + probes
    misfit_k = _MISFIT_K * np.exp(-depths / _MISFIT_REACH_M)

    rates, drift, start = np.zeros((states, states)), np.zeros((states, states)), np.zeros((states, states))
    apart_m = np.abs(middles_m[:, None] - middles_m)
    start[:cells, :cells] = _START_K**2 * np.exp(-apart_m / _START_REACH_M)
    drift[:cells, :cells] = _SOIL_K2_PER_S * np.exp(-apart_m / _SOIL_REACH_M)
    start[cells, cells], drift[cells, cells] = 25.0, _LEVEL_K2_PER_DAY / SECONDS_PER_DAY
    fading = [(cells + 1, _QUICK_K, _QUICK_S)]
    for first, height_k, per_day in ((cells + 2, _DAY_WAVE_K, 1), (cells + 4, _HALF_DAY_WAVE_K, 2)):
        turn_per_s = 2.0 * np.pi * per_day / SECONDS_PER_DAY
        rates[first, first + 1], rates[first + 1, first] = turn_per_s, -turn_per_s
        fading += [(first, height_k, _WAVES_S), (first + 1, height_k, _WAVES_S)]
    fading += [(sources + i, _SOURCE_K_PER_DAY, _SOURCE_S) for i in range(len(_SOURCES_AT_M))]
    fading += [(offsets + i, _OFFSET_K, _OFFSET_S) for i in range(probes)]
    for state, deviation, lasts_s in fading:
        rates[state, state] = -1.0 / lasts_s
        drift[state, state] = 2.0 * deviation**2 / lasts_s
        start[state, state] = deviation**2
    rates[range(misfits, states), range(misfits, states)] = -1.0 / MISFIT_S
    for i, unit in enumerate(np.eye(len(_SOURCES_AT_M))):
        rates[:cells, sources + i] = np.interp(middles_m, _SOURCES_AT_M, unit) / SECONDS_PER_DAY

    pairs = [_over_a_tick(rates + kappa * _flow_per_m2(middles_m, thickness_m, states), drift) for kappa in diffusivities_m2_s]
    hears = _rows(middles_m, states, depths)
    hears[np.arange(probes), offsets + np.arange(probes)] = 1.0
    hears[np.arange(probes), misfits + np.arange(probes)] = 1.0
    step, noise = (np.array(matrices) for matrices in zip(*pairs, strict=True))
    return Ground(depths, np.array(diffusivities_m2_s), middles_m, step, noise, start, hears, misfit_k)


def _surface_row(cells: int, states: int) -> Array:
    """The surface is the sum of its level, its quick part and its two waves."""
    row = np.zeros(states)
    row[[cells, cells + 1, cells + 2, cells + 4]] = 1.0
    return row


def _rows(middles_m: Array, states: int, depths_m: Array) -> Array:
    cells = middles_m.size
    nodes_m = np.concatenate([[0.0], middles_m])
    below = np.clip(np.searchsorted(nodes_m, depths_m, side="right"), 1, cells)
    share = np.minimum((depths_m - nodes_m[below - 1]) / (nodes_m[below] - nodes_m[below - 1]), 1.0)
    shares, each = np.zeros((len(depths_m), cells + 1)), np.arange(len(depths_m))
    shares[each, below - 1], shares[each, below] = 1.0 - share, share
    rows = np.zeros((len(depths_m), states))
    rows[:, :cells] = shares[:, 1:]
    return rows + shares[:, :1] * _surface_row(cells, states)


def _flow_per_m2(middles_m: Array, thickness_m: Array, states: int) -> Array:
    """Rate of change of the cells for a diffusivity of 1 m²/s [1/m²]; no heat goes through the lower end."""
    cells = middles_m.size
    flow = np.zeros((states, states))
    for upper, gap_m in enumerate(np.diff(middles_m)):
        for one, other in ((upper, upper + 1), (upper + 1, upper)):
            flow[one, other] += 1.0 / (gap_m * thickness_m[one])
            flow[one, one] -= 1.0 / (gap_m * thickness_m[one])
    top = 1.0 / (middles_m[0] * thickness_m[0])
    flow[0] += top * _surface_row(cells, states)
    flow[0, 0] -= top
    return flow


def _over_a_tick(rates_per_s: Array, drift_k2_s: Array) -> tuple[Array, Array]:
    """What a tick does to a state and to its covariance, by doubling a very short step."""
    short_s = TICK_MS / 1000.0 / 2**_HALVINGS
    by_s = rates_per_s * short_s
    step = np.linalg.inv(np.eye(len(rates_per_s)) - by_s + by_s @ by_s / 2.0).astype(np.float64)
    noise = step @ (drift_k2_s * short_s) @ step.T
    for _ in range(_HALVINGS):
        step, noise = doubled(step, noise)
    return step, noise


def doubled(step: Array, noise: Array) -> tuple[Array, Array]:
    """What a step and then the same again do to a state [share] and to its covariance [K²]; shapes as given.

    Args:
        step: (..., n, n) [share].
        noise: (..., n, n) [K²].

    Source: composition of linear maps.
    """
    return step @ step, step @ noise @ np.swapaxes(step, -1, -2) + noise
