"""Are there scapes to cut: the flower stems of hardnecks, when they begin to curl. Pure."""

from __future__ import annotations

from collector.advice.season.gates import at_stage
from collector.advice.season.state import PlantingState
from collector.advice.state import BedState
from collector.advice.verdict import Verdict
from collector.advice.voice import Voice
from collector.advice.words import Words
from collector.calls import Call, Due, Evidence
from collector.crop.observed import Stage
from collector.crop.ripening import SCAPES, Lift

EVIDENCE = Evidence.PUBLISHED
SOURCE = (
    "WSU Extension FS162E: remove scapes when they begin to curl. Bulbs grow bigger for it by most reports (three studies, "
    "cited by Pelter et al. 2005); one tells of bulbs that kept less long (abstract in Acta Horticulturae 688)."
)
# What was cut is known from the journal, variety by variety; a mark of one must not answer for the others.
DONE_LASTS_MS = 0


def judge(state: BedState, latched: Due | None) -> Verdict:
    """Are there scapes to cut; `latched` changes nothing: a scape stands until it is cut.

    Source: see SOURCE.
    """
    del latched
    season = state.season
    if season is None:
        return Verdict(Due.FINE, "nothing grows")
    bulbing = at_stage(season, Stage.BULBING, Stage.RIPENING)
    hardnecks = tuple(one for one in bulbing if one.planting.kind == "hardneck" and one.scapes_cut is None and _seen(one))
    standing = tuple(one for one in hardnecks if one.lift.lift is not Lift.LATE)
    if hardnecks and not standing:
        return Verdict(Due.FINE, "lifted before long")  # a bulb that is late gains nothing by it
    if not standing:
        return Verdict(Due.FINE, "no scape seen")
    return Verdict(Due.DUE, "scapes stand", {}, tell=True, about=season.named(standing))


def words(call: Call, state: BedState, voice: Voice) -> Words:
    """The call in words."""
    del voice
    of = f" of {call.about}" if call.about else ""
    return Words(
        heading=f"Cut the scapes{of}",
        sentence=f"{SCAPES} By most reports the bulbs grow bigger for it.",
        button="Scapes are cut",
        done="The scapes are cut.",
        why=("You saw scapes at your last look.", "One report tells of bulbs that kept less long afterwards."),
        rule="Scapes are asked for once you have seen one, in hardnecks only, until you say that they are cut.",
        would_change="Nothing but the knife.",
        above_ground=True,
        depth_m=state.bed.clove_depth_m or 0.0,
    )


def _seen(one: PlantingState) -> bool:
    return any(look.scape for look in one.looks)
