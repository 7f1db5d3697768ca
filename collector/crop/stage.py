"""How far a planting has come: what the grower has seen, and what the season's sums suggest.

What was seen wins. The sums move a stage only where all that can be told of it agrees, so the last of them decides:
garlic bulbs when the days are long enough and it has grown enough, and ripens when it has had both heat and time. Every
reason is told, also one that is not met or not known. A look that shows less than the sums suggest holds them back for
some days, and then a new look is due.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from collector.calls import Evidence
from collector.crop import daylength, observed
from collector.crop.limits import Limit, inside
from collector.crop.observed import Look, LookLimits, Mover, Sight, Stage


@dataclass(frozen=True, slots=True)
class StageLimits:
    """What must be reached for a stage to be suggested: heat since planting, daylength, days."""

    leaves_k_d: Limit
    bulbing_k_d: Limit
    ripening_k_d: Limit
    bulbing_day: daylength.Threshold
    ripening_d: Limit
    cured_d: Limit
    looks: LookLimits


@dataclass(frozen=True, slots=True)
class Reason:
    """What speaks for a stage: a number against its limit. `met` is None where it is not known.

    `day` is the date since when, where that is known: of a look its own.
    """

    stage: Stage
    mover: Mover
    met: bool | None
    number: float | None = None
    limit: Limit | None = None
    day: dt.date | None = None


@dataclass(frozen=True, slots=True)
class StageNow:
    """How far a planting is, by what, and what else speaks.

    `moved_by` is what made it so. `suggestions` are all reasons of the sums, met or not. `held_by` is the look that
    holds back what they suggest, until `look_again`.
    """

    stage: Stage
    moved_by: tuple[Reason, ...]
    suggestions: tuple[Reason, ...]
    held_by: Reason | None = None
    look_again: dt.date | None = None

    @property
    def seen(self) -> bool:
        """True where the grower saw it so, and it is not only suggested."""
        sums = (Mover.DAYLENGTH, Mover.HEAT_SUM, Mover.DAYS, Mover.DAYS_LIFTED)
        return not any(reason.mover in sums for reason in self.moved_by)


def _heat(sum_k_d: float, evidence_for: str) -> Limit:
    tables = "Pereira et al. 2025, FAO-56 Rev.1, Tables 6.10 and 6.11, garlic (second-hand, the tables were not seen)"
    return Limit(
        sum_k_d, "K d", Evidence.WEAK, f"{tables}: {evidence_for}; that this is our stage, and the season ours, is our choice"
    )


def _limits(initial_k_d: float, development_k_d: float, mid_k_d: float, ripening_d: Limit) -> StageLimits:
    """Limits from the lengths of FAO's stages: initial, development, mid-season; what is left is the late season."""
    return StageLimits(
        leaves_k_d=_heat(initial_k_d, "end of the initial stage"),
        bulbing_k_d=_heat(initial_k_d + development_k_d, "begin of mid-season"),
        ripening_k_d=_heat(initial_k_d + development_k_d + mid_k_d, "begin of the late season"),
        bulbing_day=daylength.BULBING,
        ripening_d=ripening_d,
        cured_d=Limit(28.0, "d", Evidence.PUBLISHED, "Kansas extension column on harvesting garlic: 4 to 6 weeks hung"),
        looks=observed.USUAL,
    )


# About 240 days from an autumn planting to the harvest in Washington State: WSU Extension FS162E.
_SPRING_D = Limit(120.0, "d", Evidence.COMMON_PRACTICE, "common practice, no source")
_AUTUMN_D = Limit(220.0, "d", Evidence.COMMON_PRACTICE, "common practice, no source")
SPRING = _limits(150.0, 340.0, 335.0, _SPRING_D)
AUTUMN = _limits(580.0, 615.0, 315.0, _AUTUMN_D)


def limits_for(planted: dt.date, latitude_deg: float, longitude_deg: float) -> StageLimits:
    """The usual limits of a planting: of a long season where it was planted as days shorten [h], of a short one else.

    Args:
        planted: date of planting.
        latitude_deg: latitude, north positive [°].
        longitude_deg: longitude, east positive [°].

    Source: the two seasons of FAO-56 Rev.1, Tables 6.10 and 6.11 (second-hand); that the autumn planting has the long one
    is our choice.
    """
    return AUTUMN if daylength.days_shorten(planted, latitude_deg, longitude_deg) else SPRING


def stage_now(
    planted: dt.date,
    today: dt.date,
    kind: str,
    latitude_deg: float,
    longitude_deg: float,
    heat_k_d: float | None,
    looks: Sequence[Look],
    limits: StageLimits | None = None,
) -> StageNow | None:
    """How far a planting has come; None before it is planted. Heat in [K d], ratios in [ratio], spans in days.

    The grower's word sets the stage, back too. A measure of a look only moves it on, and holds back the sums where it
    shows less. Sums move on as far as ripening; lifted is only said, and cured is suggested by days since then.

    Args:
        planted: date of planting.
        today: the date, not before any look.
        kind: hardneck or softneck.
        latitude_deg: latitude, north positive, -90 to 90 [°].
        longitude_deg: longitude, east positive, -180 to 180 [°].
        heat_k_d: heat gathered since planting, as `heat_sum`; None is not known [K d].
        looks: what the grower saw, in any order.
        limits: what must be reached; as `limits_for` if None.

    Raises:
        ValueError: a look before the planting or after today, one that shows what cannot be, or a heat sum below 0.

    Source: the limits.
    """
    if today < planted:
        return None
    if heat_k_d is not None:
        inside("heat_k_d", heat_k_d, 0.0, 20_000.0, "K d")
    for look in looks:
        if not planted <= look.day <= today:
            raise ValueError(f"a look of {look.day}; want a date from the planting, {planted}, to today, {today}")
    limits = limits or limits_for(planted, latitude_deg, longitude_deg)
    at_least, hold = _seen(planted, today, kind, looks, limits.looks)
    reasons = (
        *_heat_and_light(planted, today, latitude_deg, longitude_deg, heat_k_d, limits),
        *_days_lifted(today, at_least, limits),
    )
    stage, held_by = at_least.stage, None
    moved_by: tuple[Reason, ...] = (at_least,)
    for later in list(Stage)[stage.place + 1 :]:
        agreed = _agreed(later, reasons)
        if agreed and hold is not None and hold.stage.place < later.place:
            held_by = hold
        elif agreed:
            stage, moved_by = later, agreed
    again = None if held_by is None or held_by.day is None else _holds_until(held_by.day, limits.looks)
    return StageNow(stage, moved_by, reasons, held_by, again)


def _seen(planted: dt.date, today: dt.date, kind: str, looks: Iterable[Look], limits: LookLimits) -> tuple[Reason, Reason | None]:
    """The stage that the looks show, and the lowest one that holds the sums back; its `stage` is the last one allowed."""
    at_least = Reason(Stage.PLANTED, Mover.PLANTING, met=True, day=planted)
    holds: list[Reason] = []
    for look in sorted(looks, key=lambda look: look.day):
        for sight in observed.sights(look, kind, limits):
            if sight.mover is Mover.SAID:
                at_least, holds = _reason(sight, sight.stage, look.day, met=True), []
                holds.append(at_least)
            elif sight.not_yet:
                before = list(Stage)[sight.stage.place - 1]
                holds = [*(hold for hold in holds if hold.mover is not sight.mover), _reason(sight, before, look.day, met=False)]
            else:
                holds = [hold for hold in holds if hold.stage.place >= sight.stage.place]
                if sight.stage.place > at_least.stage.place:
                    at_least = _reason(sight, sight.stage, look.day, met=True)
    fresh = [hold for hold in holds if hold.day is not None and today < _holds_until(hold.day, limits)]
    return at_least, min(fresh, key=lambda hold: hold.stage.place, default=None)


def _reason(sight: Sight, stage: Stage, day: dt.date, *, met: bool) -> Reason:
    return Reason(stage, sight.mover, met, sight.number, sight.limit, day)


def _holds_until(day: dt.date, limits: LookLimits) -> dt.date:
    return day + dt.timedelta(days=limits.holds_d.value)


def _heat_and_light(
    planted: dt.date,
    today: dt.date,
    latitude_deg: float,
    longitude_deg: float,
    heat_k_d: float | None,
    limits: StageLimits,
) -> tuple[Reason, ...]:
    """What heat, light and time say of the stages up to ripening."""
    light = limits.bulbing_day
    long_since = daylength.first_long_day(light, latitude_deg, longitude_deg, planted, today)
    day_h = daylength.daylength_h(today, latitude_deg, longitude_deg, light.definition)
    since_d = (today - planted).days
    heats = (
        Reason(stage, Mover.HEAT_SUM, None if heat_k_d is None else heat_k_d >= limit.value, heat_k_d, limit)
        for stage, limit in (
            (Stage.LEAVES, limits.leaves_k_d),
            (Stage.BULBING, limits.bulbing_k_d),
            (Stage.RIPENING, limits.ripening_k_d),
        )
    )
    ripe = since_d >= limits.ripening_d.value
    return (
        *heats,
        Reason(Stage.BULBING, Mover.DAYLENGTH, long_since is not None, day_h, light.hours, long_since),
        Reason(Stage.RIPENING, Mover.DAYS, ripe, since_d, limits.ripening_d),
    )


def _days_lifted(today: dt.date, at_least: Reason, limits: StageLimits) -> tuple[Reason, ...]:
    if at_least.stage is not Stage.LIFTED or at_least.day is None:
        return ()
    lifted_d = (today - at_least.day).days
    return (Reason(Stage.CURED, Mover.DAYS_LIFTED, lifted_d >= limits.cured_d.value, lifted_d, limits.cured_d, at_least.day),)


def _agreed(stage: Stage, reasons: Iterable[Reason]) -> tuple[Reason, ...]:
    """The reasons for a stage, if they agree; none otherwise.

    Bulbing wants both long days and heat, so what is not known of it leaves it open. Ripening is judged by what is known.
    """
    mine = [reason for reason in reasons if reason.stage is stage]
    if stage is not Stage.BULBING:
        mine = [reason for reason in mine if reason.met is not None]
    return tuple(mine) if all(reason.met for reason in mine) else ()
