"""How far the last watering or rain got, in the grower's words. Pure."""

from __future__ import annotations

from collector.advice.state import HOUR_MS, BedState
from collector.advice.voice import Voice
from collector.advice.wetted import Cause, Wetted
from collector.soil.water import refill_litres
from collector.soil.wetting import Flow

# A probe that has not answered after so long was not reached. Common practice, no source.
ANSWER_WITHIN_MS = 2 * HOUR_MS
# More is asked for so long after the water came, while it is still that watering which fell short, and only where the root
# zone lacks this share of what the crop takes without stress. Common practice, no source.
MORE_WITHIN_MS, MORE_LEAST_SHARE = 12 * HOUR_MS, 0.2


def wetted_sentence(state: BedState, voice: Voice) -> str | None:
    """What became of the last watering or rain, and what to do with the hose while it runs; None where there was none lately."""
    wetted = state.wetted
    if wetted is None:
        return None
    if not wetted.reached_m:
        return _unanswered(wetted, state, voice)
    said = reached_words(state, wetted, voice)
    if wetted.running and not wetted.off and not wetted.raining:
        return f"{_ORDERS[wetted.flow]} {said}".strip()
    return " ".join([said, *_next_time(wetted, state, voice)])


def reached_words(state: BedState, wetted: Wetted, voice: Voice) -> str:
    """How far it got, against the depth of the roots."""
    water = "The rain" if wetted.cause is Cause.RAIN else "The water"
    reached, roots = voice.depth(wetted.reached_m), voice.depth(state.bed.root_depth_m)
    got = f"{water} reached {reached}"
    if wetted.reached_ms is not None:
        got += f" by {voice.when(wetted.reached_ms, state.now_ms)}"
    if wetted.flow is Flow.STOP:
        return f"{got}; {_the_rest(wetted, state, voice)}."
    if wetted.flow is Flow.NOT_KNOWN and (wetted.next_m is None or wetted.next_m > state.bed.root_depth_m):
        return f"{got}. How much deeper is not known: no probe speaks between {voice.depth_number(wetted.reached_m)} and {roots}."
    return f"{got}; the roots go down to {roots}."


# Where no probe sits where it would tell, nothing is asked for.
_ORDERS = {
    Flow.GO_ON: "Go on.",
    Flow.STOP: "Stop now.",
    Flow.TOO_MUCH: "Too much: water runs past the roots.",
    Flow.NOT_KNOWN: "",
}


def _the_rest(wetted: Wetted, state: BedState, voice: Voice) -> str:
    """Why no more is needed: the front sinks on by itself, or the soil below was full before."""
    roots = voice.depth(state.bed.root_depth_m)
    full_m = [one.depth_m for one in wetted.found if _full(one.before_m3_m3, state) and one.depth_m > wetted.reached_m]
    if full_m:
        return f"at {voice.depth(full_m[0])} the soil was full before, and the roots go down to {roots}"
    return f"the rest of the way, to the lowest roots at {roots}, it sinks by itself"


def _next_time(wetted: Wetted, state: BedState, voice: Voice) -> list[str]:
    """What to do about it, now that it no longer runs."""
    if wetted.flow is Flow.TOO_MUCH:
        return [] if wetted.cause is Cause.RAIN else ["That is past them: less next time."]
    came_ms = wetted.reached_ms if wetted.reached_ms is not None else wetted.onset_ms
    short = wetted.next_m is not None and wetted.next_m <= state.bed.root_depth_m and wetted.flow is not Flow.STOP
    if not short or state.water is None or state.now_ms - came_ms > MORE_WITHIN_MS or (wetted.running and not wetted.off):
        return []
    # What lies above the front has to be full before any goes on down, so it is the whole root zone's lack.
    if state.water.depletion_mm < MORE_LEAST_SHARE * state.water.raw_mm:
        return []
    litres = refill_litres(state.water.depletion_mm, state.bed.area_m2, state.bed.watering_efficiency)
    return [f"Give {voice.water(litres)} more to reach the lowest roots."]


def _unanswered(wetted: Wetted, state: BedState, voice: Voice) -> str:
    what = f"the {'rain' if wetted.cause is Cause.RAIN else 'watering'} of {voice.when(wetted.onset_ms, state.now_ms)}"
    young = state.now_ms - wetted.onset_ms < ANSWER_WITHIN_MS
    if not wetted.heard and wetted.frozen:
        return f"How far {what} went is not known: the soil is near freezing, and frozen water reads dry."
    if not wetted.heard and not young:
        return f"How far {what} went is not known: no moisture probe was heard both before and after it."
    if young:
        return f"No probe has noticed {what} yet."
    seeped_m = [one.depth_m for one in wetted.found if one.drained]
    if seeped_m:
        return f"No probe has seen {what} arrive; at {voice.depth(seeped_m[-1])} it has become a little wetter since."
    if all(_full(one.before_m3_m3, state) for one in wetted.found if one.before_m3_m3 == one.before_m3_m3):
        return f"No probe has noticed {what}: where they are the soil was full before."
    caught = "the mulch caught it" if state.bed.covers else "it ran off"
    if wetted.cause is Cause.RAIN:
        return f"No probe has noticed {what}: it was little, or {caught}."
    return f"No probe has noticed {what}. Look at the hose and the drippers: the water missed the probes, or {caught}."


def _full(before_m3_m3: float, state: BedState) -> bool:
    return before_m3_m3 >= state.bed.field_capacity
