"""The parts of a worded call that differ from job to job."""

from __future__ import annotations

from dataclasses import dataclass


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
