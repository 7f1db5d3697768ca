"""What a rule finds when it looks at a bed, before memory has a say. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from collector.calls import Due


@dataclass(frozen=True, slots=True)
class Verdict:
    """How pressing a job is now, and why.

    `reason` names the branch of the rule; `numbers` what it went by, units in the names. `tell`
    where it is worth a message. `since_ms` where it began at a known time and not with this look.
    """

    due: Due
    reason: str
    numbers: Mapping[str, float] = field(default_factory=dict)
    tell: bool = False
    since_ms: int | None = None
