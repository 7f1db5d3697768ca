"""Are the probes of a bed well mounted? What their first hour tells, and what only two days do. Pure.

The thresholds are common practice, no source, unless one is named; that sound probes keep within them was tried on
measured soils.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np

from collector.advice.fault_words import fault_words, said_words
from collector.advice.faults import swapped_probes
from collector.advice.mounting import in_order
from collector.advice.voice import Voice
from collector.model import Bed, Place, Probe, Reading, Series
from collector.soil.arrays import Array
from collector.soil.diffusivity import harmonics_k
from collector.units import Quantity

HOUR_MS, DAY_MS = 3_600_000, 86_400_000
# So much of the past is looked at: the order of depths takes two days.
LOOKS_BACK_MS = 2 * DAY_MS
# Of fewer readings in an hour nothing is told.
_LEAST_READINGS = 3
# Soil at a depth moves no faster than this: at the surface [K/h], falling by 1/e with each so many metres, and no less than so
# much. An envelope of the fastest hours of bare soils that were measured (Bondville, Illinois, 1998; San Joaquin, California,
# June 2022). What moves faster is still on its way from the air.
_AT_SURFACE_K_H, _FALLS_M, _SLOWEST_LIMIT_K_H = 15.0, 0.095, 0.7
# A sound thermometer goes from one step of 1/16 K to the next; so much from one reading to the next and back is no soil.
_JITTER_K = 0.25
# Two thermometers so far apart in depth do not say the same to the last digit while both move.
_APART_M, _TWIN_READINGS, _SAME_K = 0.04, 6, 1.0 / 32
# Below half of what roots can take the blade has air beside it; more than this no mineral soil holds.
_DRY_SHARE, _DRY_IF_UNKNOWN, _MOST_WATER = 0.5, 0.03, 0.60


class How(Enum):
    """What a look at a probe came to."""

    ODD = "odd"
    WAIT = "wait"
    WELL = "well"


@dataclass(frozen=True, slots=True)
class Look:
    """One thing looked at: of a probe, or of the bed where it is None; `words` say it, and what to do if it is odd."""

    how: How
    words: str
    probe: Probe | None = None


def mounted(bed: Bed, series: Mapping[str, Series], latest: Mapping[str, Reading], now_ms: int, voice: Voice) -> tuple[Look, ...]:
    """A look at each probe of a bed, in its order, and one at the order of its thermometers.

    Args:
        bed: with its probes [Bed].
        series: what each said of late, `LOOKS_BACK_MS` of it, by probe id [Series].
        latest: its newest reading by probe id; none where it has never spoken [Reading].
        now_ms: the present [ms since 1970-01-01 UTC].
        voice: how numbers are told.
    """
    probes = [probe for probe in in_order(bed.probes) if probe.place is Place.BED]
    twins = _twins([probe for probe in probes if probe.quantity is Quantity.SOIL_TEMPERATURE], series, now_ms)
    looks = [_look(bed, probe, series[probe.id], latest.get(probe.id), twins, now_ms, voice) for probe in probes]
    order = _order(bed, series, now_ms, voice)
    return (*looks, *([] if order is None else [order]))


def summary(looks: Sequence[Look]) -> str:
    """All of it in a sentence."""
    of_probes = [look for look in looks if look.probe is not None]
    odd, waits = (sum(look.how is how for look in looks) for how in (How.ODD, How.WAIT))
    if not of_probes:
        return "No probes yet."
    if odd:
        return "One thing wants a look." if odd == 1 else f"{odd} things want a look."
    if waits:
        return "Nothing is odd so far; not all is known yet."
    return "All is as it should be."


def _look(
    bed: Bed, probe: Probe, series: Series, last: Reading | None, twins: Mapping[str, Probe], now_ms: int, voice: Voice
) -> Look:
    """The gravest thing about a probe, or that there is none."""
    if last is None:
        told = f"Nothing heard yet from {probe.address}. A board that sleeps speaks when it wakes next;"
        return Look(How.WAIT, f"{told} if it does not, look at power and cable.", probe)
    fault = fault_words(probe, last, voice)
    if fault is not None:
        return Look(How.ODD, fault, probe)
    hour = series.within(now_ms - HOUR_MS, now_ms + 1)
    if hour.time_ms.size == 0:
        return Look(How.ODD, f"Silent since {voice.when(last.measured_ms, now_ms)}. Look at power, cable and radio.", probe)
    if probe.id in twins:
        other = "" if twins[probe.id].depth_m is None else f" at {voice.depth(twins[probe.id].depth_m or 0.0)}"
        told = f"Says the same as the one{other}, to the last digit. Is it one thermometer under two addresses?"
        return Look(How.ODD, told, probe)
    if hour.time_ms.size < _LEAST_READINGS:
        return Look(
            How.WAIT, f"Says {said_words(probe, last.value, voice)}; {_some(hour.time_ms.size)} in this hour so far.", probe
        )
    if probe.quantity is Quantity.SOIL_TEMPERATURE and probe.depth_m is not None:
        return _look_at_thermometer(probe, probe.depth_m, hour, voice)
    if probe.quantity is Quantity.SOIL_MOISTURE:
        return _look_at_moisture(bed, probe, last.value, voice)
    return Look(How.WELL, f"Says {said_words(probe, last.value, voice)}, {_some(hour.time_ms.size)} in this hour.", probe)


def _look_at_thermometer(probe: Probe, depth_m: float, hour: Series, voice: Voice) -> Look:
    said = voice.temperature(float(hour.value[-1]))
    jitter_k = _jitter_k(hour.value)
    if jitter_k > _JITTER_K:
        return Look(How.ODD, f"Says {said} and jumps to and fro by {voice.warmer_by(jitter_k)}. Check its plug and cable.", probe)
    moved_k, hours = float(hour.value[-1] - hour.value[0]), float(hour.time_ms[-1] - hour.time_ms[0]) / HOUR_MS
    if hours > 0 and abs(moved_k) / max(hours, 0.5) > fastest_k_h(depth_m):
        told = f"Says {said}, {voice.warmer_by(abs(moved_k))} {'more' if moved_k > 0 else 'less'} than {_ago(hours)} ago: it is "
        return Look(
            How.WAIT, told + "still taking up the warmth of the soil. If that lasts for hours, it has air beside it.", probe
        )
    return Look(How.WELL, f"Says {said} and rests, {_some(hour.value.size)} in this hour.", probe)


def _jitter_k(values_c: Array) -> float:
    """How far a thermometer goes to and fro from one reading to the next [K]; 0 for one that goes one way."""
    steps_k = np.diff(values_c)
    to_and_fro = np.where(steps_k[1:] * steps_k[:-1] < 0, np.minimum(np.abs(steps_k[1:]), np.abs(steps_k[:-1])), 0.0)
    return float(np.median(to_and_fro)) if to_and_fro.size else 0.0


def fastest_k_h(depth_m: float) -> float:
    """How fast soil at a depth can warm or cool at the most [K/h].

    Source: chosen over the fastest hours of measured bare soils, which it holds but for three in a thousand.
    """
    return max(_AT_SURFACE_K_H * math.exp(-depth_m / _FALLS_M), _SLOWEST_LIMIT_K_H)


def _look_at_moisture(bed: Bed, probe: Probe, value: float, voice: Voice) -> Look:
    said = said_words(probe, value, voice)
    known = math.isfinite(bed.wilting_point)
    if value < (_DRY_SHARE * bed.wilting_point if known else _DRY_IF_UNKNOWN):
        return Look(
            How.ODD, f"Says {said}, which is air and not soil. Press the soil back against the blade and water it in.", probe
        )
    if value > _MOST_WATER:
        told = f"Says {said}, more than soil holds. Does it stand in water, or want a calibration?"
        return Look(How.ODD, told, probe)
    return Look(How.WELL, f"Says {said}. Believe it after two days and one watering.", probe)


def _twins(probes: Sequence[Probe], series: Mapping[str, Series], now_ms: int) -> dict[str, Probe]:
    """Thermometers that say just what another one says, each with that other one."""
    found: dict[str, Probe] = {}
    for place, one in enumerate(probes):
        for other in probes[place + 1 :]:
            if abs((one.depth_m or 0.0) - (other.depth_m or 0.0)) < _APART_M:
                continue
            first, second = (series[probe.id].within(now_ms - DAY_MS, now_ms + 1) for probe in (one, other))
            both, at_first, at_second = np.intersect1d(first.time_ms // 60_000, second.time_ms // 60_000, return_indices=True)
            if both.size < _TWIN_READINGS:
                continue
            said, also_said = first.value[at_first], second.value[at_second]
            if np.all(np.abs(said - also_said) < _SAME_K) and np.ptp(said) > 2 * _SAME_K:
                found |= {one.id: other, other.id: one}
    return found


def _order(bed: Bed, series: Mapping[str, Series], now_ms: int, voice: Voice) -> Look | None:
    """Does the day's wave grow smaller and later with depth? None where there is nothing to compare."""
    probes = [probe for probe in bed.probes_of(Quantity.SOIL_TEMPERATURE) if probe.depth_m is not None]
    if len(probes) < 2:
        return None
    odd = swapped_probes(bed, series, now_ms)
    if odd is not None:
        upper, lower = (voice.depth(probe.depth_m or 0.0) for probe in odd)
        told = (
            f"Are these two swapped? The one said to be at {upper} swings less, and later, than the one at {lower}. Warm one "
            "in your hand to see which it is, and exchange their depths in the garden file (not their addresses: what each has "
            "said stays with it)."
        )
        return Look(How.ODD, told)
    begun_ms = max(int(one.time_ms[0]) if one.time_ms.size else now_ms for one in (series[probe.id] for probe in probes))
    waves = [_wave(series[probe.id].within(now_ms - DAY_MS, now_ms + 1)) for probe in probes]
    if any(wave is None for wave in waves) or now_ms - begun_ms < LOOKS_BACK_MS - HOUR_MS:
        ready = voice.when(begun_ms + LOOKS_BACK_MS, now_ms)
        return Look(How.WAIT, f"Whether the day's wave grows smaller and later with depth shows after two days: {ready}.")
    heights = [2 * abs(wave) for wave in waves if wave is not None]
    each = ", ".join(
        f"{voice.warmer_by(height_k)} at {voice.depth(probe.depth_m or 0.0)}"
        for probe, height_k in zip(probes, heights, strict=True)
    )
    return Look(How.WELL, f"From night to day it swings by {each}: no two look swapped.")


def _wave(series: Series) -> complex | None:
    """The day's wave in what a thermometer said [K]; None where that is too short."""
    known = series.trusted()
    found = harmonics_k(known.time_ms, known.value, 1)
    return None if found is None else complex(found[0])


def _some(count: int) -> str:
    return "one reading" if count == 1 else f"{count} readings"


def _ago(hours: float) -> str:
    minutes = round(hours * 60)
    return "an hour" if minutes > 50 else f"{minutes} minutes"
