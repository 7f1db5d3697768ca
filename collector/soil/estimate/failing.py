"""Whether a probe can be believed, by what the others of its stake make of its depth.

A failing one departs from them in a way that it did not before, and none of the others does so as
much: it drifts, it scatters, or it is stuck. That needs a week's past to compare with. Two probes
that disagree do not tell which is wrong, so a failing one is looked for among three or more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from collector.soil.arrays import Array
from collector.soil.estimate.filter import Estimator
from collector.soil.estimate.season import Thermometer, moments_of

_HOUR_MS, _DAY_MS = 3_600_000, 86_400_000
# One usual soil is enough to tell a fault [m²/s].
_SOIL_M2_S = (0.8e-6,)

# Failing: compared with the median of these days before; in units of their usual spread, and at least so many kelvin.
_REFERENCE_DAYS, _LEAST_DAYS, _SKIPPED_DAYS = 21, 6, 2
_DRIFT_SPREADS, _DRIFT_K, _LONE = 5.0, 1.0, 1.25
_SCATTER_TIMES, _SCATTER_K = 4.0, 0.4
_STUCK_HOURS, _STUCK_K = 20, 0.6
# A day counts with readings in so many of its hours; and not when the soil near its surface came this near to freezing:
# ice that forms and melts holds a probe where the model does not.
_DAY_HOURS = 12
_NEAR_SURFACE_M, _FROST_C = 0.15, 1.0


class Failing(Enum):
    """How a probe fails."""

    DRIFTS = "drifts away from what the other depths tell"
    SCATTERS = "jumps about"
    STUCK = "says the same whatever the soil does"


@dataclass(frozen=True, slots=True)
class FailingProbe:
    """The place of the probe among those given, how it fails, and the first and last day of it [ms since 1970-01-01 UTC]."""

    probe: int
    how: Failing
    first_ms: int
    last_ms: int


def failing_probes(stake: Sequence[Thermometer]) -> list[FailingProbe]:
    """Probes that fail, each with its span of days [ms], oldest first; a probe that fails twice is told twice.

    Args:
        stake: three thermometers or more that stand in one bed; with fewer, none is called failing [Thermometer].

    Raises:
        ValueError: a depth outside 0 to 1.5 m.

    Source: the departure of each probe from an estimate by the others; thresholds chosen on measured soils, no source.
    """
    if len(stake) < 3:
        return []
    moments = moments_of(stake, _HOUR_MS)
    if moments.time_ms.size == 0:
        return []
    off_k = np.column_stack([_off_the_others_k(stake, moments.time_ms, moments.values_c, probe) for probe in range(len(stake))])
    days = (moments.time_ms - int(moments.time_ms[0])) // _DAY_MS
    count = int(days[-1]) + 1
    daily_k, jumps_k = (np.full((count, len(stake)), np.nan) for _ in range(2))
    stuck = np.zeros((count, len(stake)), dtype=bool)
    frozen = _frost(stake, moments.values_c, days, count)
    for day in range(count):
        today = days == day
        for probe in () if frozen[day] else range(len(stake)):
            values_c, away_k = moments.values_c[today, probe], off_k[today, probe]
            there = np.isfinite(away_k)
            if there.sum() < _DAY_HOURS:
                continue
            daily_k[day, probe] = np.median(away_k[there])
            # it must jump itself: beside one that does, what the others make of its depth jumps too
            own_k, away_jumps_k = (np.median(np.abs(np.diff(one[there], n=2))) for one in (values_c, away_k))
            jumps_k[day, probe] = min(own_k, away_jumps_k)
            expected_c = values_c[there] - away_k[there]
            stuck[day, probe] = there.sum() >= _STUCK_HOURS and np.ptp(values_c[there]) == 0 and np.ptp(expected_c) > _STUCK_K
    scatters = _scattering(jumps_k)
    first_ms = int(moments.time_ms[0])
    found = [
        FailingProbe(probe, how, first_ms + first * _DAY_MS, first_ms + (last + 1) * _DAY_MS)
        for how, table in (
            (Failing.DRIFTS, _drifting(_without_those_beside(daily_k, stuck | scatters))),
            (Failing.SCATTERS, scatters),
            (Failing.STUCK, stuck),
        )
        for probe in range(len(stake))
        for first, last in _runs(table[:, probe])
    ]
    return sorted(found, key=lambda one: (one.first_ms, one.probe))


def _frost(stake: Sequence[Thermometer], values_c: Array, days: NDArray[np.int64], count: int) -> NDArray[np.bool_]:
    """Days on which the soil near the surface was near freezing or below, by most of the probes there."""
    near = [place for place, one in enumerate(stake) if one.depth_m <= _NEAR_SURFACE_M]
    frozen = np.zeros(count, dtype=bool)
    for day in range(count):
        said_c = values_c[days == day][:, near]
        coldest_c = [np.nanmin(column) for column in said_c.T if np.isfinite(column).any()]
        # the median, so that a probe that fails towards the cold does not excuse itself
        frozen[day] = bool(coldest_c) and float(np.median(coldest_c)) <= _FROST_C
    return frozen


def _off_the_others_k(stake: Sequence[Thermometer], time_ms: NDArray[np.int64], values_c: Array, probe: int) -> Array:
    """How far a probe is from what all others tell of its depth; NaN where it is silent."""
    others = [place for place in range(len(stake)) if place != probe]
    estimator = Estimator([stake[place].depth_m for place in others], _SOIL_M2_S)
    depth_m = np.array([stake[probe].depth_m])
    off_k = np.full(time_ms.size, np.nan)
    for place, at_ms in enumerate(time_ms.tolist()):
        estimator.hear(at_ms, values_c[place, others])
        known = estimator.estimate(at_ms)
        if known is not None:
            off_k[place] = values_c[place, probe] - known.over(depth_m)[0][0]
    return off_k


def _reference(table: Array, day: int) -> tuple[Array, Array]:
    """Median of each column over the days of reference, and its usual spread; NaN where too few of them are known."""
    before = table[max(day - _REFERENCE_DAYS, 0) : max(day - _SKIPPED_DAYS, 0)]
    median, spread = np.full(table.shape[1], np.nan), np.full(table.shape[1], np.nan)
    enough = np.isfinite(before).sum(axis=0) >= _LEAST_DAYS
    if enough.any():
        median[enough] = np.nanmedian(before[:, enough], axis=0)
        spread[enough] = 1.4826 * np.nanmedian(np.abs(before[:, enough] - median[enough]), axis=0)
    return median, spread


def _without_those_beside(daily_k: Array, fails: NDArray[np.bool_]) -> Array:
    """The departures without those of probes beside one that stands still or scatters: what others tell of them is not to be
    trusted on such a day."""
    beside = np.any(fails, axis=1, keepdims=True) & ~fails
    return np.where(beside, np.nan, daily_k)


def _drifting(daily_k: Array) -> NDArray[np.bool_]:
    """Days by probes on which a probe, and it alone, is far from where it used to be among the others."""
    found = np.zeros(daily_k.shape, dtype=bool)
    kept = daily_k.copy()  # a day that is called failing is no reference for later ones
    for day in range(daily_k.shape[0]):
        median, spread = _reference(kept, day)
        score = np.abs(daily_k[day] - median) / np.maximum(_DRIFT_SPREADS * spread, _DRIFT_K)
        if not np.isfinite(score).any():
            continue
        worst = int(np.nanargmax(score))
        others = np.delete(score, worst)
        next_worst = float(np.nanmax(others)) if np.isfinite(others).any() else 0.0
        if score[worst] > 1 and score[worst] > _LONE * next_worst:
            found[day, worst] = True
            kept[day] = np.nan
    return _twice(found)


def _scattering(jumps_k: Array) -> NDArray[np.bool_]:
    """Days by probes on which a probe, and it alone, jumps about more than it used to."""
    found = np.zeros(jumps_k.shape, dtype=bool)
    kept = jumps_k.copy()
    for day in range(jumps_k.shape[0]):
        median, _ = _reference(kept, day)
        score = jumps_k[day] / np.maximum(_SCATTER_TIMES * median, _SCATTER_K)
        for probe in np.flatnonzero(score > 1):
            others = np.delete(score, probe)
            if not (others > score[probe] / _LONE).any():
                found[day, probe] = True
                kept[day, probe] = np.nan
    return _twice(found)


def _twice(found: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Only days that have another such day beside them: one odd day is weather."""
    padded = np.pad(found, ((1, 1), (0, 0)))
    beside: NDArray[np.bool_] = found & (padded[:-2] | padded[2:])
    return beside


def _runs(days: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last day of each run, runs less than three days apart being one."""
    runs: list[tuple[int, int]] = []
    for day in np.flatnonzero(days).tolist():
        if runs and day - runs[-1][1] <= 3:
            runs[-1] = (runs[-1][0], day)
        else:
            runs.append((day, day))
    return runs
