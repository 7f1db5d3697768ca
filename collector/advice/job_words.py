"""What each job is called, asked and explained with. Pure; `wording` puts the parts together."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from collector.advice import shade, silence, water
from collector.advice.state import HOUR_MS, BedState
from collector.advice.voice import Voice
from collector.calls import Call, Due, Job


@dataclass(frozen=True, slots=True)
class Words:
    """The parts of a worded call that differ from job to job; `done` is the sentence once it is done."""

    heading: str
    sentence: str
    button: str | None
    done: str
    why: tuple[str, ...]
    rule: str
    would_change: str
    above_ground: bool
    depth_m: float
    caution: str | None = None


# ---------------------------------------------------------------- shade


def _shade(call: Call, state: BedState, voice: Voice) -> Words:
    numbers = call.numbers
    soon = call.due is Due.SOON
    if call.due is Due.NOT_KNOWN:
        heading, button = "Shade: not known", None
    else:
        heading, button = ("Have the shade cloth ready" if soon else "Lay the shade cloth"), "Cloth is laid"
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
            f"and fine again once it is {voice.warmer_by(shade.SLACK_K)} under it."
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


def _shade_sentence(call: Call, state: BedState, voice: Voice) -> str:
    numbers, bed = call.numbers, state.bed
    if "mean_c" in numbers:
        mean_c, limit_c = numbers["mean_c"], numbers["limit_c"]
        mean, limit = voice.temperature(mean_c), voice.temperature(limit_c)
        if call.reason == "rising towards the limit":
            risen = voice.warmer_by(mean_c - numbers["before_c"])
            if mean == limit:
                said = f"The cloves averaged just under your limit, {limit}, over the last 24 hours"
                return f"{said}, {risen} more than the day before."
            return f"The cloves averaged {mean} over the last 24 hours, {risen} more than the day before; your limit is {limit}."
        if call.reason == "not yet cool again":
            again = voice.temperature(limit_c - shade.SLACK_K)
            return f"The cloves still averaged {mean} over the last 24 hours; your limit is {limit}, fine again at {again}."
        if mean == limit:
            return f"The cloves averaged just over your limit, {limit}, over the last 24 hours."
        return f"The cloves averaged {mean} over the last 24 hours; your limit is {limit}."
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


def _shade_why(call: Call, state: BedState, voice: Voice) -> tuple[str, ...]:
    numbers, lines = call.numbers, []
    if "mean_c" in numbers:
        lines.append(f"Mean at the cloves over the last 24 hours: {voice.temperature(numbers['mean_c'])}.")
        lines.append(f"Your cool limit: {voice.temperature(numbers['limit_c'])}.")
    if "before_c" in numbers:
        lines.append(f"Mean of the 24 hours before: {voice.temperature(numbers['before_c'])}.")
    if state.clove is not None:
        how = "measured" if state.clove.measured else "worked out from the thermometers around them"
        lines.append(f"At the cloves now: {voice.temperature(state.clove.value)}, {how}.")
    if "cover" in numbers:
        lines.append(f"Readings cover {round(24 * numbers['cover'])} of those 24 hours.")
    return tuple(lines)


def _shade_in_brief(call: Call, voice: Voice) -> str:
    """Why no shade is asked for, with the numbers where there are any."""
    match call.reason:
        case "no limit":
            return "No cool limit is set."
        case "no planting":
            return "No planting is named, so there are no cloves to keep cool."
        case "no probe":
            return "No thermometer in this bed."
        case _:
            mean, limit = voice.temperature(call.numbers["mean_c"]), voice.temperature(call.numbers["limit_c"])
            return f"The cloves averaged {mean} over the last 24 hours; your limit is {limit}."


# ---------------------------------------------------------------- water


def _water(call: Call, state: BedState, voice: Voice) -> Words:
    numbers, bed = call.numbers, state.bed
    known = "litres" in numbers
    fine_mm = water.FINE_SHARE * numbers["raw_mm"] if known else 0.0
    return Words(
        heading=f"Water {voice.water(numbers['litres'])}" if known else "Water: not known",
        sentence=_water_sentence(call, state, voice),
        button="Watered" if known else None,
        done="Watered. It is asked again after a day if the probes still find the root zone dry.",
        why=_water_why(call, state, voice),
        rule=(
            "Water is due when the root zone lacks as much as the crop can take without stress, the refill line, "
            f"and fine again once it lacks less than {100 * water.FINE_SHARE:.0f} % of that."
        ),
        would_change=(
            f"Less than {voice.water(fine_mm * bed.area_m2)} short of full, by rain or by hose, would end this call."
            if known
            else "A moisture reading from the root zone would tell."
        ),
        above_ground=False,
        depth_m=bed.root_depth_m / 2,
    )


def _water_sentence(call: Call, state: BedState, voice: Voice) -> str:
    if "litres" in call.numbers:
        hose = f"{voice.hose(call.numbers['minutes'])}. " if "minutes" in call.numbers else ""
        return hose + _water_in_brief(call, state, voice)
    if call.reason == "silent":
        return f"No moisture probe of this bed has been heard since {voice.when(call.since_ms, state.now_ms)}."
    return "No moisture probe of this bed has spoken yet."


def _water_why(call: Call, state: BedState, voice: Voice) -> tuple[str, ...]:
    numbers, bed = call.numbers, state.bed
    if "litres" not in numbers:
        return ()
    gone = voice.water(numbers["depletion_mm"] * bed.area_m2)
    zone, holds = voice.depth(numbers["root_depth_m"]), voice.water(numbers["taw_mm"] * bed.area_m2)
    refill = voice.water(numbers["raw_mm"] * bed.area_m2)
    lines = [
        f"When full, the top {zone} of this bed hold {holds} that roots can take.",
        f"Of that, {gone} are gone by the moisture probes.",
        f"The crop takes {100 * numbers['p']:.0f} %, {refill}, without stress: the refill line.",
        f"The soil is full at {100 * bed.field_capacity:.0f} % water by volume, and wilts at {100 * bed.wilting_point:.0f} %.",
    ]
    if bed.watering_efficiency < 1:
        lines.append(f"Of the water you give, {100 * bed.watering_efficiency:.0f} % is counted as staying in the root zone.")
    return tuple(lines)


def _water_in_brief(call: Call, state: BedState, voice: Voice) -> str:
    """What the root zone lacks against the refill line."""
    if call.reason == "no probe":
        return "No moisture probe in this bed."
    short = voice.water(call.numbers["depletion_mm"] * state.bed.area_m2)
    refill = voice.water(call.numbers["raw_mm"] * state.bed.area_m2)
    return f"The root zone is {short} short of full; the refill line is at {refill}."


# ---------------------------------------------------------------- a look at the stake

_SILENT = {
    "silent": "Nothing has",
    "thermometers silent": "No thermometer has",
    "moisture probes silent": "No moisture probe has",
    "near ones silent": "No thermometer near the cloves has",
}


def _look(call: Call, state: BedState, voice: Voice) -> Words:
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


JOB_WORDS: Mapping[Job, Callable[[Call, BedState, Voice], Words]] = {Job.SHADE: _shade, Job.WATER: _water, Job.LOOK: _look}


def brief(call: Call, state: BedState, voice: Voice) -> str | None:
    """One sentence on why a job is not asked for; None where there is nothing to say."""
    match call.job:
        case Job.SHADE:
            return _shade_in_brief(call, voice)
        case Job.WATER:
            return _water_in_brief(call, state, voice)
        case Job.LOOK:
            return None
