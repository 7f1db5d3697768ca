"""Time to look and count the leaves: every week or so while anything grows, as the grower wants it. Pure."""

from __future__ import annotations

from collector.advice.season.gates import at_stage
from collector.advice.season.state import SeasonState
from collector.advice.state import DAY_MS, BedState
from collector.advice.verdict import Verdict
from collector.advice.voice import Voice
from collector.advice.words import Words
from collector.calls import Call, Due, Evidence
from collector.crop.observed import Stage
from collector.journal import Deed

EVIDENCE = Evidence.COMMON_PRACTICE
SOURCE = "Common practice, no source: a look a week shows what no probe can."
DONE_LASTS_MS = DAY_MS
# Cloves show nothing above the mulch for some weeks after planting. Common practice, no source.
SPROUTS_D = 28


def judge(state: BedState, latched: Due | None) -> Verdict:
    """Is it time for a look; `latched` changes nothing: only a count ends it.

    Source: common practice, no source.
    """
    del latched
    season, every_d = state.season, state.bed.leaf_count_every_d
    growing = () if season is None else tuple(one for one in season.growing if one.at is not None)
    if season is None or not growing:
        return Verdict(Due.FINE, "nothing grows")
    if not every_d:
        return Verdict(Due.FINE, "not wanted")
    again = [one.stage.look_again for one in growing if one.stage is not None and one.stage.look_again is not None]
    if again and min(again) <= season.today:
        return Verdict(Due.SOON, "sums and look part", tell=True)
    youngest = min((season.today - one.planted).days for one in growing)
    since_d = youngest - SPROUTS_D if season.counted is None else (season.today - season.counted).days
    numbers = {"since_d": float(since_d), "every_d": float(every_d)}
    if since_d < every_d:
        return Verdict(Due.FINE, "counted lately", numbers)
    if season.counted is None:  # who keeps no journal is not told on the phone to begin one
        return Verdict(Due.SOON, "never counted", numbers)
    return Verdict(Due.SOON, "a while ago", numbers, tell=True)


def words(call: Call, state: BedState, voice: Voice) -> Words:
    """The call in words."""
    season = state.season
    assert season is not None
    counted = None if season.counted is None else voice.date(season.counted, season.today)
    since = "Nobody has counted here yet." if counted is None else f"The last count was {counted}."
    if call.reason == "sums and look part":
        since = "By heat and daylength the crop should be farther than your last look showed."
    return Words(
        heading="Look, and count the leaves",
        sentence=f"{since} {_worth(season)}",
        button="Write down a count",
        done="You have looked.",
        why=("Heat and daylength only suggest how far the crop is; what you see decides.",),
        rule=(
            f"A look is asked for every {state.bed.leaf_count_every_d} days "
            "while something grows; leaf_count_days in the garden file."
        ),
        would_change="A count in the journal ends it. leaf_count_days = 0 switches it off.",
        above_ground=True,
        depth_m=state.bed.clove_depth_m or 0.0,
        opens=Deed.COUNTED,
    )


def _worth(season: SeasonState) -> str:
    """What is worth looking at now."""
    if at_stage(season, Stage.RIPENING):
        return "How many leaves are brown, and how many are there in all?"
    if at_stage(season, Stage.BULBING) or any(_near_bulbing(one.day_h, season) for one in season.growing):
        return "How many leaves, does the stem thicken at its foot, and is there a scape? A lifted plant tells bulb to neck."
    return "How many leaves does a usual plant have, the brown ones too?"


def _near_bulbing(day_h: float, season: SeasonState) -> bool:
    return day_h >= season.method.day.bulbing_h.value - 0.5
