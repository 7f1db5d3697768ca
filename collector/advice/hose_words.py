"""What the call to turn the water off is asked and explained with. Pure."""

from __future__ import annotations

import math

from collector.advice import hose
from collector.advice.state import HOUR_MS, BedState
from collector.advice.voice import Voice
from collector.advice.wetted import Wetted
from collector.advice.wetted_words import reached_words
from collector.advice.words import Words
from collector.calls import Call
from collector.soil.wetting import STOP_LEAST_SHARE


def hose_words(call: Call, state: BedState, voice: Voice) -> Words:
    wetted, roots_m = state.wetted, state.bed.root_depth_m
    past = call.reason == "past the roots"
    return Words(
        heading="Turn the water off: it runs past the roots" if past else "Turn the water off",
        sentence=_sentence(wetted, state, voice),
        button="Water is off",
        done="The water is off.",
        why=_why(wetted, state, voice),
        rule=(
            f"Water is enough when a probe between {voice.depth_number(STOP_LEAST_SHARE * roots_m)} and {voice.depth(roots_m)}, "
            "the nearest to two thirds of the roots, shows a step, or was full before; "
            f"and too much when one below the roots steps. The call ends by itself after {hose.STANDS_MS // HOUR_MS} hours."
        ),
        would_change="A rain gauge that says it rains, or your word that the water is off, would end this call.",
        above_ground=False,
        depth_m=call.numbers.get("reached_m", roots_m),
    )


def _sentence(wetted: Wetted | None, state: BedState, voice: Voice) -> str:
    if wetted is None:  # a call that is only remembered
        return "The water had come down far enough."
    maybe_rain = "" if wetted.rain_known else " If it is rain, there is nothing to do."
    return reached_words(state, wetted, voice) + maybe_rain


def _why(wetted: Wetted | None, state: BedState, voice: Voice) -> tuple[str, ...]:
    lines = []
    for one in wetted.found if wetted else ():
        at = f"At {voice.depth(one.depth_m)}"
        if one.front_ms is not None:
            rose = f"from {100 * one.before_m3_m3:.0f} to {100 * (one.before_m3_m3 + one.rise_m3_m3):.0f} %"
            lines.append(f"{at} the water came by {voice.when(one.front_ms, state.now_ms)}, {rose}.")
        elif math.isnan(one.rise_m3_m3):
            lines.append(f"{at} nothing was heard before or after.")
        else:
            lines.append(f"{at} no step, from {100 * one.before_m3_m3:.0f} % before.")
    return tuple(lines)
