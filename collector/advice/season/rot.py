"""Soil in which white rot infects, in a bed that has had it. Pure."""

from __future__ import annotations

from collector.advice.season.gates import at_stage
from collector.advice.season.rust import LEAFY, not_known_words, worth_a_message
from collector.advice.state import DAY_MS, BedState
from collector.advice.verdict import Verdict
from collector.advice.voice import Voice
from collector.advice.words import Words
from collector.calls import Call, Due, Evidence
from collector.crop.disease import WHITE_ROT_ONLY_WHERE, Fit

EVIDENCE = Evidence.PUBLISHED
SOURCE = (
    "UC IPM, white rot: infects at 50 to 75 °F, best at 60 to 65 °F, much inhibited above 78 °F (a PNW handbook: above 75 °F). "
    "Crowe & Hall 1980, Phytopathology 70:74-78 (abstract): 6 to 24 °C."
)
DONE_LASTS_MS = 14 * DAY_MS
# So many of the last 168 hours at the temperatures that it likes best are worth a look. Common practice, no source.
BEST_H = 84.0


def judge(state: BedState, latched: Due | None) -> Verdict:
    """Is it time to look for white rot; `latched` keeps the call until such soil is rare.

    Source: see SOURCE.
    """
    season = state.season
    if season is None or not state.bed.white_rot:
        return Verdict(Due.FINE, "never had it")
    if not at_stage(season, *LEAFY):
        return Verdict(Due.FINE, "no leaves")
    rot, inspected_ms = season.trouble.rot, season.trouble.inspected_ms
    if rot is None:
        return Verdict(Due.NOT_KNOWN, "silent")
    if rot.fit is Fit.NOT_KNOWN:
        return Verdict(Due.NOT_KNOWN, "gaps")
    limits = season.method.rot
    numbers = {
        "best_h": rot.best_h,
        "infects_h": rot.infects_h,
        "mean_c": rot.mean_c,
        "low_c": limits.best_low_c.value,
        "high_c": limits.best_high_c.value,
    }
    if rot.fit is Fit.YES and rot.best_h >= (0.5 * BEST_H if latched else BEST_H):
        return Verdict(Due.SOON, "its soil", numbers, tell=latched is not None or worth_a_message(inspected_ms, state.now_ms))
    return Verdict(Due.FINE, "not its soil", numbers)


def words(call: Call, state: BedState, voice: Voice) -> Words:
    """The call in words."""
    if call.due is Due.NOT_KNOWN:
        return not_known_words("White rot", "the soil at the cloves", state.bed.clove_depth_m or 0.0, above_ground=False)
    numbers = call.numbers
    low, high = (voice.temperature(numbers[name]) for name in ("low_c", "high_c"))
    return Words(
        heading="Look for white rot",
        sentence=(
            f"This week the soil lay {numbers.get('best_h', 0.0):.0f} hours at {low} to {high}, which white rot likes best. "
            "Yellow older "
            "leaves, plants that pull out with ease, white down with black grains at the base?"
        ),
        button="Looked",
        done="You have looked.",
        why=(
            f"Mean of the soil at the cloves: {voice.temperature(numbers['mean_c'])}." if "mean_c" in numbers else "",
            WHITE_ROT_ONLY_WHERE,
            "Soil warm enough to stop it is what mulch and shade take away: the two do not go together.",
        ),
        rule="Asked for only in a bed that has had white rot, when half of a week was at the temperatures that it likes best.",
        would_change="A look ends it for a fortnight. Take sick plants away whole, and their soil off your boots and tools.",
        above_ground=False,
        depth_m=state.bed.clove_depth_m or 0.0,
    )
