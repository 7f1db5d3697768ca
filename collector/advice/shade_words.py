"""What the call for shade is asked and explained with. Pure."""

from __future__ import annotations

from collector.advice import shade
from collector.advice.season.gates import bulbing_words, resting_words
from collector.advice.state import BedState
from collector.advice.voice import Voice
from collector.advice.words import Words, foreseen_from
from collector.calls import Call, Due
from collector.model import Bed

# The first temperature that growers' pages name for bulbing. Common practice, no source.
STILL_COOL_C = 15.5


def shade_words(call: Call, state: BedState, voice: Voice) -> Words:
    numbers = call.numbers
    soon = call.due is Due.SOON
    if call.due is Due.NOT_KNOWN:
        heading, button = "Shade: not known", None
    else:
        heading, button = (f"Have {_cloth(state.bed)} ready" if soon else f"Lay {_cloth(state.bed)}"), "Cloth is laid"
    limit_c = state.bed.cool_limit_c
    limit = voice.temperature(limit_c) if limit_c is not None else "none"
    again = voice.temperature(limit_c - shade.SLACK_K) if limit_c is not None else "none"
    return Words(
        heading=heading,
        sentence=_shade_sentence(call, state, voice),
        button=button,
        done="The cloth is laid. A daily mean follows slowly: it is asked again after three days.",
        why=_shade_why(call, state, voice),
        rule=(
            f"Shade is due when the mean of the last 24 hours at clove depth is over your cool limit, {limit}, "
            f"or would be within a day, and fine again once it is {voice.warmer_by(shade.SLACK_K)} under it."
        ),
        would_change=(
            f"A mean of {again} or less, or another limit of yours, would end this call."
            if "mean_c" in numbers
            else "A day of readings near the depth of the cloves would tell."
        ),
        above_ground=True,
        depth_m=state.bed.clove_depth_m or 0.0,
        caution="Posts to drive? Buried lines: look first." if button else None,
    )


def _cloth(bed: Bed) -> str:
    return "the shade cloth" if bed.shade_cloth is None else f"the {100 * bed.shade_cloth:.0f} % cloth"


def _shade_sentence(call: Call, state: BedState, voice: Voice) -> str:
    numbers, bed = call.numbers, state.bed
    if "mean_c" in numbers:
        mean_c, limit_c = numbers["mean_c"], numbers["limit_c"]
        mean, limit = voice.temperature(mean_c), voice.temperature(limit_c)
        match call.reason:
            case "would pass the limit":
                when = voice.by_part_of_day(round(numbers["passes_ms"]), state.now_ms)
                by = f"Lay it by {voice.day(round(numbers['by_ms']), state.now_ms)}: the" if call.due is Due.SOON else "The"
                return f"{by} day's mean at the cloves would pass your limit, {limit}, {when}.{_peaks(call, state, voice)}"
            case "would come near the limit":
                peak = voice.temperature(numbers["peak_c"])
                return f"The cloves would average up to {peak} in the next four days; your limit is {limit}."
            case "rising towards the limit":
                risen = voice.warmer_by(mean_c - numbers["before_c"])
                if mean == limit:
                    said = f"The cloves averaged just under your limit, {limit}, over the last 24 hours"
                    return f"{said}, {risen} more than the day before."
                return (
                    f"The cloves averaged {mean} over the last 24 hours, {risen} more than the day before; your limit is {limit}."
                )
            case "not yet cool again":
                again = voice.temperature(limit_c - shade.SLACK_K)
                return f"The cloves averaged {mean} over the last 24 hours; your limit is {limit}, fine again at {again}."
        said = f"just over your limit, {limit}, over the last 24 hours"
        said = said if mean == limit else f"{mean} over the last 24 hours; your limit is {limit}"
        return f"The cloves averaged {said}.{_after(call, state, voice)}"
    clove = voice.depth(bed.clove_depth_m) if bed.clove_depth_m is not None else ""
    match call.reason:
        case "silent":
            return f"No thermometer of this bed has been heard since {voice.when(call.since_ms, state.now_ms)}."
        case "never heard":
            return "No thermometer of this bed has spoken yet."
        case "near ones silent":
            return f"The thermometers near the cloves, at {clove}, are not heard."
        case "no probe near":
            return f"No thermometer is near enough to the cloves, at {clove}."
        case _:
            hours = round(24 * numbers.get("cover", 0.0))
            return f"Only {hours} of the last 24 hours are known at the cloves; 18 make a daily mean."


def _peaks(call: Call, state: BedState, voice: Voice) -> str:
    """The highest mean with the cloth and without, where there is a cloth to lay."""
    if "cloth_peak_c" not in call.numbers:
        return ""
    with_it, without = (voice.temperature(call.numbers[name]) for name in ("cloth_peak_c", "peak_c"))
    return f" With {_cloth(state.bed)} they would average {with_it} at most, instead of {without}."


def _after(call: Call, state: BedState, voice: Voice) -> str:
    """Where the mean is in four days with the cloth and without, where there is a cloth to lay."""
    if "cloth_then_c" not in call.numbers:
        return ""
    with_it, without = (voice.temperature(call.numbers[name]) for name in ("cloth_then_c", "then_c"))
    day = voice.day(round(call.numbers["then_ms"]), state.now_ms)
    return f" With {_cloth(state.bed)} it would be {with_it} by {day}, instead of {without}."


def _shade_why(call: Call, state: BedState, voice: Voice) -> tuple[str, ...]:
    numbers, lines = call.numbers, []
    if "mean_c" in numbers:
        lines.append(f"Mean at the cloves over the last 24 hours: {voice.temperature(numbers['mean_c'])}.")
        lines.append(f"Your cool limit: {voice.temperature(numbers['limit_c'])}.")
        lines.append(f"By common practice, without a source, a daily mean of {voice.temperature(STILL_COOL_C)} is still cool.")
    if "before_c" in numbers:
        lines.append(f"Mean of the 24 hours before: {voice.temperature(numbers['before_c'])}.")
    if state.clove is not None:
        how = "measured" if state.clove.measured else "worked out from the thermometers around them"
        lines.append(f"At the cloves now: {voice.temperature(state.clove.value)}, {how}.")
    if "cover" in numbers:
        lines.append(f"Readings cover {round(24 * numbers['cover'])} of those 24 hours.")
    if "peak_c" in numbers:
        lines.append(f"Highest mean foreseen for the next four days: {voice.temperature(numbers['peak_c'])}.")
        lines.append(foreseen_from(state))
    if "cloth_peak_c" in numbers:
        share = round(100 * (state.bed.shade_cloth or 0.0))
        lines.append(
            f"With the cloth: {voice.temperature(numbers['cloth_peak_c'])}. It takes {share} % of the leaves' light too."
        )
    return tuple(lines)


def shade_in_brief(call: Call, state: BedState, voice: Voice) -> str:
    """Why no shade is asked for, with the numbers where there are any."""
    match call.reason:
        case "no limit":
            return "No cool limit is set."
        case "no planting":
            return "No planting is named, so there are no cloves to keep cool."
        case "no probe":
            return "No thermometer in this bed."
        case "not planted yet" | "lifted":
            return resting_words(call.reason)
        case "bulbing":
            return f"{bulbing_words(state.season)}, so the cool limit is no longer kept."
        case "cloth lies":
            mean, limit = voice.temperature(call.numbers["mean_c"]), voice.temperature(call.numbers["limit_c"])
            if call.numbers["mean_c"] > call.numbers["limit_c"]:
                return (
                    f"Still the cloves averaged {mean} over the last 24 hours; your limit is {limit}. Thicker mulch would help."
                )
            said = f"The cloth lies, and the cloves averaged {mean}; your limit is {limit}."
            if call.numbers.get("peak_c", call.numbers["limit_c"]) <= call.numbers["limit_c"]:
                return said
            peak = voice.temperature(call.numbers["peak_c"])
            return f"{said} Even so they would average up to {peak} in the next four days. Thicker mulch would help."
        case _:
            mean, limit = voice.temperature(call.numbers["mean_c"]), voice.temperature(call.numbers["limit_c"])
            return f"The cloves averaged {mean} over the last 24 hours; your limit is {limit}."
