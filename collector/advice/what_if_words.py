"""What would be if one thing were changed in a bed, in words and as a course beside today's. Pure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from collector.advice.shade import EFFECT_MS
from collector.advice.state import BedState
from collector.advice.voice import Voice
from collector.advice.words import foreseen_from
from collector.model import Bed
from collector.outlook import Change, Outlook, TemperatureAhead, WaterAhead, WhatIf
from collector.soil.arrays import Array

# Less than this no thermometer of a garden tells [K].
_TELLS_K = 0.05
SMALL_PRINT = (
    "By heat flow through soil and covers, from how the last days have left them, beside the forecast. A cloth takes light too; "
    "what another cover changes in the water that the bed uses is not in it."
)


@dataclass(frozen=True, slots=True, eq=False)
class IfChanged:
    """One change: a name for an address, what it is, what it would do, and the means of 24 h at the cloves [°C] then."""

    key: str
    name: str
    sentence: str
    mean_c: Array


@dataclass(frozen=True, slots=True, eq=False)
class WhatIfView:
    """What is offered for a bed. `mean_c` is the mean of 24 h at the cloves up to each time if nothing is changed [°C]."""

    bed: Bed
    headline: str
    changes: tuple[IfChanged, ...]
    notes: tuple[str, ...]
    time_ms: NDArray[np.int64]
    mean_c: Array
    limit_c: float | None


def what_if_view(state: BedState, voice: Voice) -> WhatIfView | None:
    """All that is offered for the bed of a state; None where the days ahead of its cloves are not foreseen."""
    outlook = state.outlook
    temperature = outlook.temperature if outlook else None
    if outlook is None or temperature is None or not outlook.what_ifs or np.isnan(temperature.mean_c).any():
        return None
    peak, limit_c = voice.temperature(_peak_c(temperature, temperature.mean_c, state.now_ms)), state.bed.cool_limit_c
    limit = "" if limit_c is None else f"; your limit is {voice.temperature(limit_c)}"
    return WhatIfView(
        bed=state.bed,
        headline=f"If nothing is changed the cloves average up to {peak} in the next four days{limit}.",
        changes=tuple(_changed(one, outlook, temperature, state, voice) for one in outlook.what_ifs),
        notes=(SMALL_PRINT, foreseen_from(state)),
        time_ms=temperature.time_ms,
        mean_c=temperature.mean_c,
        limit_c=limit_c,
    )


def planting_words(outlook: Outlook | None, voice: Voice) -> tuple[str, ...]:
    """What another depth and other covers would change in the soil of the coming week, for whoever is about to plant."""
    told = []
    for one in () if outlook is None else outlook.what_ifs:
        week_k = float(np.mean(one.cloves_k))
        if one.change in (Change.DEPTH, Change.COVER, Change.BARE):
            told.append(f"{_name(one, voice)}: {_by(week_k, voice)} where the cloves lie, over the coming week.")
    return tuple(told) or ("What another depth or other covers would change is not known: the days ahead are not foreseen.",)


def _changed(one: WhatIf, outlook: Outlook, temperature: TemperatureAhead, state: BedState, voice: Voice) -> IfChanged:
    mean_c = temperature.mean_c + one.mean_k
    peak = voice.temperature(_peak_c(temperature, mean_c, state.now_ms))
    off_k = float(one.mean_k[_near(temperature, state.now_ms)][-1])
    sentence = f"The cloves would average up to {peak} in the next four days; by their end {_by(off_k, voice)}."
    if one.change is Change.WATERING:
        sentence = f"{_water_sentence(one.amount, outlook.water, state, voice)} {sentence}"
    if one.change is Change.CLOTH and one.amount:
        sentence += f" It takes {100 * one.amount:.0f} % of the leaves' light."
    return IfChanged(f"{one.change.value}-{one.amount:g}", _name(one, voice, state.bed), sentence, mean_c)


def _water_sentence(amount_mm: float, water: WaterAhead | None, state: BedState, voice: Voice) -> str:
    if water is None:
        return "When the bed would be dry is not known."
    given_mm = amount_mm * state.bed.watering_efficiency
    dry = np.flatnonzero(np.maximum(water.depletion_mm - given_mm, 0.0) >= water.refill_mm)
    if water.refill_ms is None:
        return "The roots do not run short in the coming week without it."
    before = voice.by_part_of_day(water.refill_ms, state.now_ms)
    if not dry.size:
        return f"The roots would not run short in the coming week; without it, {before}."
    return f"The roots would run short {voice.by_part_of_day(int(water.time_ms[dry[0]]), state.now_ms)}; without it, {before}."


def _name(one: WhatIf, voice: Voice, bed: Bed | None = None) -> str:
    match one.change:
        case Change.CLOTH if not one.amount:
            return "The cloth taken off"
        case Change.CLOTH:
            return f"A {100 * one.amount:.0f} % cloth"
        case Change.COVER:
            return f"{voice.depth(one.amount)} more cover"
        case Change.BARE:
            return "No cover at all"
        case Change.DEPTH:
            return f"Cloves at {voice.depth(one.amount)}"
        case Change.WATERING if bed is not None and bed.area_m2 > 0.0:
            return f"A watering of {voice.water(one.amount * bed.area_m2)}"
        case _:
            return f"A watering of {voice.water_height(one.amount)}"


def _by(difference_k: float, voice: Voice) -> str:
    if abs(difference_k) < _TELLS_K:
        return "no warmer and no cooler"
    return f"{voice.warmer_by(abs(difference_k))} {'warmer' if difference_k > 0.0 else 'cooler'}"


def _near(temperature: TemperatureAhead, now_ms: int) -> NDArray[np.bool_]:
    near: NDArray[np.bool_] = (temperature.time_ms > now_ms) & (temperature.time_ms <= now_ms + EFFECT_MS)
    return near if near.any() else np.ones(temperature.time_ms.size, dtype=np.bool_)


def _peak_c(temperature: TemperatureAhead, mean_c: Array, now_ms: int) -> float:
    return float(mean_c[_near(temperature, now_ms)].max())
