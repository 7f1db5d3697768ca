"""Is shade due: the daily mean at the cloves against the grower's cool limit. Pure."""

from __future__ import annotations

from collector.advice.state import BedState, reaches_clove
from collector.advice.verdict import Verdict
from collector.calls import Due, Evidence
from collector.units import Quantity

# Fine again only this far under the limit [K], so that a mean that lingers at it is told once.
# Twice the ±0.5 °C that the common thermometer keeps would be 1 K (DS18B20 data sheet, p. 1), but
# its error hardly changes from day to day, so half of that does. Common practice, no source.
SLACK_K = 0.5
# "Soon" begins this far under the limit [K], if the mean rises by at least so much a day [K]: the
# step of the thermometer is 0.06 K (same data sheet). Common practice, no source.
SOON_K = 1.0
RISING_K_PER_DAY = 0.1

EVIDENCE = Evidence.WEAK
SOURCE = (
    "The limit is yours. No peer-reviewed soil temperature at bulb depth that starts or stops bulbing was found; "
    "15 to 20 °C is often repeated without a primary source. Against it: in growth rooms, days of 30 and nights of 20 °C "
    "with 14 to 16 hours of light made the most bulbs (Atif et al. 2019, Agronomy 9(12):879)."
)


def judge(state: BedState, latched: bool) -> Verdict:
    """Is shade due; `latched` where it was due at the last look and has not recovered since.

    The limit has no good source (see SOURCE); the margins are common practice.
    """
    limit_c, mean_c, before_c = state.bed.cool_limit_c, state.clove_mean_c, state.clove_mean_before_c
    if limit_c is None:
        return Verdict(Due.FINE, "no limit")
    if state.bed.clove_depth_m is None:
        return Verdict(Due.FINE, "no planting")
    if mean_c is None:
        return _not_known(state)
    numbers = {"limit_c": limit_c, "mean_c": mean_c, "cover": state.clove_mean_cover}
    if before_c is not None:
        numbers["before_c"] = before_c
    if mean_c > limit_c:
        return Verdict(Due.DUE, "over the limit", numbers, tell=True)
    if latched and mean_c > limit_c - SLACK_K:
        return Verdict(Due.DUE, "not yet cool again", numbers, tell=True)
    if before_c is not None and mean_c > limit_c - SOON_K and mean_c - before_c >= RISING_K_PER_DAY:
        return Verdict(Due.SOON, "rising towards the limit", numbers)
    return Verdict(Due.FINE, "under the limit", numbers)


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
