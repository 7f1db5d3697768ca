"""A season of heat flow, exact, beside SciPy's stiff solvers at the accuracy wanted: 0.01 K in every cell at every moment."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from statistics import median

import numpy as np
from scipy.integrate import odeint, solve_ivp
from scipy.sparse import diags

from collector.soil import heat
from collector.soil.arrays import Array
from collector.soil.modes import between, follow_c, held, modes_of

STEP_S, NODES = 600.0, 40
SEASON_D = 220
# SciPy follows so many days, and its time is scaled to the season: what it does for a day does not depend on the day before.
STRETCH_D = 20
CONDUCTANCE_W_M2_K, BELOW_C = 18.0, 16.0
WANTED_K = 0.01
# Each way is timed so often, ours in turn with it, so that what else the machine does falls on both; ours is so short
# that one turn takes the mean of several.
TURNS, OURS_IN_A_TURN = 5, 5
# No relative tolerance to speak of: temperatures in °C have no natural zero.
RELATIVE = 1e-10
# From coarse to fine, until the accuracy is reached, or a stretch takes longer than this: then it has lost.
TOLERANCES_K = (3e-2, 1e-2, 3e-3, 1e-3, 5e-4, 2e-4, 1e-4)
PATIENCE_S = 3.0

# Tolerance [K] to temperatures at the ends of the steps of the stretch.
Solve = Callable[[float], Array]


@dataclass(frozen=True)
class Found:
    """A way of solving: its seconds for a season, those over ours, its largest error [K], and the tolerance it needed [K]."""

    name: str
    seconds: float
    times_ours: float
    error_k: float
    tolerance_k: float | None = None


def column() -> heat.Column:
    """Eight centimetres of straw over two metres of soil, 40 cells."""
    depth_m, thickness_m = heat.cells_m([0.08], 2.0, 0.01, 1.0835)
    assert depth_m.size == NODES
    return heat.Column(depth_m, thickness_m, np.where(depth_m < 0, 0.1, 1.0), np.where(depth_m < 0, 0.15e6, 2.0e6))


def felt_c() -> Array:
    """What the top feels at each moment of the season: the year, the day, clouds before the sun."""
    chance, hours = np.random.default_rng(11), np.arange(SEASON_D * 144 + 1) / 6.0
    sun = np.maximum(0.0, np.sin((hours - 6.0) / 24.0 * 2.0 * np.pi))
    clouds = np.convolve(chance.normal(size=hours.size + 12), np.ones(13) / 13.0, mode="valid")
    seasons = 6.0 * np.sin(hours / 24.0 / 365.0 * 2.0 * np.pi)
    felt: Array = 14.0 + seasons + 5.0 * np.sin((hours - 9.0) / 24.0 * 2.0 * np.pi) + 14.0 * sun * (1.0 + clouds)
    return felt


class Equations:
    """The column as SciPy wants it, with a right side that costs as little as Python lets it."""

    def __init__(self, bed: heat.Column, surface_c: Array) -> None:
        links = heat.links_of(bed, CONDUCTANCE_W_M2_K, True)
        stored = bed.capacity_j_m3_k * bed.thickness_m
        main, upper, lower = -links.diagonal() / stored, links.beside / stored[:-1], links.beside / stored[1:]
        self.matrix = np.diag(main) + np.diag(upper, 1) + np.diag(lower, -1)
        self.sparse = diags([lower, main, upper], [-1, 0, 1]).tocsc()
        self.banded = np.vstack([np.append(0.0, upper), main, np.append(lower, 0.0)])
        self.moments_s = STEP_S * np.arange(surface_c.size)
        self._top, self._bottom = links.top / stored[0], links.bottom / stored[-1] * BELOW_C
        self._course, self._last = surface_c.tolist(), surface_c.size - 2

    def slope(self, at_s: float, now_c: Array) -> Array:
        """Warming of the cells [K/s]."""
        step = min(int(at_s / STEP_S), self._last)
        share = at_s / STEP_S - step
        change: Array = self.matrix @ now_c  # for 40 cells the quickest product there is
        change[0] += self._top * (self._course[step] + share * (self._course[step + 1] - self._course[step]))
        change[-1] += self._bottom
        return change

    def ways(self, start_c: Array) -> dict[str, Solve]:
        """SciPy's stiff solvers, each with what helps it."""

        def ivp(method: str, **help_: object) -> Solve:
            def solve(tolerance_k: float) -> Array:
                span = (0.0, float(self.moments_s[-1]))
                found = solve_ivp(
                    self.slope, span, start_c, method, self.moments_s, rtol=RELATIVE, atol=tolerance_k, **help_
                )  # fmt: skip
                return found.y.T[1:]

            return solve

        return {
            "solve_ivp LSODA, banded": ivp("LSODA", lband=1, uband=1),
            "solve_ivp LSODA, banded Jacobian": ivp("LSODA", lband=1, uband=1, jac=lambda _at_s, _now_c: self.banded),
            "solve_ivp BDF, Jacobian": ivp("BDF", jac=self.matrix),
            "solve_ivp Radau, sparse Jacobian": ivp("Radau", jac=self.sparse),
            "odeint (LSODA in Fortran), banded": lambda tolerance_k: self.by_odeint(start_c, tolerance_k),
        }

    def by_odeint(self, start_c: Array, tolerance_k: float, longest_s: float = 0.0) -> Array:
        """By the older door to LSODA, which hardly comes back to Python between steps."""
        ends_c: Array = odeint(
            self.slope, start_c, self.moments_s, ml=1, mu=1, rtol=RELATIVE, atol=tolerance_k, tfirst=True, mxstep=100_000,
            hmax=longest_s,
        )[1:]  # fmt: skip
        return ends_c


def ours(bed: heat.Column, surface_c: Array, start_c: Array) -> Array:
    """All cells at the ends of all steps, the shapes of the column worked out anew."""
    below_c = held(np.full(surface_c.size - 1, BELOW_C))
    return follow_c(modes_of(bed, CONDUCTANCE_W_M2_K, True), start_c, between(surface_c), below_c, STEP_S)


def seconds_of(solve: Callable[[], Array]) -> tuple[float, Array]:
    """Seconds of this process for one call, and its answer: what other processes take does not count."""
    began = time.process_time()
    answer = solve()
    return time.process_time() - began, answer


def error_k(answer_c: Array, truth_c: Array) -> float:
    """Largest error in any cell at any moment [K]; infinite where the solver gave up."""
    return float(np.abs(answer_c - truth_c).max()) if answer_c.shape == truth_c.shape else np.inf


def coarse_enough_k(solve: Solve, truth_c: Array) -> tuple[float | None, float]:
    """The coarsest tolerance that reaches the accuracy wanted, and its error [K]; None where patience ended before."""
    off_k = np.inf
    for tolerance_k in TOLERANCES_K:
        seconds, answer_c = seconds_of(partial(solve, tolerance_k))
        off_k = error_k(answer_c, truth_c)
        if off_k <= WANTED_K:
            return tolerance_k, off_k
        if seconds > PATIENCE_S:
            break
    return None, off_k


def compared() -> list[Found]:
    """Ours, and SciPy's ways from the quickest to the slowest."""
    bed, surface_c, start_c = column(), felt_c(), np.full(NODES, BELOW_C)
    equations = Equations(bed, surface_c[: STRETCH_D * 144 + 1])
    # a much tighter solution than any that is compared, and not by ours
    truth_c = equations.by_odeint(start_c, 1e-9, longest_s=60.0)
    season = partial(ours, bed, surface_c, start_c)
    found, all_ours = [], []
    for name, solve in equations.ways(start_c).items():
        tolerance_k, off_k = coarse_enough_k(solve, truth_c)
        if tolerance_k is None:
            found.append(Found(name, np.inf, np.inf, off_k))
            continue
        turns = []
        for _ in range(TURNS):
            all_ours.append(sum(seconds_of(season)[0] for _ in range(OURS_IN_A_TURN)) / OURS_IN_A_TURN)
            seconds = seconds_of(partial(solve, tolerance_k))[0] * SEASON_D / STRETCH_D
            turns.append((seconds, seconds / all_ours[-1]))
        found.append(Found(name, *(median(column) for column in zip(*turns, strict=True)), off_k, tolerance_k))
    mine = Found("exact, by modes (ours)", median(all_ours), 1.0, error_k(season()[: len(truth_c)], truth_c))
    return [mine, *sorted(found, key=lambda one: one.seconds)]
