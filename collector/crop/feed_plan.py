"""When to feed, how much is left to give, and when to stop.

Sources part on when nitrogen helps: Cornell Cooperative Extension ENYCHP 2018 finds it most useful just after emergence and
of little effect later; Oregon State University Extension 2011 feeds again just before bulbs swell. The plan below is common
practice between the two, and ends before bulbing; a grower should be shown that they differ.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from collector.calls import Evidence
from collector.crop.limits import Limit, inside
from collector.crop.observed import Stage


@dataclass(frozen=True, slots=True)
class FeedLimits:
    """How many feedings, how far apart, how long before bulbing the last one; and how much nitrogen."""

    feedings: Limit
    apart_d: Limit
    before_bulbing_d: Limit
    spring_most_g_m2: Limit
    season_least_g_m2: Limit
    season_most_g_m2: Limit


_PRACTICE = "common practice, no source"
_CORNELL = "Cornell Cooperative Extension ENYCHP 2018, early season garlic fertility: at most 50 lb/acre in spring"
_SEASON = "75 to 125 lb/acre a season, a third to half of it at planting: from memory"
USUAL = FeedLimits(
    feedings=Limit(4.0, "feedings", Evidence.COMMON_PRACTICE, _PRACTICE),
    apart_d=Limit(14.0, "d", Evidence.COMMON_PRACTICE, _PRACTICE),
    before_bulbing_d=Limit(14.0, "d", Evidence.COMMON_PRACTICE, _PRACTICE),
    spring_most_g_m2=Limit(5.6, "g/m²", Evidence.PUBLISHED, _CORNELL),
    season_least_g_m2=Limit(8.4, "g/m²", Evidence.WEAK, _SEASON),
    season_most_g_m2=Limit(14.0, "g/m²", Evidence.WEAK, _SEASON),
)


def feeding_days(leaves_day: dt.date, bulbing_day: dt.date, limits: FeedLimits = USUAL) -> tuple[dt.date, ...]:
    """The dates to feed on, evenly from established leaves to some days before bulbing [d]; fewer, or none, in a short season.

    Args:
        leaves_day: date from which leaf growth is established.
        bulbing_day: date on which bulbing is expected.
        limits: how many, how far apart, how long before bulbing the last one.

    Raises:
        ValueError: less than one feeding, or less than a day between two.

    Source: common practice, no source: three or four between established leaf growth and just before bulbing.
    """
    inside("feedings", limits.feedings.value, 1.0, 100.0, "feedings")
    inside("apart_d", limits.apart_d.value, 1.0, 366.0, "d")
    span_d = (bulbing_day - leaves_day).days - int(limits.before_bulbing_d.value)
    if span_d < 0:
        return ()
    between = min(int(limits.feedings.value) - 1, int(span_d // limits.apart_d.value))
    return tuple(leaves_day + dt.timedelta(days=span_d * turn // max(between, 1)) for turn in range(between + 1))


def next_feeding(
    plan: Sequence[dt.date], given: Sequence[dt.date], stage: Stage | None, limits: FeedLimits = USUAL
) -> dt.date | None:
    """Date of the next feeding, past if it is overdue [date]; None where the plan is done, or bulbing has begun.

    Args:
        plan: dates planned, as `feeding_days`.
        given: dates fed on.
        stage: how far the crop has come; None is not known, and holds nothing back.
        limits: how far apart two feedings are.

    Source: common practice, no source: no nitrogen once bulbing has begun, it delays and loosens bulbs (from memory, after
    Rosen, University of Minnesota).
    """
    bulbing = stage is not None and stage.place >= Stage.BULBING.place
    if bulbing or len(given) >= len(plan):
        return None
    planned = sorted(plan)[len(given)]
    return max([planned, *(day + dt.timedelta(days=limits.apart_d.value) for day in given)])


class Enough(StrEnum):
    """How an amount lies against a published range."""

    BELOW = "below"
    WITHIN = "within"
    ABOVE = "above"


@dataclass(frozen=True, slots=True)
class NitrogenStand:
    """Nitrogen given so far against the ranges [g/m²]; what is left is 0 where more was given."""

    season_g_m2: float
    season: Enough
    left_g_m2: float
    spring_g_m2: float
    spring_over: bool


def nitrogen_stand(at_planting_g_m2: float, since_g_m2: float, limits: FeedLimits = USUAL) -> NitrogenStand:
    """How the nitrogen given lies against the ranges [g/m²]; `left_g_m2` is up to the upper end of the season's.

    Args:
        at_planting_g_m2: worked in at planting, not below 0 [g/m²].
        since_g_m2: given since the crop came up, not below 0 [g/m²].
        limits: the ranges.

    Raises:
        ValueError: an amount outside 0 to 1000 g/m².

    Source: the limits; 1 lb/acre is 0.11208 g/m².
    """
    inside("at_planting_g_m2", at_planting_g_m2, 0.0, 1000.0, "g/m²")
    inside("since_g_m2", since_g_m2, 0.0, 1000.0, "g/m²")
    total_g_m2, most_g_m2 = at_planting_g_m2 + since_g_m2, limits.season_most_g_m2.value
    if total_g_m2 < limits.season_least_g_m2.value:
        season = Enough.BELOW
    else:
        season = Enough.WITHIN if total_g_m2 <= most_g_m2 else Enough.ABOVE
    spring_over = since_g_m2 > limits.spring_most_g_m2.value
    return NitrogenStand(total_g_m2, season, max(most_g_m2 - total_g_m2, 0.0), since_g_m2, spring_over)


def dose_g_m2(target_g_m2: float, given_g_m2: float, feedings_left: int) -> float:
    """Nitrogen of the next feeding, what is left in equal parts [g/m²]; 0 where the target is met.

    Args:
        target_g_m2: nitrogen that the feedings are to give in all, 0 to 100 [g/m²].
        given_g_m2: what they have given so far, 0 to 1000 [g/m²].
        feedings_left: feedings still to come, at least 1 [feedings].

    Raises:
        ValueError: a number outside its range.

    Source: common practice, no source: equal parts.
    """
    inside("target_g_m2", target_g_m2, 0.0, 100.0, "g/m²")
    inside("given_g_m2", given_g_m2, 0.0, 1000.0, "g/m²")
    inside("feedings_left", feedings_left, 1, 100, "feedings")
    return max(target_g_m2 - given_g_m2, 0.0) / feedings_left
