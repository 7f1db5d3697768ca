"""When to stop watering and when to lift, by the leaves that have turned brown.

Sources give different signs: three or four of the oldest leaves, five, or a third to half of all. Each is answered for
itself, so that the grower sees where they part.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from collector.calls import Evidence
from collector.crop.limits import Limit
from collector.crop.observed import Look, refuse_impossible


@dataclass(frozen=True, slots=True)
class LiftLimits:
    """How many leaves, or which share of them, must be brown; and how long before lifting watering ends."""

    first_leaves: Limit
    late_leaves: Limit
    first_share: Limit
    most_share: Limit
    dry_least_d: Limit
    dry_most_d: Limit


_UNH = "UNH Extension 2017, harvest reminders: 3 to 4 oldest leaves yellow, more than half still green; cut test bulbs"
_KANSAS = "Kansas extension column on harvesting garlic: the five lowest leaves yellow or dead"
USUAL = LiftLimits(
    first_leaves=Limit(3.0, "leaves", Evidence.PUBLISHED, _UNH),
    late_leaves=Limit(5.0, "leaves", Evidence.PUBLISHED, _KANSAS),
    first_share=Limit(1.0 / 3.0, "ratio", Evidence.WEAK, "growers' pages: the lower third to half brown"),
    most_share=Limit(0.5, "ratio", Evidence.PUBLISHED, _UNH),
    dry_least_d=Limit(14.0, "d", Evidence.WEAK, "a page: about two weeks before harvest"),
    dry_most_d=Limit(28.0, "d", Evidence.WEAK, "a page: none in the last four weeks"),
)
# What to look for in a hardneck. Pelter et al. 2005 cites three studies in which bulbs grew bigger for it; one report tells of
# bulbs that kept less long (abstract in Acta Horticulturae 688).
SCAPES = "Cut or snap the scapes when they begin to curl."


class Lift(StrEnum):
    """What the leaves say of lifting."""

    NOT_YET = "not yet"
    OPEN = "may be lifted"
    LATE = "late"
    NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True)
class LiftSigns:
    """What each source's sign says [true or false], None where the look does not tell; and what they say together."""

    three_leaves: bool | None
    five_leaves: bool | None
    third_brown: bool | None
    over_half_brown: bool | None
    lift: Lift


def lift_signs(look: Look | None, limits: LiftLimits = USUAL) -> LiftSigns:
    """What the latest look at the leaves says of lifting [true or false, each].

    It may be lifted from the first published sign on, and is late when the green leaves, each of which is a wrapper, are fewer
    than the brown. Cut a test bulb before lifting: full wrappers decide.

    Args:
        look: the latest look; None where nobody looked.
        limits: the signs.

    Raises:
        ValueError: counts that cannot be.

    Source: UNH Extension 2017; a Kansas extension column on harvesting garlic; growers' pages (weak) for the third.
    """
    if look is None or look.browned is None:
        return LiftSigns(None, None, None, None, Lift.NOT_KNOWN)
    refuse_impossible(look)
    share = look.browned / look.leaves if look.leaves else None
    three, five = look.browned >= limits.first_leaves.value, look.browned >= limits.late_leaves.value
    third = None if share is None else share >= limits.first_share.value
    over_half = None if share is None else share > limits.most_share.value
    lift = Lift.LATE if over_half else Lift.OPEN if three else Lift.NOT_YET
    return LiftSigns(three, five, third, over_half, lift)


@dataclass(frozen=True, slots=True)
class LiftWindow:
    """From the first sign to the last date before more than half of the leaves is brown.

    `last` is None where the leaves were not counted. `dry_from` to `dry_to` is when sources end the watering, 28 to 14 days
    before the first sign.
    """

    first: dt.date
    last: dt.date | None
    dry_from: dt.date
    dry_to: dt.date


def lift_window(looks: Iterable[Look], limits: LiftLimits = USUAL) -> LiftWindow | None:
    """When the bed may be lifted, if leaves go on browning as between the last two looks [date]; None where that is not known.

    Args:
        looks: what the grower saw; those without browned leaves tell nothing here.
        limits: the signs.

    Raises:
        ValueError: counts that cannot be.

    Source: by definition, a straight line through the last two counts; the signs from the limits.
    """
    counts: dict[dt.date, Look] = {}
    for look in sorted(looks, key=lambda look: look.day):
        refuse_impossible(look)
        if look.browned is not None:
            counts[look.day] = look
    if len(counts) < 2:
        return None
    before, last = list(counts.values())[-2:]
    browned, browned_before = last.browned or 0, before.browned or 0
    per_day = (browned - browned_before) / (last.day - before.day).days
    if per_day <= 0.0:
        return None
    first = last.day + _days((limits.first_leaves.value - browned) / per_day)
    end = None if not last.leaves else last.day + _days((limits.most_share.value * last.leaves - browned) / per_day)
    return LiftWindow(
        first,
        None if end is None else max(first, end),
        first - _days(limits.dry_most_d.value),
        first - _days(limits.dry_least_d.value),
    )


def _days(days: float) -> dt.timedelta:
    """Whole days, the part of one left off towards the earlier date."""
    return dt.timedelta(days=days // 1.0)
