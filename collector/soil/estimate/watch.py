"""Whether the thermometers can be believed: a stake that was dug up, and a probe that fails.

Dug up: within an hour, most depths of one stake leave what the soil could do, and go where the air
is. Failing: a probe departs from what the others of its stake make of its depth, in a way that it
did not before, and none of the others does so as much: it drifts, it scatters, or it is stuck.

Both need a past to compare with: a day for the first, a week for the second. Two probes that
disagree do not tell which is wrong, so a failing one is looked for among three or more.
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

# Dug up: farther off than so many deviations and so many kelvin, compared with what was known an hour before; chosen on
# measured soils and the simulated garden. The torn-out ones all lie in the same air, within this much [K].
_TORN_DEVIATIONS, _TORN_K, _SAME_AIR_K = 5.0, 1.5, 2.5
_BEFORE_MS = _HOUR_MS
_KNOWN_MS = _DAY_MS
# Air may pass through the soil's temperature: the stake is back once all say so for this long.
_BACK_MS = 3 * _HOUR_MS
# After so long in the air, what the soil does is no longer known: the readings count as soil again.
_LONGEST_OUT_MS = 2 * _DAY_MS

# Failing: compared with the median of these days before; in units of their usual spread, and at least so many kelvin.
_REFERENCE_DAYS, _LEAST_DAYS, _SKIPPED_DAYS = 21, 6, 2
_DRIFT_SPREADS, _DRIFT_K, _LONE = 5.0, 1.0, 1.25
_SCATTER_TIMES, _SCATTER_K = 4.0, 0.4
_STUCK_HOURS, _STUCK_K = 20, 0.6
# A day counts with readings in so many of its hours.
_DAY_HOURS = 12


@dataclass(frozen=True, slots=True)
class DugUp:
    """A stake in the air, from its first reading there to its first back in the soil [ms since 1970-01-01 UTC].

    `end_ms` is None until it has been back for three hours.
    """

    first_ms: int
    end_ms: int | None


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


def dug_up(stake: Sequence[Thermometer], air: Thermometer | None = None) -> list[DugUp]:
    """When the probes of one stake lay in the air [spans in ms], oldest first.

    A stake with one probe is never called dug up, nor one in its first day.

    Args:
        stake: the thermometers of one stake and their readings [Thermometer].
        air: the air temperature near it, where it is known; its depth does not count [Thermometer].

    Raises:
        ValueError: a depth outside 0 to 1.5 m.

    Source: heat flow, which moves no depth by kelvins within the hour; thresholds chosen on measured soils, no source.
    """
    if len(stake) < 2:
        return []
    moments = moments_of(stake)
    known = Estimator([one.depth_m for one in stake], _SOIL_M2_S)
    waiting: list[tuple[int, Array]] = []
    found: list[DugUp] = []
    out_ms: int | None = None  # since when the stake is out, and
    quiet_ms: int | None = None  # since when it says again what the soil may say
    for time_ms, values_c in zip(moments.time_ms.tolist(), moments.values_c, strict=True):
        while waiting and out_ms is None and time_ms - waiting[0][0] >= _BEFORE_MS:
            known.hear(*waiting.pop(0))
        torn = _torn(known, time_ms, values_c)
        if out_ms is None:
            if time_ms - int(moments.time_ms[0]) >= _KNOWN_MS and _in_the_air(known, time_ms, values_c, torn, air):
                out_ms, quiet_ms = time_ms, None
                waiting.clear()  # the hour before is doubtful
        elif torn.any() and time_ms - out_ms < _LONGEST_OUT_MS:
            quiet_ms = None
            waiting.clear()
        else:
            quiet_ms = time_ms if quiet_ms is None else quiet_ms
            if time_ms - quiet_ms >= _BACK_MS:
                found.append(DugUp(out_ms, quiet_ms))
                out_ms = None
        if out_ms is None or quiet_ms is not None:
            waiting.append((time_ms, values_c))
    return found + ([DugUp(out_ms, None)] if out_ms is not None else [])


def _torn(known: Estimator, time_ms: int, values_c: Array) -> NDArray[np.bool_]:
    """Which probes say what the soil at their depth cannot, after what was known of it."""
    departure = known.compare(time_ms, values_c)
    if departure is None:
        return np.zeros(values_c.shape, dtype=bool)
    far: NDArray[np.bool_] = np.abs(departure.off_k) > np.maximum(_TORN_DEVIATIONS * departure.expected_k, _TORN_K)
    return far


def _in_the_air(known: Estimator, time_ms: int, values_c: Array, torn: NDArray[np.bool_], air: Thermometer | None) -> bool:
    """Whether most probes are torn out, and have gone where the air is."""
    if torn.sum() < 2 or 2 * torn.sum() <= np.isfinite(values_c).sum():
        return False
    there_c, air_c = values_c[torn], _air_at_c(air, time_ms)
    if air_c is None:
        return bool(np.ptp(there_c) <= _SAME_AIR_K)
    departure = known.compare(time_ms, values_c)
    return departure is not None and bool((np.abs(there_c - air_c) < np.abs(there_c - departure.off_k[torn] - air_c)).all())


def _air_at_c(air: Thermometer | None, time_ms: int) -> float | None:
    """The air's last reading of the hour before, None where there is none."""
    if air is None:
        return None
    last = int(np.searchsorted(air.time_ms, time_ms, side="right")) - 1
    if last < 0 or time_ms - int(air.time_ms[last]) > _HOUR_MS or not np.isfinite(air.value_c[last]):
        return None
    return float(air.value_c[last])


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
    for day in range(count):
        today = days == day
        for probe in range(len(stake)):
            values_c, away_k = moments.values_c[today, probe], off_k[today, probe]
            there = np.isfinite(away_k)
            if there.sum() < _DAY_HOURS:
                continue
            daily_k[day, probe] = np.median(away_k[there])
            jumps_k[day, probe] = np.median(np.abs(np.diff(away_k[there], n=2)))
            expected_c = values_c[there] - away_k[there]
            stuck[day, probe] = there.sum() >= _STUCK_HOURS and np.ptp(values_c[there]) == 0 and np.ptp(expected_c) > _STUCK_K
    first_ms = int(moments.time_ms[0])
    found = [
        FailingProbe(probe, how, first_ms + first * _DAY_MS, first_ms + (last + 1) * _DAY_MS)
        for how, table in (
            (Failing.DRIFTS, _drifting(daily_k)),
            (Failing.SCATTERS, _scattering(jumps_k)),
            (Failing.STUCK, stuck),
        )
        for probe in range(len(stake))
        for first, last in _runs(table[:, probe])
    ]
    return sorted(found, key=lambda one: (one.first_ms, one.probe))


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
