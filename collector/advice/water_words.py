"""What the call for water is asked and explained with. Pure."""

from __future__ import annotations

from collector.advice import water
from collector.advice.season.gates import resting_words
from collector.advice.state import HOUR_MS, BedState
from collector.advice.voice import Voice
from collector.advice.wetted_words import wetted_sentence
from collector.advice.words import Words, foreseen_from
from collector.calls import Call
from collector.soil.water import GARLIC_P_TABLE


def water_words(call: Call, state: BedState, voice: Voice) -> Words:
    numbers, bed = call.numbers, state.bed
    known = "litres" in numbers
    fine_mm = water.FINE_SHARE * numbers["raw_mm"] if known else 0.0
    return Words(
        heading=f"Water {voice.water(numbers['litres'])}" if known else "Water: not known",
        sentence=_water_sentence(call, state, voice),
        button="Watered" if known else None,
        done=f"{_watered(call, voice)}. It is asked again after a day if the probes still find the root zone dry.",
        why=_water_why(call, state, voice),
        rule=(
            "Water is due when the root zone lacks as much as the crop can take without stress, the refill line, "
            f"soon when it would within {water.LEAD_MS // HOUR_MS} hours, "
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


def _watered(call: Call, voice: Voice) -> str:
    return f"Watered {voice.water(call.numbers['given_litres'])}" if "given_litres" in call.numbers else "Watered"


def _water_sentence(call: Call, state: BedState, voice: Voice) -> str:
    if "litres" in call.numbers:
        hose = voice.hose(call.numbers["minutes"]) if "minutes" in call.numbers else ""
        if call.reason == "would reach the refill line":
            short = f"the roots run short {voice.by_part_of_day(round(call.numbers['by_ms']), state.now_ms)}"
            today = f" Given now, {voice.water(call.numbers['litres_now'])} would fill them."
            return (f"{hose}, or {short}." if hose else f"Or {short}.") + today
        hose += ". " if hose else ""
        return hose + water_in_brief(call, state, voice)
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
        f"Of that, {gone} are gone by the moisture probes{_give_or_take(call, state, voice)}.",
        f"The crop takes {100 * numbers['p']:.0f} %, {refill}, without stress: the refill line.",
        f"The soil is full at {100 * bed.field_capacity:.0f} % water by volume, and wilts at {100 * bed.wilting_point:.0f} %.",
    ]
    if abs(numbers["p"] - GARLIC_P_TABLE) > 0.005:  # FAO-56, note of Table 22, turned round
        uses_mm = 5.0 - (numbers["p"] - GARLIC_P_TABLE) / 0.04
        so = "takes more of it with ease" if uses_mm < 5.0 else "suffers sooner"
        lines.append(
            f"Garlic takes {100 * GARLIC_P_TABLE:.0f} % on a day on which it uses {voice.water(5.0 * bed.area_m2)}; "
            f"these days it uses {voice.water(uses_mm * bed.area_m2)}, and {so}."
        )
    if "by_ms" in numbers:
        early, late = (
            voice.by_part_of_day(round(numbers[name]), state.now_ms) if name in numbers else None
            for name in ("early_ms", "late_ms")
        )
        span = f", likely between {early} and {late}" if early and late else f", {early} at the earliest" if early else ""
        lines.append(f"It would reach that line {voice.by_part_of_day(round(numbers['by_ms']), state.now_ms)}{span}.")
        lines.append(foreseen_from(state))
    if (got_down := wetted_sentence(state, voice)) is not None:
        lines.append(got_down)
    if bed.watering_efficiency < 1:
        lines.append(f"Of the water you give, {100 * bed.watering_efficiency:.0f} % is counted as staying in the root zone.")
    return tuple(lines)


def _give_or_take(call: Call, state: BedState, voice: Voice) -> str:
    if "give_or_take_mm" not in call.numbers:
        return ""
    return f", give or take {voice.water(call.numbers['give_or_take_mm'] * state.bed.area_m2)} (four times in five)"


def water_in_brief(call: Call, state: BedState, voice: Voice) -> str:
    """What the root zone lacks against the refill line."""
    if call.reason == "no probe":
        return "No moisture probe in this bed."
    if call.reason == "no planting":
        return "No planting is named, so there are no roots to water."
    if call.reason in ("not planted yet", "lifted"):
        return resting_words(call.reason)
    if call.reason == "kept dry":
        return "You stopped watering, so that the bulbs ripen dry."
    short = voice.water(call.numbers["depletion_mm"] * state.bed.area_m2)
    refill = voice.water(call.numbers["raw_mm"] * state.bed.area_m2)
    if short == voice.water(0.0):  # some of it may be over-full, and drain to where it is not
        return f"Taken together, the root zone is full; the refill line is {refill} below that."
    return f"The root zone is {short} short of full; the refill line is at {refill}."
