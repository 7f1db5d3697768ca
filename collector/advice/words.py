"""The parts of a worded call that differ from job to job."""

from __future__ import annotations

from dataclasses import dataclass

from collector.advice.state import BedState
from collector.journal import Deed


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
    opens: Deed | None = None  # the form of the journal that its button opens; None where a tap says it all


def foreseen_from(state: BedState) -> str:
    """What a forecast was made from, in a sentence."""
    weather = state.outlook.weather if state.outlook else None
    if weather is None:
        return "Foreseen from the last days and the course of the sun, without a weather forecast."
    return f"Foreseen with a weather forecast: {weather}."
