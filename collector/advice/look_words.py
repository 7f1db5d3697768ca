"""What the call to look at a silent stake is asked and explained with. Pure."""

from __future__ import annotations

from collector.advice import silence
from collector.advice.state import HOUR_MS, BedState
from collector.advice.voice import Voice
from collector.advice.words import Words
from collector.calls import Call

_SILENT = {
    "silent": "Nothing has",
    "thermometers silent": "No thermometer has",
    "moisture probes silent": "No moisture probe has",
    "near ones silent": "No thermometer near the cloves has",
}


def look_words(call: Call, state: BedState, voice: Voice) -> Words:
    never = call.reason == "never heard"
    return Words(
        heading="Wake the stake" if never else "Look at the stake",
        sentence=_look_sentence(call, state, voice),
        button=None if never else "I have looked",
        done="You have looked. It is asked again after a day if it stays silent.",
        why=_look_why(state, voice),
        rule=(
            "A look is due when nothing, or no thermometer, has been heard for "
            f"{silence.TEMPERATURE_SILENCE_MS // HOUR_MS} hours, "
            f"or no moisture probe for {silence.MOISTURE_SILENCE_MS // HOUR_MS}."
        ),
        would_change="The next reading would end this call.",
        above_ground=False,
        depth_m=state.bed.clove_depth_m or state.bed.root_depth_m / 2,
        caution="Buried lines: look before you push a stake in.",
    )


def _look_sentence(call: Call, state: BedState, voice: Voice) -> str:
    if call.reason in _SILENT:
        since = voice.when(call.since_ms, state.now_ms)
        return f"{_SILENT[call.reason]} been heard of this bed since {since}. Battery, cable, or was it pulled up?"
    depths_m = sorted({probe.depth_m for probe in state.bed.probes if probe.depth_m is not None})
    deep = f" Push it in so that its probes lie {voice.depths(depths_m)} below the soil, not below the mulch." if depths_m else ""
    return f"No probe of this bed has spoken yet.{deep}"


def _look_why(state: BedState, voice: Voice) -> tuple[str, ...]:
    heard = (
        ("Anything", state.heard_ms),
        ("A thermometer", state.temperature_heard_ms),
        ("A moisture probe", state.moisture_heard_ms),
    )
    return tuple(f"{what} was last heard {voice.when(at_ms, state.now_ms)}." for what, at_ms in heard if at_ms is not None)
