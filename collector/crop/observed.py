"""What the grower has seen of a planting, and what stage it shows.

A look shows that the crop has come at least so far; some also show that it has come no farther yet.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum

from collector.calls import Evidence
from collector.crop.limits import Limit, inside


class Stage(StrEnum):
    """How far a planting has come, in order."""

    PLANTED = "planted"
    SPROUTED = "sprouted"
    LEAVES = "leaves"
    BULBING = "bulbing"
    RIPENING = "ripening"
    LIFTED = "lifted"
    CURED = "cured"

    @property
    def place(self) -> int:
        """Its place in the order, from 0 [number]."""
        return list(Stage).index(self)


class Mover(StrEnum):
    """What can move a planting on to a stage."""

    PLANTING = "planting"
    SAID = "said by the grower"
    LEAF_COUNT = "leaf count"
    STEM = "stem thickening"
    SCAPE = "scape"
    BULB_TO_NECK = "bulb-to-neck ratio"
    BROWNED = "browned leaves"
    DAYLENGTH = "daylength"
    HEAT_SUM = "heat sum"
    DAYS = "days since planting"
    DAYS_LIFTED = "days since lifting"


@dataclass(frozen=True, slots=True)
class Look:
    """What one look at a planting told; None is not looked at.

    `stage` is the grower's own word, and wins. `leaves` counts all leaves, the browned too; `browned` those of them that are
    yellow or brown. `bulb_to_neck` is the width of the bulb through that of the neck, of a lifted sample [ratio].
    """

    day: dt.date
    stage: Stage | None = None
    leaves: int | None = None
    browned: int | None = None
    bulb_to_neck: float | None = None
    stem_thickens: bool | None = None
    scape: bool | None = None


@dataclass(frozen=True, slots=True)
class LookLimits:
    """What a look must show for a stage, and for how long a look that shows less holds back what the sums suggest."""

    leaves: Limit
    bulbing_ratio: Limit
    ripe_ratio: Limit
    browned: Limit
    holds_d: Limit


_PRACTICE = "common practice, no source"
USUAL = LookLimits(
    leaves=Limit(3.0, "leaves", Evidence.COMMON_PRACTICE, _PRACTICE),
    bulbing_ratio=Limit(2.0, "ratio", Evidence.WEAK, "Mann 1952, the number from memory; also used for onion"),
    ripe_ratio=Limit(
        5.0,
        "ratio",
        Evidence.PUBLISHED,
        "Brewster, Onions and Other Vegetable Alliums, 2nd ed.: about 1.2 before bulbing, 5 or more at maturity",
    ),
    browned=Limit(3.0, "leaves", Evidence.PUBLISHED, "Kansas extension column on harvesting garlic: stop watering at 3 or 4"),
    holds_d=Limit(14.0, "d", Evidence.COMMON_PRACTICE, _PRACTICE),
)


@dataclass(frozen=True, slots=True)
class Sight:
    """A stage that a look speaks for: the crop has come at least so far, or (`not_yet`) has not come so far yet."""

    stage: Stage
    mover: Mover
    number: float | None
    limit: Limit | None
    not_yet: bool = False


def sights(look: Look, kind: str, limits: LookLimits = USUAL) -> tuple[Sight, ...]:
    """What one look speaks for, in stages; numbers in leaves and [ratio]. The grower's own word comes alone.

    A scape tells of bulbing in a hardneck only: a softneck that bolts does so for other reasons (common practice, no
    source). A leaf count below the limit says that the leaves have come, but not that they are established.

    Args:
        look: what was seen.
        kind: hardneck or softneck.
        limits: what a look must show.

    Raises:
        ValueError: counts below 0 or above 40, more leaves browned than there are, or a ratio outside 0.5 to 30.

    Source: the limits; Brewster, Onions and Other Vegetable Alliums, 2nd ed., for stem and bulb that thicken at bulbing.
    """
    refuse_impossible(look)
    if look.stage is not None:
        return (Sight(look.stage, Mover.SAID, None, None),)
    found = []
    if look.leaves is not None:
        stage = Stage.LEAVES if look.leaves >= limits.leaves.value else Stage.SPROUTED
        not_yet = look.leaves == 0
        found.append(Sight(stage, Mover.LEAF_COUNT, look.leaves, None if not_yet else limits.leaves, not_yet))
    if look.stem_thickens is not None:
        found.append(Sight(Stage.BULBING, Mover.STEM, None, None, not look.stem_thickens))
    if look.scape and kind == "hardneck":
        found.append(Sight(Stage.BULBING, Mover.SCAPE, None, None))
    if look.bulb_to_neck is not None:
        ripe = look.bulb_to_neck >= limits.ripe_ratio.value
        stage, limit = (Stage.RIPENING, limits.ripe_ratio) if ripe else (Stage.BULBING, limits.bulbing_ratio)
        found.append(Sight(stage, Mover.BULB_TO_NECK, look.bulb_to_neck, limit, look.bulb_to_neck < limit.value))
    if look.browned is not None:
        found.append(Sight(Stage.RIPENING, Mover.BROWNED, look.browned, limits.browned, look.browned < limits.browned.value))
    return tuple(found)


def refuse_impossible(look: Look) -> None:
    """Refuses a look that shows what cannot be: counts outside 0 to 40, a ratio outside 0.5 to 30 [leaves, ratio].

    Args:
        look: what was seen.

    Raises:
        ValueError: counts below 0 or above 40, more leaves browned than there are, or a ratio outside 0.5 to 30.

    Source: common practice, no source, with room to spare.
    """
    for name, count in (("leaves", look.leaves), ("browned", look.browned)):
        if count is not None:
            inside(f"{name} on {look.day}", count, 0, 40, "leaves")
    if look.leaves is not None and look.browned is not None:
        inside(f"browned on {look.day}", look.browned, 0, look.leaves, "leaves")
    if look.bulb_to_neck is not None:
        inside(f"bulb_to_neck on {look.day}", look.bulb_to_neck, 0.5, 30.0, "ratio")
