"""What the moisture probes say of the last watering or rain: when it began, and how far it got. Pure.

A watering is all that belongs to one coming of water: the grower's mark, the steps of the
probes one below the other, and the rain that a gauge caught. Only the newest is looked at.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from collector.model import Bed, Probe, Series
from collector.soil.arrays import Array
from collector.soil.wetting import BEFORE_MS, HOUR_MS, Answer, Flow, answers, flow, fronts, reached_m, steadied
from collector.units import Quantity

# Everything below is common practice, no source, unless one is named.

# Water comes from above: a probe that steps is believed where all that speak above it have become wetter too, or were full, or
# do so soon after. A deep one that steps by itself is a bad contact, or the electronics that warm in the sun.
FIRST_BELOW_MS = 2 * HOUR_MS
# A watering is spoken of for so long.
WATERING_KEPT_MS = 48 * HOUR_MS
# What comes this soon after belongs to the same watering; so does, for longer, a step below one that has stepped.
JOIN_MS, DEEPER_JOIN_MS = 6 * HOUR_MS, 18 * HOUR_MS
# The water still comes while a probe has stepped in the last hour and a half and nobody has said that it is done.
RUNNING_MS = 90 * 60_000
# So much rain within two hours can wet soil under leaves and mulch [mm]; a step within two hours of such rain is rain's.
RAIN_LEAST_MM, RAIN_WITHIN_MS = 2.0, 2 * HOUR_MS
# A gauge that has been silent for longer than this does not know whether it rains.
RAIN_PATIENCE_MS = 2 * HOUR_MS
# No soil in a bed is as dry as this: the probe is in the air [m³/m³]. Back in the soil it needs hours to touch it well again.
IN_AIR_M3_M3, SETTLING_MS = 0.02, 3 * HOUR_MS
# Frozen water reads dry, and thaw looks like water that came. A thermometer this near, of ±0.5 °C, tells, and for so long after.
FROST_C, FROST_REACH_M, FROST_LINGERS_MS = 1.0, 0.10, 6 * HOUR_MS
# Readings closer than this are taken together: water in soil is slower, and their median scatters less.
SLOT_MS = 10 * 60_000


class Cause(StrEnum):
    """Where the water came from."""

    WATERING = "watering"  # the grower said so
    RAIN = "rain"  # a gauge caught it
    UNTOLD = "untold"  # only the probes in the soil noticed it


@dataclass(frozen=True, slots=True)
class Wetted:
    """How far the last watering got. `found` is what each probe made of it, shallowest first; silent ones answer NaN.

    `reached_m` is the deepest probe that stepped, 0 where none did, `reached_ms` when, and
    `next_m` the next one that speaks and did not step. `stop_ms` is when the water had come
    as far as it should, None while it has not. `off` where the grower has said that it is
    done, `running` where a probe stepped just now. `raining` holds while the newest step is rain's,
    `rain_known` where a gauge of the garden speaks. `frozen` where
    frost hides some of the answer.
    """

    onset_ms: int
    cause: Cause
    found: tuple[Answer, ...]
    reached_m: float
    reached_ms: int | None
    next_m: float | None
    flow: Flow
    stop_ms: int | None
    off: bool
    running: bool
    raining: bool
    rain_known: bool
    frozen: bool

    @property
    def unsaid_ms(self) -> int | None:
        """When water came that the probes saw and nobody has told of, no gauge either [ms]; None where it was told."""
        return self.onset_ms if self.cause is Cause.UNTOLD and self.reached_m > 0.0 else None

    @property
    def heard(self) -> bool:
        """True where at least one probe spoke before the water came and after."""
        return any(np.isfinite(one.rise_m3_m3) for one in self.found)


@dataclass(frozen=True, slots=True)
class _Said:
    """What one moisture probe said, freed of spikes, of air and of frost."""

    depth_m: float
    time_ms: NDArray[np.int64]
    values: Array
    frost: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class _Sign:
    """One sign of water: its kind, when it began and last showed, and the depth of the probe that stepped, else 0."""

    cause: Cause
    began_ms: int
    last_ms: int
    depth_m: float = 0.0


def wetted_of(bed: Bed, said: Iterable[Series], rain: Iterable[Series], marked_ms: int | None, now_ms: int) -> Wetted | None:
    """How far the last watering or rain of two days got; None where there was none, or no probe that could tell.

    Args:
        bed: the bed.
        said: readings of its probes, from somewhat before the two days on.
        rain: readings of the rain gauges of the garden: rain over one garden is one rain.
        marked_ms: when the grower last said that this bed was watered, or that the water is off [ms]; None if never.
        now_ms: the moment [ms since 1970-01-01 UTC]; later readings are not looked at.
    """
    by_id = {series.probe_id: _until(series, now_ms) for series in said}
    gauges = [_until(series, now_ms) for series in rain]
    heard = [one for probe in bed.probes_of(Quantity.SOIL_MOISTURE) if (one := _said(bed, probe, by_id)) is not None]
    signs = [sign for gauge in gauges for sign in _showers(gauge)]
    if marked_ms is not None and marked_ms <= now_ms:
        signs.append(_Sign(Cause.WATERING, marked_ms, marked_ms))
    watering = _newest(_with_steps(signs, heard))
    if not heard or not watering or now_ms - watering[0].began_ms > WATERING_KEPT_MS:
        return None
    onset_ms = min(sign.began_ms for sign in watering)
    found = _answers(heard, onset_ms, bed.field_capacity)
    stepped_ms = [one.front_ms for one in found if one.front_ms is not None]
    causes = {sign.cause for sign in watering}
    if causes == {Cause.UNTOLD} and not stepped_ms:
        return None  # seen against its last two days, and not against the hours before: too near to the scatter to speak of
    deepest_m, next_m = reached_m(found)
    newest_ms = max(stepped_ms, default=None)
    rained_ms = max((sign.last_ms for sign in watering if sign.cause is Cause.RAIN), default=None)
    return Wetted(
        onset_ms=onset_ms,
        cause=next(cause for cause in Cause if cause in causes),
        found=found,
        reached_m=deepest_m,
        reached_ms=min((one.front_ms for one in found if one.front_ms is not None and one.depth_m == deepest_m), default=None),
        next_m=next_m,
        flow=flow(found, bed.root_depth_m, bed.field_capacity),
        stop_ms=_stop_ms(bed, found),
        off=marked_ms is not None and onset_ms <= marked_ms <= now_ms,
        running=newest_ms is not None and now_ms - newest_ms <= RUNNING_MS,
        raining=rained_ms is not None and rained_ms >= (newest_ms or now_ms) - RAIN_WITHIN_MS,
        rain_known=any(gauge.time_ms.size and now_ms - int(gauge.time_ms[-1]) <= RAIN_PATIENCE_MS for gauge in gauges),
        frozen=any(bool(each.frost[each.time_ms > onset_ms - BEFORE_MS].any()) for each in heard),
    )


# ---------------------------------------------------------------- what the probes said


def _until(series: Series, now_ms: int) -> Series:
    trusted = series.trusted()
    return trusted.kept(slice(0, int(np.searchsorted(trusted.time_ms, now_ms, side="right"))))


def _said(bed: Bed, probe: Probe, by_id: dict[str, Series]) -> _Said | None:
    series = by_id.get(probe.id)
    if series is None or probe.depth_m is None or not series.time_ms.size:
        return None
    times, values = _in_slots(series.time_ms, series.value)
    thermometers = [
        by_id[one.id]
        for one in bed.probes_of(Quantity.SOIL_TEMPERATURE)
        if one.id in by_id and one.depth_m is not None and abs(one.depth_m - probe.depth_m) <= FROST_REACH_M + 1e-9
    ]
    frosts = [one.time_ms[one.value < FROST_C] for one in thermometers]
    frost = _within(times, np.concatenate([np.empty(0, dtype=np.int64), *frosts]), FROST_LINGERS_MS)
    in_air = _within(times, times[steadied(values) < IN_AIR_M3_M3], SETTLING_MS)
    return _Said(probe.depth_m, times, np.where(frost | in_air, np.nan, values), frost)


def _in_slots(time_ms: NDArray[np.int64], values: Array) -> tuple[NDArray[np.int64], Array]:
    """The median of each slot, the lower one of two, at the time of its last reading."""
    slots = time_ms // SLOT_MS
    first = np.flatnonzero(np.concatenate([[True], np.diff(slots) > 0]))
    counts = np.diff(np.append(first, time_ms.size))
    by_value = values[np.lexsort((values, slots))]
    return time_ms[first + counts - 1], by_value[first + (counts - 1) // 2]


def _within(time_ms: NDArray[np.int64], events_ms: NDArray[np.int64], after_ms: int) -> NDArray[np.bool_]:
    """Which times lie at one of the events, or less than so long after one."""
    events = np.sort(events_ms)
    last = np.searchsorted(events, time_ms, side="right") - 1
    within: NDArray[np.bool_] = (last >= 0) & (time_ms - np.append(events, 0)[last] < after_ms)
    return within


# ---------------------------------------------------------------- one watering


def _showers(gauge: Series) -> list[_Sign]:
    """Each time that a gauge caught enough within two hours."""
    fell = gauge.value > 0.0
    times, total_mm = gauge.time_ms[fell], np.concatenate([[0.0], np.cumsum(gauge.value[fell])])
    since = np.searchsorted(times, times - RAIN_WITHIN_MS, side="right")
    enough = np.flatnonzero(total_mm[1:] - total_mm[since] >= RAIN_LEAST_MM - 1e-9)
    showers = np.split(enough, np.flatnonzero(np.diff(times[enough]) > RAIN_WITHIN_MS) + 1) if enough.size else []
    return [_Sign(Cause.RAIN, _began_ms(gauge, int(times[since[one[0]]])), int(times[one[-1]])) for one in showers]


def _began_ms(gauge: Series, first_ms: int) -> int:
    """When the rain of a reading began: a gauge says what fell since its reading before."""
    before_ms = gauge.time_ms[gauge.time_ms < first_ms]
    return max(int(before_ms[-1]), first_ms - RAIN_WITHIN_MS) if before_ms.size else first_ms


def _with_steps(signs: Sequence[_Sign], heard: Sequence[_Said]) -> list[_Sign]:
    """The signs from above the soil, and each step that came from there: the shallowest that speaks tells by itself."""
    believed = list(signs)
    for each in heard:  # shallowest first
        for front in fronts(each.time_ms, each.values):
            speaking = any(one.depth_m < each.depth_m and _speaks(one, front.began_ms) for one in heard)
            came = any(-DEEPER_JOIN_MS <= one.began_ms - front.began_ms <= FIRST_BELOW_MS for one in believed)
            if came or not speaking:
                believed.append(_Sign(Cause.UNTOLD, front.began_ms, front.front_ms, each.depth_m))
    return believed


def _speaks(said: _Said, at_ms: int) -> bool:
    """Whether it said anything in the hours about a time; a frozen one bars the way too."""
    return bool((np.abs(said.time_ms - at_ms) <= JOIN_MS).any())


def _newest(signs: Sequence[_Sign]) -> list[_Sign]:
    """The signs of the newest watering."""
    watering: list[_Sign] = []
    for sign in sorted(signs, key=lambda one: (one.began_ms, one.last_ms)):
        if watering and not _belongs(sign, watering):
            watering = []
        watering.append(sign)
    return watering


def _belongs(sign: _Sign, watering: Sequence[_Sign]) -> bool:
    """Below a probe that stepped the front may take its time; what shows as shallow as anything is soon another watering."""
    shallowest_m = min((one.depth_m for one in watering if one.depth_m > 0.0), default=0.0)
    top_ms = max(one.last_ms for one in watering if one.depth_m <= shallowest_m)
    above = [one.last_ms for one in watering if one.depth_m < sign.depth_m]
    return sign.began_ms <= max([top_ms + JOIN_MS, *(at_ms + DEEPER_JOIN_MS for at_ms in above)])


def _answers(heard: Sequence[_Said], onset_ms: int, field_capacity: float) -> tuple[Answer, ...]:
    """What each probe made of it; of two at one depth, the one that stepped comes last, as the deeper."""
    found: list[Answer] = []
    for each in heard:
        before_ms = each.time_ms[each.time_ms <= onset_ms]
        if before_ms.size and before_ms[-1] > onset_ms - BEFORE_MS and each.time_ms[-1] > onset_ms:
            found += answers(each.time_ms, (each.depth_m,), each.values[:, None], onset_ms)
        else:
            found.append(Answer(each.depth_m, np.nan, np.nan, None, drained=False))
    found.sort(key=lambda one: (one.depth_m, one.front_ms is not None))
    return tuple(_believed(one, [above for above in found if above.depth_m < one.depth_m], field_capacity) for one in found)


def _believed(answer: Answer, above: Sequence[Answer], field_capacity: float) -> Answer:
    """The answer, without a step that did not come from above."""
    told = [one for one in above if np.isfinite(one.rise_m3_m3)]
    wet = any(one.front_ms is not None or one.drained or one.before_m3_m3 >= field_capacity for one in told)
    return answer if wet or not told else replace(answer, front_ms=None, drained=False)


def _stop_ms(bed: Bed, found: Sequence[Answer]) -> int | None:
    """When the front first was as far down as to stop, by what had stepped until then."""
    for at_ms in sorted({one.front_ms for one in found if one.front_ms is not None}):
        so_far = [one if one.front_ms is not None and one.front_ms <= at_ms else replace(one, front_ms=None) for one in found]
        if flow(so_far, bed.root_depth_m, bed.field_capacity) in (Flow.STOP, Flow.TOO_MUCH):
            return at_ms
    return None
