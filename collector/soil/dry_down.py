"""The dry-down of a root zone: how far it is, corrected by the moisture probes, and where it goes.

A small filter holds the depletion and a demand factor: what the bed really drinks over what
the reference says. Every reading corrects both, so that the factor is learned from the slope of
the recent dry-downs, whatever the reference was made of: measured weather, air temperature
alone (Hargreaves), or nothing but the height of the sun.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from collector.soil.arrays import Array
from collector.soil.demand import (
    DAY_MS,
    GAIN_LEAST_MM,
    HOUR_MS,
    amounts_mm,
    daily_mm,
    even_step_ms,
    filled_by_day_mm,
    usual_day_mm,
)
from collector.soil.root_zone import DRAINAGE_D, RootZone, measured_depletion_mm, pass_step
from collector.soil.water import readily_available_mm, stress_free_fraction

# A probe scatters by so much about the water around it [m³/m³], and stays off to one side for so long [d]. Common practice,
# no source: the scatter is the resolution of usual probes and what a day's temperature does to them.
PROBE_SCATTER_M3_M3 = 0.004
PROBE_MEMORY_D = 0.25
# The demand of a single day strays from the factor times the reference by this share. Common practice, no source.
DAY_STRAYS = 0.25
# What comes and goes unseen, from below or to the side [mm in a day]. Common practice, no source.
UNSEEN_MM_D = 0.3
# Rain is measured beside the bed, and straw catches some: a gain is uncertain by this share. Common practice, no source.
GAIN_STRAYS = 0.3
# The factor is 1, give or take this (of its logarithm), where nothing is known, and it comes back to that
# over so many days [d]: what was learned of a bed a month ago says little of it today. Common practice, no source.
FACTOR_SD = 0.5
FACTOR_MEMORY_D = 14.0
# How much less a bed drinks below RAW is known by a straight line only: it may stray by this share of what is not drunk. Common
# practice, no source.
STRESS_STRAYS = 0.5
# The factor is kept between these: nothing drinks more than a wet field in a dry wind, or next to nothing for days.
FACTOR_LEAST, FACTOR_MOST = 0.05, 3.0
# A reading so many standard deviations away tells of water that came, or of a stake moved, and nothing of demand.
GATE_SD = 3.0
# So much less lacking than at any time of the few hours before [mm, h] is water that came, told or not: roots never give any
# back, and a probe's own daily wave is slower and smaller. Common practice, no source.
RISE_MM, RISE_WITHIN_H = 3.0, 3.0
# Less lacking by so much than at the same hour of the day before [mm]: water came or still spreads, however slowly.
WETTER_MM = 1.5
# For so long after water came it still finds its way down, and the slope tells nothing of demand [d].
SETTLING_D = 1.0
# Half the 80 % band over the standard deviation, of a normal distribution.
BAND_80 = 1.2816


@dataclass(frozen=True, slots=True)
class DryDown:
    """What is known of a root zone at `time_ms`: depletion [mm, below 0 above field capacity] and its 80 % band.

    `factor` is demand over reference [ratio]; `covariance` is of depletion and the factor's
    logarithm; `usual_mm` is the reference of the coming steps of a day, where nobody foretells it.
    `settled_d` is how long ago water last came [d].
    """

    zone: RootZone
    time_ms: int
    step_ms: int
    depletion_mm: float
    factor: float
    covariance: tuple[tuple[float, float], tuple[float, float]]
    usual_mm: tuple[float, ...]
    settled_d: float

    @property
    def low_mm(self) -> float:
        """Lower end of the 80 % band of the depletion [mm], not below 0."""
        return self._within(self.depletion_mm - BAND_80 * math.sqrt(self.covariance[0][0]))

    @property
    def high_mm(self) -> float:
        """Upper end of the 80 % band of the depletion [mm], not above TAW."""
        return self._within(self.depletion_mm + BAND_80 * math.sqrt(self.covariance[0][0]))

    def _within(self, depletion_mm: float) -> float:
        return min(max(depletion_mm, 0.0), self.zone.taw_mm)


@dataclass(frozen=True, slots=True, eq=False)
class Ahead:
    """The root zone over n coming steps: depletion with its 80 % band, 0 to TAW [mm], and the refill line, RAW [mm].

    The three times are when the depletion reaches the refill line [ms], the earliest and the
    latest of the 80 % band; None where that is beyond the last step.
    """

    time_ms: NDArray[np.int64]
    depletion_mm: Array
    low_mm: Array
    high_mm: Array
    refill_mm: Array
    refill_ms: int | None
    early_ms: int | None
    late_ms: int | None


def fit(
    zone: RootZone,
    time_ms: NDArray[np.int64],
    depths_m: Sequence[float],
    moisture: Array,
    reference_mm: Array,
    gain_mm: Array | None = None,
) -> DryDown:
    """What the readings up to the last time tell of the root zone: depletion [mm] and demand [ratio].

    Args:
        zone: the root zone [m³/m³ and m].
        time_ms: ends of the steps, ascending and evenly spaced, at most a day apart, n of them [ms since 1970-01-01 UTC].
        depths_m: depths of the moisture probes, strictly ascending, above 0, k of them [m].
        moisture: volume ratio of water, n by k, NaN is not known; needs one reading at least [m³/m³].
        reference_mm: crop evapotranspiration of each step without stress as it is thought to be, 0 or more, NaN is not
            known, n values; only its ups and downs matter where the factor has days to learn [mm].
        gain_mm: rain and watering that reach the soil in each step, 0 or more, NaN is not known, n values; water that nobody
            told of is seen as a step of the readings [mm].

    Raises:
        ValueError: times that do not ascend evenly, tables of other lengths, a negative amount, or no reading at all.

    Source: extended Kalman filter of the balance of Allen et al. 1998, FAO-56, ch. 8; its uncertainties are common practice.
    """
    step_ms = even_step_ms(time_ms)
    measured_mm = measured_depletion_mm(zone, depths_m, moisture)
    steps_a_day = max(1, round(DAY_MS / step_ms))
    if measured_mm.shape != time_ms.shape:
        raise ValueError(f"moisture has {measured_mm.size} rows, time_ms {time_ms.size}; want one row for each time")
    wanted_mm = filled_by_day_mm(amounts_mm(reference_mm, time_ms, "reference_mm"), steps_a_day)
    gains_mm = np.nan_to_num(amounts_mm(gain_mm, time_ms, "gain_mm") if gain_mm is not None else np.zeros(time_ms.size))
    heard = np.flatnonzero(np.isfinite(measured_mm))
    if not heard.size:
        raise ValueError("moisture holds no reading; want one at least, or ask nothing of this bed")

    state = _Filter(zone, step_ms / DAY_MS, float(measured_mm[heard[0]]))
    wanted_mm_d = daily_mm(wanted_mm, steps_a_day)
    came, spreads = _water_came(measured_mm, step_ms), _wetter_than_yesterday(measured_mm, steps_a_day)
    for k in range(int(heard[0]) + 1, time_ms.size):
        state.predict(float(wanted_mm[k]), float(wanted_mm_d[k]), float(gains_mm[k]))
        state.forget()
        if spreads[k]:
            state.settled_d = 0.0
        if math.isfinite(measured_mm[k]):
            state.correct(float(measured_mm[k]), water_came=bool(came[k]))
    return DryDown(
        zone=zone,
        time_ms=int(time_ms[-1]),
        step_ms=step_ms,
        depletion_mm=state.depletion_mm,
        factor=math.exp(state.log_factor),
        covariance=((state.var_mm2, state.cov), (state.cov, state.var_factor)),
        usual_mm=tuple(usual_day_mm(wanted_mm, gains_mm, steps_a_day).tolist()),
        settled_d=state.settled_d,
    )


def ahead(
    state: DryDown, days: int, reference_mm: Array | None = None, gain_mm: Array | None = None, line_mm: float | None = None
) -> Ahead:
    """Where the depletion goes [mm], and when it reaches the refill line.

    Args:
        state: what is known now [mm and ratio].
        days: how far to look, 1 or more [d].
        reference_mm: reference of the coming steps, of the kind that `fit` was given, one value for each step or for each
            day, NaN is not known [mm]; None takes the usual day of the last week.
        gain_mm: rain and watering that will reach the soil, one value for each step, 0 or more, NaN counts as 0 [mm].
        line_mm: the depletion at which to water; None takes RAW with p adjusted to each day's demand [mm].

    Raises:
        ValueError: a span below a day, an array of another length, a negative amount, or a line below 0 or NaN.

    Source: Allen et al. 1998, FAO-56, ch. 8, eq. 82-86 and the note of Table 22; band by propagating the filter's covariance.
    """
    if days < 1:
        raise ValueError(f"days is {days}; want 1 or more")
    if line_mm is not None and not line_mm >= 0.0:
        raise ValueError(f"line_mm is {line_mm}; want 0 or more, or None")
    steps_a_day = len(state.usual_mm)
    steps, step_d = days * steps_a_day, state.step_ms / DAY_MS
    time_ms = state.time_ms + state.step_ms * np.arange(1, steps + 1, dtype=np.int64)
    gains_mm = np.nan_to_num(amounts_mm(gain_mm, time_ms, "gain_mm") if gain_mm is not None else np.zeros(steps))
    wanted_mm = _coming(state, reference_mm, time_ms, days)

    taw_mm = state.zone.taw_mm
    walk = _Filter(state.zone, step_d, state.depletion_mm)
    walk.log_factor, walk.settled_d = math.log(state.factor), state.settled_d
    (walk.var_mm2, walk.cov), (_, walk.var_factor) = state.covariance
    rows = []
    # with a usual day at both ends, so that the first and last hours too are weighed by a whole day and not by noon or night
    around_mm = np.concatenate([state.usual_mm, wanted_mm, state.usual_mm])
    wanted_mm_d = daily_mm(around_mm, steps_a_day)[steps_a_day:-steps_a_day]
    for want_mm, want_mm_d, gain in zip(wanted_mm.tolist(), wanted_mm_d.tolist(), gains_mm.tolist(), strict=True):
        p = walk.predict(want_mm, want_mm_d, gain)
        rows.append((walk.depletion_mm, walk.var_mm2, readily_available_mm(taw_mm, p) if line_mm is None else line_mm))
    middle_mm, var_mm2, refill_mm = np.array(rows).T
    half_mm, half_now_mm = BAND_80 * np.sqrt(var_mm2), BAND_80 * math.sqrt(state.covariance[0][0])
    low_mm, high_mm = middle_mm - half_mm, middle_mm + half_mm
    return Ahead(
        time_ms=time_ms,
        depletion_mm=np.clip(middle_mm, 0.0, taw_mm),
        low_mm=np.clip(low_mm, 0.0, taw_mm),
        high_mm=np.clip(high_mm, 0.0, taw_mm),
        refill_mm=refill_mm,
        refill_ms=_reached_ms(state, state.depletion_mm, middle_mm, refill_mm),
        early_ms=_reached_ms(state, state.depletion_mm + half_now_mm, high_mm, refill_mm),
        late_ms=_reached_ms(state, state.depletion_mm - half_now_mm, low_mm, refill_mm),
    )


class _Filter:
    """Depletion and the logarithm of the demand factor, with their covariance, carried from step to step."""

    def __init__(self, zone: RootZone, step_d: float, first_mm: float) -> None:
        self._zone, self._step_d = zone, step_d
        scatter_mm = 1000.0 * zone.root_depth_m * PROBE_SCATTER_M3_M3
        # a probe that stays off to one side for hours tells nothing new in each of its readings meanwhile
        self._noise_mm2 = scatter_mm**2 * max(1.0, PROBE_MEMORY_D / step_d)
        self.depletion_mm, self.log_factor = first_mm, 0.0
        self.var_mm2, self.cov, self.var_factor = scatter_mm**2, 0.0, FACTOR_SD**2
        self.settled_d = 0.0

    def predict(self, wanted_mm: float, wanted_mm_d: float, gain_mm: float) -> float:
        """One step of the balance; answers p at the demand of its day."""
        factor = math.exp(self.log_factor)
        p = stress_free_fraction(self._zone.p_table, factor * wanted_mm_d)
        kept, drunk_mm = _sensitivity(self._zone, self.depletion_mm, factor * wanted_mm, gain_mm, self._step_d, p)
        self.depletion_mm = pass_step(self._zone, self.depletion_mm, factor * wanted_mm, gain_mm, self._step_d, p)
        strayed_mm2 = _step_variance_mm2(factor * wanted_mm, factor * wanted_mm_d, drunk_mm, gain_mm, self._step_d)
        self.var_mm2 = kept**2 * self.var_mm2 + 2.0 * kept * drunk_mm * self.cov + drunk_mm**2 * self.var_factor + strayed_mm2
        fades = math.exp(-self._step_d / FACTOR_MEMORY_D)
        self.cov = fades * (kept * self.cov + drunk_mm * self.var_factor)
        self.var_factor = _faded(self.var_factor, fades)
        self.settled_d = 0.0 if gain_mm >= GAIN_LEAST_MM else self.settled_d + self._step_d
        return p

    def forget(self) -> None:
        """What was learned of the bed fades in a step. A forecast holds it: it starts from what is known now."""
        self.log_factor *= math.exp(-self._step_d / FACTOR_MEMORY_D)

    def correct(self, measured_mm: float, *, water_came: bool) -> None:
        """One reading."""
        surprise_mm = measured_mm - self.depletion_mm
        expected_mm2 = self.var_mm2 + self._noise_mm2
        if water_came or abs(surprise_mm) > GATE_SD * math.sqrt(expected_mm2):
            self._jump(measured_mm)
            return
        gain = self.var_mm2 / expected_mm2
        # what drains, or still finds its way down, is no demand
        learned = self.cov / expected_mm2 if self.settled_d >= SETTLING_D and self.depletion_mm > 0.0 else 0.0
        self.depletion_mm += gain * surprise_mm
        self.log_factor += learned * surprise_mm
        self.log_factor = min(max(self.log_factor, math.log(FACTOR_LEAST)), math.log(FACTOR_MOST))
        # the form that holds for any gain: what is not learned from is not counted as learned
        self.var_factor += -2.0 * learned * self.cov + learned**2 * expected_mm2
        self.cov = (1.0 - gain) * self.cov - learned * self.var_mm2 * (1.0 - gain) + learned * gain * self._noise_mm2
        self.var_mm2 = (1.0 - gain) ** 2 * self.var_mm2 + gain**2 * self._noise_mm2

    def _jump(self, measured_mm: float) -> None:
        """Water that came, or a stake that was moved: start again from here and keep the factor."""
        self.settled_d = 0.0
        self.depletion_mm, self.var_mm2, self.cov = measured_mm, self._noise_mm2, 0.0


# ---------------------------------------------------------------- parts of the above


def _water_came(measured_mm: Array, step_ms: int) -> NDArray[np.bool_]:
    """At which steps the probes find so much less lacking than in the hours before that water must have come."""
    back = max(1, round(RISE_WITHIN_H * HOUR_MS / step_ms))
    before = np.lib.stride_tricks.sliding_window_view(np.pad(measured_mm, (back, 0), constant_values=np.nan), back)[:-1]
    driest_mm = np.where(np.isfinite(before), before, -np.inf).max(axis=1)
    came: NDArray[np.bool_] = driest_mm - measured_mm >= RISE_MM
    return came


def _wetter_than_yesterday(measured_mm: Array, steps_a_day: int) -> NDArray[np.bool_]:
    before_mm = np.concatenate([np.full(min(steps_a_day, measured_mm.size), np.nan), measured_mm[:-steps_a_day]])
    wetter: NDArray[np.bool_] = before_mm - measured_mm >= WETTER_MM
    return wetter


def _sensitivity(
    zone: RootZone, depletion_mm: float, demand_mm: float, gain_mm: float, step_d: float, p: float
) -> tuple[float, float]:
    """How the end of a step follows its beginning [ratio], and the logarithm of the demand [mm]."""
    start_mm = depletion_mm - gain_mm
    if start_mm < 0.0:
        return math.exp(-step_d / DRAINAGE_D), demand_mm
    taw_mm = zone.taw_mm
    if start_mm <= readily_available_mm(taw_mm, p):
        return 1.0, demand_mm
    drying_mm = (1.0 - p) * taw_mm
    return max(0.0, 1.0 - demand_mm / drying_mm), max(0.0, (taw_mm - start_mm) / drying_mm) * demand_mm


def _step_variance_mm2(demand_mm: float, demand_mm_d: float, drunk_mm: float, gain_mm: float, step_d: float) -> float:
    """What a step adds to the uncertainty of the depletion; the steps of a day together let it stray as a day does."""
    stress = 1.0 - drunk_mm / demand_mm if demand_mm > 0.0 else 0.0
    strays = DAY_STRAYS + STRESS_STRAYS * stress
    return strays**2 * demand_mm * demand_mm_d + UNSEEN_MM_D**2 * step_d + (GAIN_STRAYS * gain_mm) ** 2


def _faded(var_factor: float, fades: float) -> float:
    """Variance of the factor's logarithm a while later: it goes back to what it was when nothing was known."""
    return fades**2 * var_factor + (1.0 - fades**2) * FACTOR_SD**2


def _reached_ms(state: DryDown, now_mm: float, depletion_mm: Array, line_mm: Array) -> int | None:
    """When the depletion first reaches the line, straight between two steps; now where it is there already."""
    ends_mm = np.concatenate([[now_mm], depletion_mm])
    lines_mm = np.concatenate([line_mm[:1], line_mm])
    there = np.flatnonzero(ends_mm >= lines_mm)
    if not there.size:
        return None
    k = int(there[0])
    if k == 0:
        return state.time_ms
    missing_mm, over_mm = float(lines_mm[k - 1] - ends_mm[k - 1]), float(ends_mm[k] - lines_mm[k])
    return state.time_ms + round((k - 1 + missing_mm / (missing_mm + over_mm)) * state.step_ms)


def _coming(state: DryDown, reference_mm: Array | None, time_ms: NDArray[np.int64], days: int) -> Array:
    """The reference of each coming step; where it is not told, the usual day's."""
    usual_mm = np.array(state.usual_mm)
    if reference_mm is None:
        return np.tile(usual_mm, days)
    told_mm = np.asarray(reference_mm, dtype=np.float64)
    if told_mm.shape == (days,) and usual_mm.size > 1:
        amounts_mm(told_mm, time_ms[:days], "reference_mm")
        day_mm = float(usual_mm.sum())
        shape = usual_mm / day_mm if day_mm > 0.0 else np.full(usual_mm.size, 1.0 / usual_mm.size)
        told_mm = (told_mm[:, None] * shape).ravel()
    told_mm = amounts_mm(told_mm, time_ms, "reference_mm")
    return np.where(np.isfinite(told_mm), told_mm, np.tile(usual_mm, days))
