"""Has the water come down far enough while it runs: stop now, or too much? Pure."""

from __future__ import annotations

from collector.advice.state import HOUR_MS, BedState
from collector.advice.verdict import Verdict
from collector.advice.wetted import RUNNING_MS
from collector.calls import Due, Evidence
from collector.soil.wetting import Flow

# "Stop" is worth saying while the water can still be running; once told it stands for as long as somebody may have
# forgotten the hose, and then ends by itself. Common practice, no source.
FRESH_MS = RUNNING_MS
STANDS_MS = 4 * HOUR_MS

EVIDENCE = Evidence.COMMON_PRACTICE
SOURCE = (
    "To turn the water off when the wetting front has come to a set depth within the roots: Stirzaker 2003, Irrigation "
    "Science 22, 177-185, and Stirzaker and Hutchinson 2005, Australian Journal of Soil Research 43, 935-943 (their "
    "abstracts). That this depth is about two thirds of the roots' is common practice, no source."
)


def judge(state: BedState, told: Due | None) -> Verdict:
    """Is it time to turn the water off; `told` where that was told of this watering.

    Source: Stirzaker 2003, as in SOURCE; the times are common practice.
    """
    wetted = state.wetted
    if wetted is None:
        return Verdict(Due.FINE, "no water")
    if wetted.raining:
        return Verdict(Due.FINE, "rain")
    if wetted.off:
        return Verdict(Due.FINE, "water is off")
    if wetted.stop_ms is None or state.now_ms - wetted.stop_ms > (STANDS_MS if told else FRESH_MS):
        return Verdict(Due.FINE, "not far enough" if wetted.stop_ms is None else "long ago")
    return Verdict(
        Due.DUE,
        "past the roots" if wetted.flow is Flow.TOO_MUCH else "far enough",
        {"reached_m": wetted.reached_m, "root_depth_m": state.bed.root_depth_m},
        tell=True,
        since_ms=wetted.stop_ms,
    )
