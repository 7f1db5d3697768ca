"""Is it time to water no more: when leaves turn brown before the harvest. Pure."""

from __future__ import annotations

import datetime as dt

from collector.advice.season.gates import at_stage
from collector.advice.season.state import PlantingState
from collector.advice.state import DAY_MS, BedState
from collector.advice.verdict import Verdict
from collector.advice.voice import Voice
from collector.advice.words import Words
from collector.calls import Call, Due, Evidence
from collector.crop.observed import Stage

EVIDENCE = Evidence.PUBLISHED
SOURCE = (
    "Kansas extension column on harvesting garlic: stop when 3 or 4 leaves are brown. Trials of the University of California "
    "ended the water in mid-May for a harvest in June (Hanson et al. 2002, California Agriculture 56(4):128-132). Other pages "
    "say two weeks before the harvest, others four (weak)."
)
DONE_LASTS_MS = 365 * DAY_MS


def judge(state: BedState, latched: Due | None) -> Verdict:
    """Is it time to stop watering; `latched` is what it was when told.

    A bed is watered as a whole, so its slowest planting decides.

    Source: see SOURCE.
    """
    season = state.season
    if season is None or not season.growing:
        return Verdict(Due.FINE, "nothing grows")
    if season.watering_stopped is not None:
        return Verdict(Due.FINE, "stopped")
    near = at_stage(season, Stage.BULBING, Stage.RIPENING)
    if len(near) < len(season.growing):
        return Verdict(Due.FINE, "still growing")
    counts = [_browned(one) for one in near]
    browned = min((count for count in counts if count is not None), default=0) if None not in counts else 0
    enough = season.method.look.browned
    own = enough.source if enough.evidence is Evidence.OWN else None
    numbers = {"browned": float(browned), "enough": enough.value}
    first = [one.window.first for one in near if one.window is not None]
    if len(first) == len(near):
        numbers |= {"lift_in_d": float((max(first) - season.today).days)}
    if latched is Due.DUE and browned < enough.value and "lift_in_d" not in numbers:
        return Verdict(Due.DUE, "lift is near", numbers, tell=True)
    if browned >= enough.value:
        return Verdict(Due.DUE, "leaves are brown", numbers, tell=True, evidence=enough.evidence, source=own)
    if "lift_in_d" not in numbers:
        if None in counts and len(at_stage(season, Stage.RIPENING)) == len(season.growing):
            return Verdict(Due.NOT_KNOWN, "not counted", numbers)
        return Verdict(Due.FINE, "not counted" if None in counts else "leaves are green", numbers)
    most, least = season.method.lift.dry_most_d, season.method.lift.dry_least_d
    numbers |= {"most_d": most.value, "least_d": least.value}
    if numbers["lift_in_d"] <= least.value:
        return Verdict(Due.DUE, "lift is near", numbers, tell=True, evidence=least.evidence)
    if numbers["lift_in_d"] <= most.value:
        return Verdict(Due.SOON, "lift comes near", numbers, tell=True, evidence=most.evidence)
    return Verdict(Due.FINE, "leaves are green", numbers)


def words(call: Call, state: BedState, voice: Voice) -> Words:
    """The call in words."""
    numbers, season = call.numbers, state.season
    soon = call.due is Due.SOON
    browned = round(numbers.get("browned", 0.0))
    lifts = ""
    if season is not None and "lift_in_d" in numbers:
        day = season.today + dt.timedelta(days=numbers["lift_in_d"])
        lifts = f"By your last counts the bed may be lifted from {voice.date(day, season.today)}."
    heading, button = ("Water less, and stop before long", None) if soon else ("Water no more", "Watering stopped")
    if call.due is Due.NOT_KNOWN:
        heading, button = "Water no more: not known", None
        sentence = (
            "By heat and light it ripens, and nobody has counted the brown leaves: "
            f"{numbers['enough']:g} of them end the watering."
        )
    elif call.reason == "leaves are brown":
        sentence = f"{browned} leaves are brown: bulbs that stand wet now split their wrappers and keep badly."
    else:
        sentence = f"{lifts} Sources stop two to four weeks before the lift.".strip()
    return Words(
        heading=heading,
        sentence=sentence,
        button=button,
        done="You stopped watering.",
        why=tuple(line for line in (_counted_words(call), lifts) if line),
        rule=(
            f"Watering ends when {numbers.get('enough', 3.0):g} leaves are brown in every planting of the bed, "
            "or two weeks before "
            "it may be lifted by your counts; from four weeks before it is time to water less."
        ),
        would_change="A new count of the leaves would. A watering that you note makes the bed one that is watered again.",
        above_ground=False,
        depth_m=state.bed.root_depth_m / 2,
    )


def _browned(one: PlantingState) -> int | None:
    """Brown leaves at the last count; None where nobody counted them."""
    return next((look.browned for look in reversed(one.looks) if look.browned is not None), None)


def _counted_words(call: Call) -> str:
    if call.reason == "not counted":
        return "No count of brown leaves is written down."
    return f"Leaves that were brown at your last count: {call.numbers.get('browned', 0.0):.0f}."
