"""Every limit that the season goes by, in one value: the usual ones, with the grower's own in their place.

Each has a name, made of what it belongs to and what it is: `chill_warm_c`, `feed_apart_d`. By these the garden file sets them.
"""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

from collector.crop import chilling, curing, daylength, disease, feed_plan, heat_sum, mildew, observed, planting, ripening, stage
from collector.crop.limits import Limit


@dataclass(frozen=True, slots=True)
class SeasonLimits:
    """What must be reached for a stage: heat since planting, days."""

    leaves_k_d: Limit
    bulbing_k_d: Limit
    ripening_k_d: Limit
    ripening_d: Limit


def _of_season(limits: stage.StageLimits) -> SeasonLimits:
    return SeasonLimits(limits.leaves_k_d, limits.bulbing_k_d, limits.ripening_k_d, limits.ripening_d)


@dataclass(frozen=True, slots=True)
class DayLimits:
    """How long the days are when bulbing may begin; its definition is kept beside it."""

    bulbing_h: Limit


_DAY = DayLimits(daylength.BULBING.hours)
_SPRING, _AUTUMN = _of_season(stage.SPRING), _of_season(stage.AUTUMN)


@dataclass(frozen=True, slots=True)
class Method:
    """The limits of the whole season, and by which definition of daylength."""

    chill: chilling.ChillLimits = chilling.USUAL
    plant: planting.PlantingLimits = planting.USUAL
    heat: heat_sum.HeatLimits = heat_sum.USUAL
    day: DayLimits = _DAY
    spring: SeasonLimits = _SPRING
    autumn: SeasonLimits = _AUTUMN
    look: observed.LookLimits = observed.USUAL
    feed: feed_plan.FeedLimits = feed_plan.USUAL
    lift: ripening.LiftLimits = ripening.USUAL
    cure: curing.CureLimits = curing.USUAL
    rust: disease.RustLimits = disease.RUST
    mildew: mildew.MildewLimits = mildew.USUAL
    rot: disease.WhiteRotLimits = disease.WHITE_ROT
    definition: daylength.Definition = daylength.BULBING.definition

    def named(self) -> dict[str, Limit]:
        """Every limit by its name [the unit of each].

        Source: that of each limit.
        """
        return {f"{group}_{name}": limit for group, name, limit in _limits(self)}

    def with_own(self, own: Mapping[str, float], definition: daylength.Definition | None = None) -> Method:
        """The method with the grower's own limits.

        Args:
            own: numbers by name [the unit of each limit].
            definition: where the sun stands when the day begins and ends; None leaves it.

        Raises:
            KeyError: a name that no limit has.
            ValueError: a number that is not finite.

        Source: none, they are the grower's; each still tells what it replaces.
        """
        changed: dict[str, Any] = {}
        usual = self.named()
        for name, value in own.items():
            group, _, field = name.partition("_")
            limits = changed.get(group, getattr(self, group))
            changed[group] = replace(limits, **{field: usual[name].by_grower(value)})
        return replace(self, **changed, definition=definition or self.definition)

    def misordered(self) -> tuple[tuple[str, str], ...]:
        """Pairs of names of which the first is not below the second, though it must be [names].

        Source: by definition.
        """
        values = {name: limit.value for name, limit in self.named().items()}
        return tuple(pair for pair in _ORDERED if not values[pair[0]] < values[pair[1]])

    def stages(self, planted: dt.date, latitude_deg: float, longitude_deg: float) -> stage.StageLimits:
        """What must be reached for each stage of a planting: of a long season where it was planted as days shorten.

        Args:
            planted: date of planting.
            latitude_deg: latitude, north positive [°].
            longitude_deg: longitude, east positive [°].

        Source: as `stage.limits_for`.
        """
        own = self.autumn if daylength.days_shorten(planted, latitude_deg, longitude_deg) else self.spring
        return stage.StageLimits(
            leaves_k_d=own.leaves_k_d,
            bulbing_k_d=own.bulbing_k_d,
            ripening_k_d=own.ripening_k_d,
            ripening_d=own.ripening_d,
            bulbing_day=daylength.Threshold(self.day.bulbing_h, self.definition),
            cured_d=self.cure.hung_least_d,
            looks=self.look,
        )


_RISING = (
    ("chill_cold_c", "chill_warm_c"),
    ("chill_stock_cold_c", "chill_stock_warm_c"),
    ("heat_base_c", "heat_cap_c"),
    ("spring_leaves_k_d", "spring_bulbing_k_d", "spring_ripening_k_d"),
    ("autumn_leaves_k_d", "autumn_bulbing_k_d", "autumn_ripening_k_d"),
    ("look_bulbing_ratio", "look_ripe_ratio"),
    ("feed_season_least_g_m2", "feed_season_most_g_m2"),
    ("lift_first_leaves", "lift_late_leaves"),
    ("lift_first_share", "lift_most_share"),
    ("lift_dry_least_d", "lift_dry_most_d"),
    ("cure_hung_least_d", "cure_hung_most_d"),
    ("cure_warm_low_c", "cure_warm_high_c"),
    ("cure_dry_pct", "cure_damp_pct"),
    ("rust_low_c", "rust_best_low_c", "rust_best_high_c", "rust_high_c"),
    ("mildew_day_surely_c", "mildew_day_perhaps_c"),
    ("mildew_cool_low_c", "mildew_cool_high_c", "mildew_mild_high_c"),
    ("mildew_shows_least_d", "mildew_shows_most_d"),
    ("rot_lab_low_c", "rot_best_low_c", "rot_best_high_c", "rot_stop_c"),
)
_ORDERED = tuple(pair for names in _RISING for pair in itertools.pairwise(names))


def _limits(method: Method) -> Iterator[tuple[str, str, Limit]]:
    for group in fields(method):
        limits = getattr(method, group.name)
        if not isinstance(limits, daylength.Definition):
            for field in fields(limits):
                yield group.name, field.name, getattr(limits, field.name)


USUAL = Method()
