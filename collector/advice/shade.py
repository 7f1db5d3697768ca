"""Is shade due: the mean of a day at the cloves, now and in the days ahead, against the grower's cool limit. Pure."""

from __future__ import annotations

import math

import numpy as np

from collector.advice.season.gates import cool_wanted, rests
from collector.advice.state import DAY_MS, BedState, reaches_clove
from collector.advice.verdict import Verdict
from collector.calls import Due, Evidence
from collector.units import Quantity

# Fine again only this far under the limit [K], so that a mean that lingers at it is told once.
# Twice the ±0.5 °C that the common thermometer keeps would be 1 K (DS18B20 data sheet, p. 1), but
# its error hardly changes from day to day, so half of that does. Common practice, no source.
SLACK_K = 0.5
# What was told by a forecast stands until the highest mean foreseen is this far under the limit [K]: from one hour to the next
# a forecast of the days ahead wavers by half of it and more, and the phone should not hear of that. Common practice, no source.
FORESEEN_SLACK_K = 1.0
# "Soon" begins this far under the limit [K], if the mean rises by at least so much a day [K]: the
# step of the thermometer is 0.06 K (same data sheet). Common practice, no source.
SOON_K = 1.0
RISING_K_PER_DAY = 0.1

# A cloth must lie for about a day before a mean of 24 h at the cloves has felt it, so it is due a day before the mean would
# pass the limit; and soon two days before that, time to find cloth and posts. Common practice, no source.
CLOTH_TAKES_MS = DAY_MS
LEAD_MS = 3 * DAY_MS
# What the cloth does is told for these days: longer than the lead, since it works slowly.
EFFECT_MS = 4 * DAY_MS

EVIDENCE = Evidence.WEAK
SOURCE = (
    "The limit is yours. No peer-reviewed soil temperature at bulb depth that starts or stops bulbing was found; "
    "15 to 20 °C is often repeated without a primary source. Against it: in growth rooms, days of 30 and nights of 20 °C "
    "with 14 to 16 hours of light made the most bulbs (Atif et al. 2019, Agronomy 9(12):879)."
)


def judge(state: BedState, latched: Due | None) -> Verdict:
    """Is shade due; `latched` is what it was when told, where it has not recovered since.

    The limit has no good source (see SOURCE); the margins are common practice.
    """
    if (resting := rests(state)) is not None:
        return Verdict(Due.FINE, resting)
    if state.season is not None and not cool_wanted(state.season):
        return Verdict(Due.FINE, "bulbing")
    limit_c, mean_c, before_c = state.bed.cool_limit_c, state.clove_mean_c, state.clove_mean_before_c
    if limit_c is None:
        return Verdict(Due.FINE, "no limit")
    if state.bed.clove_depth_m is None:
        return Verdict(Due.FINE, "no planting")
    if mean_c is None:
        return _not_known(state)
    ahead = numbers_ahead(state, limit_c)
    numbers = {"limit_c": limit_c, "mean_c": mean_c, "cover": state.clove_mean_cover, **ahead}
    if before_c is not None:
        numbers["before_c"] = before_c
    if state.season is not None and state.season.cloth.lies:
        return Verdict(Due.FINE, "cloth lies", numbers)
    was_due = latched is not None and latched is not Due.SOON
    passes_in_ms = ahead["passes_ms"] - state.now_ms if "passes_ms" in ahead else math.inf
    if mean_c > limit_c:
        return Verdict(Due.DUE, "over the limit", numbers, tell=True)
    if passes_in_ms <= (LEAD_MS if was_due else CLOTH_TAKES_MS):
        return Verdict(Due.DUE, "would pass the limit", numbers, tell=True, foreseen=True)
    if was_due and mean_c > limit_c - SLACK_K:
        return Verdict(Due.DUE, "not yet cool again", numbers, tell=True)
    if passes_in_ms <= LEAD_MS:
        return Verdict(Due.SOON, "would pass the limit", numbers, tell=True, foreseen=True)
    if latched and ahead and ahead["peak_c"] > limit_c - FORESEEN_SLACK_K:
        return Verdict(Due.SOON, "would come near the limit", numbers, tell=True, foreseen=True)
    if not ahead and before_c is not None and mean_c > limit_c - SOON_K and mean_c - before_c >= RISING_K_PER_DAY:
        return Verdict(Due.SOON, "rising towards the limit", numbers)
    return Verdict(Due.FINE, "under the limit", numbers)


def numbers_ahead(state: BedState, limit_c: float) -> dict[str, float]:
    """What the outlook says of the mean of 24 h at the cloves; empty where it says nothing.

    `peak_c` is its highest of the next four days, `then_c` what it is at their end, `then_ms`; `cloth_peak_c` and
    `cloth_then_c` are the same with the grower's cloth, absent where there is none to lay. `passes_ms` is when it first
    passes the limit, and `by_ms` when a cloth would have to lie for that not to be, both absent where it stays under.
    """
    temperature = state.outlook.temperature if state.outlook else None
    if temperature is None:
        return {}
    near = (temperature.time_ms > state.now_ms) & (temperature.time_ms <= state.now_ms + EFFECT_MS)
    means_c, times_ms = temperature.mean_c[near], temperature.time_ms[near]
    if not means_c.size or np.isnan(means_c).any():
        return {}
    numbers = {"peak_c": float(means_c.max()), "then_c": float(means_c[-1]), "then_ms": float(times_ms[-1])}
    over = np.flatnonzero(means_c > limit_c)
    if over.size:
        numbers["passes_ms"] = float(times_ms[over[0]])
        numbers["by_ms"] = max(numbers["passes_ms"] - CLOTH_TAKES_MS, float(state.now_ms))
    if temperature.cloth_share is not None and temperature.with_cloth_mean_c is not None:
        with_cloth_c = temperature.with_cloth_mean_c[near]
        numbers |= {"cloth_peak_c": float(with_cloth_c.max()), "cloth_then_c": float(with_cloth_c[-1])}
    return numbers


def _not_known(state: BedState) -> Verdict:
    if not state.bed.probes_of(Quantity.SOIL_TEMPERATURE):
        return Verdict(Due.NOT_KNOWN, "no probe")
    if state.temperature_heard_ms is None:
        return Verdict(Due.NOT_KNOWN, "never heard")
    if state.temperature is None:
        return Verdict(Due.NOT_KNOWN, "silent", since_ms=state.temperature_heard_ms)
    if state.clove is None:
        return Verdict(Due.NOT_KNOWN, "near ones silent" if reaches_clove(state.bed) else "no probe near")
    return Verdict(Due.NOT_KNOWN, "too short", {"cover": state.clove_mean_cover})
