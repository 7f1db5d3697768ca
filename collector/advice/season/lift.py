"""May the bed be lifted: by the leaves that are brown, each source's sign answered for itself. Pure."""

from __future__ import annotations

import datetime as dt

from collector.advice.season.gates import at_stage
from collector.advice.season.state import PlantingState
from collector.advice.state import BedState
from collector.advice.verdict import Verdict
from collector.advice.voice import Voice
from collector.advice.words import Words
from collector.calls import Call, Due, Evidence
from collector.crop.limits import Limit
from collector.crop.observed import Look, Stage
from collector.crop.ripening import USUAL, Lift
from collector.journal import Deed

EVIDENCE = Evidence.PUBLISHED
SOURCE = (
    "UNH Extension 2017: 3 to 4 of the oldest leaves yellow, more than half still green; cut test bulbs. A Kansas extension "
    "column: the five lowest leaves yellow or dead. Growers' pages: the lower third to half brown (weak). UC Davis Postharvest, "
    "for garlic sold dry: tops fallen and very dry."
)
# What was lifted is known from the journal, variety by variety; a mark of one must not answer for the others.
DONE_LASTS_MS = 0
# A count of the leaves older than this says little of bulbs that ripen. Common practice, no source.
COUNT_KEEPS_D = 10


def judge(state: BedState, latched: Due | None) -> Verdict:
    """May the bed be lifted; `latched` changes nothing: the last count tells.

    Source: see SOURCE.
    """
    del latched
    season = state.season
    if season is None or not season.growing:
        return Verdict(Due.FINE, "nothing grows")
    by_sign = {sign: tuple(one for one in season.growing if one.lift.lift is sign) for sign in Lift}
    for sign, due, reason in ((Lift.LATE, Due.DUE, "late"), (Lift.OPEN, Due.SOON, "may be lifted")):
        if plantings := by_sign[sign]:
            return Verdict(due, reason, _numbers(plantings[0], season.today), tell=True, about=season.named(plantings))
    ripening = at_stage(season, Stage.RIPENING)
    uncounted = tuple(one for one in ripening if _count(one) is None or (season.today - _count_day(one)).days > COUNT_KEEPS_D)
    if uncounted:
        return Verdict(Due.NOT_KNOWN, "not counted", about=season.named(uncounted))
    return Verdict(Due.FINE, "not yet ripe")


def words(call: Call, state: BedState, voice: Voice) -> Words:
    """The call in words."""
    numbers = call.numbers
    what = call.about or "the bed"
    if call.due is Due.NOT_KNOWN:
        return Words(
            heading="Lift: not known",
            sentence=f"Nobody has counted the leaves of {what} for ten days: how many are there, and how many are brown?",
            button="Write down a count",
            done="",
            why=("Ripeness is seen at the leaves: each green one is a wrapper around the bulb.",),
            rule=_rule(state),
            would_change="A count of the leaves would tell.",
            above_ground=True,
            depth_m=state.bed.clove_depth_m or 0.0,
            opens=Deed.COUNTED,
        )
    late = call.reason == "late"
    count = f"{numbers['browned']:.0f} of {numbers['leaves']:.0f} leaves" if "leaves" in numbers else "leaves"
    return Words(
        heading=f"Lift {what}" if late else f"Cut a test bulb of {what}",
        sentence=(
            f"{count} are brown, too many: wrappers rot away, and bulbs split open."
            if late
            else (
                f"{count} are brown. If its cloves fill their wrappers, lift "
                "on a dry day; leaves that go on browning cost wrappers."
            )
        ),
        button="Lifted",
        done="It is lifted. Hang it in shade and moving air.",
        why=_signs(call, voice, state),
        rule=f"{_rule(state)} A cut test bulb decides.",
        would_change="Another count of the leaves would.",
        above_ground=True,
        depth_m=state.bed.clove_depth_m or 0.0,
        caution="Loosen with a fork from the side: a bruised bulb does not keep. Mind cables of probes and buried lines.",
        opens=Deed.LIFTED,
    )


def _numbers(one: PlantingState, today: dt.date) -> dict[str, float]:
    count = _count(one)
    numbers = {} if count is None or count.browned is None else {"browned": float(count.browned)}
    if count is not None and count.leaves is not None:
        numbers["leaves"] = float(count.leaves)
    if one.window is not None and one.window.last is not None:
        numbers["last_in_d"] = float((one.window.last - today).days)
    return numbers


def _signs(call: Call, voice: Voice, state: BedState) -> tuple[str, ...]:
    browned, leaves = call.numbers.get("browned"), call.numbers.get("leaves")
    if browned is None:
        return ()

    def said(holds: bool) -> str:
        return "yes" if holds else "not yet"

    limits = USUAL if state.season is None else state.season.method.lift
    lines = [
        f"{limits.first_leaves.value:g} leaves brown or more ({_who(limits.first_leaves)}): "
        f"{said(browned >= limits.first_leaves.value)}.",
        f"{limits.late_leaves.value:g} leaves brown ({_who(limits.late_leaves)}): {said(browned >= limits.late_leaves.value)}.",
    ]
    if leaves:
        share = limits.first_share
        lines.append(f"{100 * share.value:.0f} % of the leaves brown ({_who(share)}): {said(browned >= share.value * leaves)}.")
    if "last_in_d" in call.numbers and state.season is not None:
        day = state.season.today + dt.timedelta(days=call.numbers["last_in_d"])
        lines.append(
            f"At the pace of your last counts more than half would be brown after {voice.date(day, state.season.today)}."
        )
    return tuple(lines)


def _count(one: PlantingState) -> Look | None:
    return next((look for look in reversed(one.looks) if look.browned is not None), None)


def _count_day(one: PlantingState) -> dt.date:
    count = _count(one)
    return dt.date.min if count is None else count.day


def _who(limit: Limit) -> str:
    """Who says so, as short as is clear."""
    if limit.evidence is Evidence.OWN:
        return "your own number"
    who = limit.source.partition(",")[0].partition(" column")[0].partition(":")[0]
    return f"{who}, weak" if limit.evidence is Evidence.WEAK else who


def _rule(state: BedState) -> str:
    limits = USUAL if state.season is None else state.season.method.lift
    return (
        f"A bed may be lifted from {limits.first_leaves.value:g} brown leaves on, and is late when more than "
        f"{100 * limits.most_share.value:.0f} % are brown."
    )
