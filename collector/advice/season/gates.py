"""What the season rules out before a rule looks at a number: nothing grows, bulbing has begun, the bed is kept dry. Pure."""

from __future__ import annotations

from typing import TYPE_CHECKING

from collector.advice.season.state import PlantingState, SeasonState
from collector.crop.observed import Mover, Stage
from collector.crop.stage import StageNow

if TYPE_CHECKING:
    from collector.advice.state import BedState


def rests(state: BedState) -> str | None:
    """Why nothing grows in the bed, "not planted yet" or "lifted"; None where something does, or nothing is planned."""
    season = state.season
    if season is None or not season.plantings or season.growing:
        return None
    return "lifted" if all(one.lifted for one in season.plantings) else "not planted yet"


def resting_words(reason: str) -> str:
    """The same as a sentence."""
    return "All is lifted." if reason == "lifted" else "Nothing is planted yet."


def before_bulbing(season: SeasonState) -> tuple[PlantingState, ...]:
    """The plantings in the ground that have not begun to bulb, as far as was seen, or heat and light suggest.

    The days since planting alone are too little to let the soil grow warm by.
    """
    return tuple(
        one for one in season.growing if one.at is None or one.at.place < Stage.BULBING.place or _by_days_alone(one.stage)
    )


def _by_days_alone(far: StageNow | None) -> bool:
    return far is not None and all(reason.mover is Mover.DAYS for reason in far.moved_by)


def bulbing_words(season: SeasonState | None) -> str:
    """ "Bulbing has begun in Red and Porcelain, as you saw": of which plantings, and who says so."""
    growing = () if season is None else season.growing
    if season is None or not growing:
        return "Bulbing has begun"
    of = f" in {season.named(growing)}" if len(growing) > 1 else ""
    seen = all(one.stage is not None and one.stage.seen for one in growing)
    return f"Bulbing has begun{of}, {'as you saw' if seen else 'as heat and light suggest'}"


def at_stage(season: SeasonState, *stages: Stage) -> tuple[PlantingState, ...]:
    """The plantings in the ground that are at one of these stages."""
    return tuple(one for one in season.growing if one.at in stages)


def cool_wanted(season: SeasonState) -> bool:
    """True while a planting has not begun to bulb; in a bed with no planting too, where other rules say so."""
    return bool(before_bulbing(season)) or not season.growing


def kept_dry(season: SeasonState) -> bool:
    """True where the grower said to have stopped watering, and has not watered since."""
    return season.watering_stopped is not None
