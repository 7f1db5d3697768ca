"""May the shade cloth come off again: when bulbing has begun, or when the days ahead stay cool without it. Pure."""

from __future__ import annotations

import math

from collector.advice.season.gates import bulbing_words, cool_wanted
from collector.advice.shade import EFFECT_MS, SLACK_K
from collector.advice.state import DAY_MS, BedState
from collector.advice.verdict import Verdict
from collector.advice.voice import Voice
from collector.advice.words import Words, foreseen_from
from collector.calls import Call, Due, Evidence

EVIDENCE = Evidence.COMMON_PRACTICE
SOURCE = (
    "Common practice, no source: a cloth costs the leaves the light that it takes, so it lies no longer than the soil needs it. "
    "In a trial with bell pepper more shade meant cooler soil and less light for the leaves (Diaz-Perez 2013, HortScience, "
    "abstract); none with garlic was found."
)
DONE_LASTS_MS = DAY_MS
# A cloth that was just laid has not shown yet what it does. Common practice, no source.
LIES_LEAST_MS = 2 * DAY_MS


def judge(state: BedState, latched: Due | None) -> Verdict:
    """May the cloth come off; `latched` is what the call was when told, where the bed has not recovered since.

    Source: common practice, no source.
    """
    season = state.season
    if season is None or not season.cloth.lies:
        return Verdict(Due.FINE, "no cloth lies")
    numbers = {"share": state.bed.shade_cloth or math.nan}
    if not season.growing:
        return Verdict(Due.DUE, "nothing grows", numbers, tell=True)
    if not cool_wanted(season):
        return Verdict(Due.DUE, "bulbing", numbers, tell=True)
    limit_c, bare_c = state.bed.cool_limit_c, _bare_peak_c(state)
    if limit_c is None:
        return Verdict(Due.FINE, "no limit", numbers)
    if state.clove_mean_c is None:
        return Verdict(Due.NOT_KNOWN, "cloves not known", numbers)
    if bare_c is None:
        return Verdict(Due.NOT_KNOWN, "no cloth is told" if state.bed.shade_cloth is None else "not foreseen", numbers)
    numbers |= {"limit_c": limit_c, "bare_c": bare_c, "mean_c": state.clove_mean_c}
    new = season.cloth.since_ms is not None and state.now_ms - season.cloth.since_ms < LIES_LEAST_MS
    cool_c = limit_c if latched else limit_c - 2.0 * SLACK_K  # once told it stands until the limit itself would be passed
    if new or max(bare_c, state.clove_mean_c) > cool_c:
        return Verdict(Due.FINE, "still needed", numbers)
    return Verdict(Due.DUE, "cool without it", numbers, tell=True)


def words(call: Call, state: BedState, voice: Voice) -> Words:
    """The call in words."""
    numbers = call.numbers
    cloth = "the shade cloth" if math.isnan(numbers.get("share", math.nan)) else f"the {100 * numbers['share']:.0f} % cloth"
    light = (
        "" if math.isnan(numbers.get("share", math.nan)) else f" It takes {100 * numbers['share']:.0f} % of the leaves' light."
    )
    heading = f"Take {cloth} off"
    if call.due is Due.NOT_KNOWN:
        heading, light = "Cloth off again: not known", ""
    match call.reason:
        case "cloves not known":
            sentence = "How warm the cloves are is not known, so nobody can say whether they need the cloth."
        case "no cloth is told":
            sentence = (
                "How much of the sun it takes is not told: with shade_cloth_pct in the garden file its effect is worked out."
            )
        case "not foreseen":
            sentence = "The days ahead are not foreseen, so nobody can say how warm the cloves would be without it."
        case "nothing grows":
            sentence = "Nothing grows under it any more."
        case "cool without it":
            peak, limit = voice.temperature(numbers["bare_c"]), voice.temperature(numbers["limit_c"])
            sentence = f"Without it the cloves would average up to {peak} in the next four days; your limit is {limit}.{light}"
        case _:
            sentence = f"{bulbing_words(state.season)}, and the bulbs now grow by light.{light}"
    since_ms = state.season.cloth.since_ms if state.season else None
    why = [] if since_ms is None else [f"The cloth lies since {voice.when(since_ms, state.now_ms)}."]
    if "mean_c" in numbers:
        why += [
            f"Mean at the cloves over the last 24 hours, under the cloth: {voice.temperature(numbers['mean_c'])}.",
            f"Highest mean foreseen for the next four days without it: {voice.temperature(numbers['bare_c'])}.",
            f"Your cool limit: {voice.temperature(numbers['limit_c'])}.",
            foreseen_from(state),
        ]
    return Words(
        heading=heading,
        sentence=sentence,
        button=None if call.due is Due.NOT_KNOWN else "Cloth is off",
        done="The cloth is off.",
        why=tuple(why),
        rule=(
            "The cloth may come off when bulbing has begun in the whole bed, or when the cloves would stay "
            f"{voice.warmer_by(2.0 * SLACK_K)} under your limit for four days without it."
        ),
        would_change="A warmer outlook would let it lie.",
        above_ground=True,
        depth_m=state.bed.clove_depth_m or 0.0,
    )


def _bare_peak_c(state: BedState) -> float | None:
    """Highest mean of 24 h at the cloves over the next days without the cloth [°C]; None where it is not foreseen."""
    temperature = state.outlook.temperature if state.outlook else None
    if temperature is None or temperature.bare_mean_c is None:
        return None
    near = (temperature.time_ms > state.now_ms) & (temperature.time_ms <= state.now_ms + EFFECT_MS)
    peak_c = float(temperature.bare_mean_c[near].max(initial=-math.inf))
    return peak_c if math.isfinite(peak_c) else None
