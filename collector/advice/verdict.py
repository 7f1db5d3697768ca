"""What a rule finds when it looks at a bed, before memory has a say. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from collector.calls import Due, Evidence


@dataclass(frozen=True, slots=True)
class Verdict:
    """How pressing a job is now, and why.

    `reason` names the branch of the rule; `numbers` what it went by, units in the names. `tell`
    where it is worth a message; `foreseen` where only a forecast says so, which may say otherwise
    an hour later. `since_ms` where it began at a known time and not with this look.
    `evidence` and `source` are those of the limit it went by, where that is not the rule's own; `about` are
    the words that the numbers cannot hold, as the varieties it speaks of.
    """

    due: Due
    reason: str
    numbers: Mapping[str, float] = field(default_factory=dict)
    tell: bool = False
    since_ms: int | None = None
    evidence: Evidence | None = None
    source: str | None = None
    about: str | None = None
    foreseen: bool = False
