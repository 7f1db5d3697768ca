"""Has a bed, or a kind of probe in it, fallen silent, so that nobody can tell what is due? Pure."""

from __future__ import annotations

from collector.advice.state import DAY_MS, MEAN_LEAST_COVER, MOISTURE_PATIENCE_MS, BedState, reaches_clove
from collector.advice.verdict import Verdict
from collector.calls import Due, Evidence

# Thermometers are missed when so much of a day is gone that its mean is no longer known, moisture
# probes when they no longer speak for now. Common practice, no source.
TEMPERATURE_SILENCE_MS = round((1 - MEAN_LEAST_COVER) * DAY_MS)
MOISTURE_SILENCE_MS = MOISTURE_PATIENCE_MS

EVIDENCE = Evidence.COMMON_PRACTICE
SOURCE = "Common practice, no source: after a quarter of a day without thermometers the daily mean is no longer known."


def judge(state: BedState, latched: Due | None) -> Verdict:
    """Should somebody look at the stake; `latched` where that was told and nothing was heard since."""
    if not state.bed.probes:
        return Verdict(Due.FINE, "no probe")
    if state.heard_ms is None:
        return Verdict(Due.NOT_KNOWN, "never heard")
    if state.now_ms - state.heard_ms > TEMPERATURE_SILENCE_MS:
        return Verdict(Due.NOT_KNOWN, "silent", tell=True, since_ms=state.heard_ms)
    if state.dug_up:  # it speaks, of the air; another call says so
        return Verdict(Due.FINE, "in the air")
    if _longer_than(TEMPERATURE_SILENCE_MS, state.temperature_heard_ms, state.now_ms):
        return Verdict(Due.NOT_KNOWN, "thermometers silent", tell=True, since_ms=state.temperature_heard_ms)
    if _longer_than(MOISTURE_SILENCE_MS, state.moisture_heard_ms, state.now_ms):
        return Verdict(Due.NOT_KNOWN, "moisture probes silent", tell=True, since_ms=state.moisture_heard_ms)
    # one that fails is heard and not believed: another call says so
    if _cloves_lost(state) and not state.failing and (state.clove_mean_cover > 0 or latched):
        return Verdict(Due.NOT_KNOWN, "near ones silent", tell=True)
    return Verdict(Due.FINE, "heard")


def _cloves_lost(state: BedState) -> bool:
    """Other thermometers speak, but those that the cloves' temperature is worked out from no longer do."""
    unknown = state.clove is None and state.clove_mean_c is None
    return unknown and state.bed.cool_limit_c is not None and state.temperature is not None and reaches_clove(state.bed)


def _longer_than(silence_ms: int, heard_ms: int | None, now_ms: int) -> bool:
    return heard_ms is not None and now_ms - heard_ms > silence_ms
