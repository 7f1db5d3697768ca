"""Bulbing has begun: feed no more. Pure."""

from __future__ import annotations

from collector.advice.season.gates import at_stage
from collector.advice.state import DAY_MS, BedState
from collector.advice.verdict import Verdict
from collector.advice.voice import Voice
from collector.advice.words import Words
from collector.calls import Call, Due, Evidence
from collector.crop.observed import Stage
from collector.journal import Deed

EVIDENCE = Evidence.PUBLISHED
SOURCE = (
    "Cornell Cooperative Extension ENYCHP 2018: nitrogen helps most just after emergence and hardly later. From memory, after "
    "Rosen, University of Minnesota: none once bulbing starts, it delays and loosens the bulbs. Against it: Oregon State "
    "University Extension 2011 feeds again just before bulbs swell."
)
DONE_LASTS_MS = 200 * DAY_MS


def judge(state: BedState, latched: Due | None) -> Verdict:
    """Is there to be no more feeding; `latched` changes nothing.

    Source: see SOURCE.
    """
    del latched
    season = state.season
    if season is None or not (season.feed.given or state.bed.nitrogen_g_m2):
        return Verdict(Due.FINE, "never fed")
    bulbing = at_stage(season, Stage.BULBING)
    if not bulbing or any(entry.deed is Deed.FEEDING_STOPPED for entry in season.entries):
        return Verdict(Due.FINE, "not bulbing")
    seen = all(one.stage is not None and one.stage.seen for one in bulbing)
    return Verdict(Due.DUE, "seen" if seen else "suggested", tell=True, about=season.named(bulbing))


def words(call: Call, state: BedState, voice: Voice) -> Words:
    """The call in words."""
    del voice
    what = call.about or "the crop"
    how = f"You saw that {what} bulbs." if call.reason == "seen" else f"By heat and daylength {what} should bulb by now."
    left = (
        ""
        if state.season is None
        else f"Nitrogen given so far: {state.season.feed.stand.season_g_m2:.1f} g/m², with that at planting."
    )
    return Words(
        heading="Feed no more",
        sentence=f"{how} Nitrogen now makes leaves, late bulbs and loose ones.",
        button="No more feed",
        done="You feed no more.",
        why=(left,) if left else (),
        rule="Feeding ends when a planting of the bed begins to bulb, as you saw it or as heat and daylength suggest.",
        would_change="A look that shows no thickening of the stem yet would.",
        above_ground=False,
        depth_m=state.bed.root_depth_m / 2,
    )
