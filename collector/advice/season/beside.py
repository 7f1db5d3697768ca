"""Two beds, or two seasons, beside each other, day by day. Pure."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from collector.advice.compare import Difference, difference
from collector.advice.season.past import Past
from collector.crop.spans import Array

_DAYS_A_YEAR = 365.25


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """How two spans differ, the first less the second; a difference is None where no day tells it.

    Spans that overlap are compared day by day; those of two years by the same days of the year, `years` apart. `days` are
    those of the first; `first_c` and `second_c` the means at the cloves on them, NaN where one has no such day.
    """

    first: Past
    second: Past
    years: int
    days: tuple[dt.date, ...]
    first_c: Array
    second_c: Array
    mean_k: Difference | None
    over_h: Difference | None

    @property
    def limit_c(self) -> float | None:
        """The cool limit of both; None where they have not the same."""
        limits_c = {self.first.bed.cool_limit_c, self.second.bed.cool_limit_c}
        return limits_c.pop() if len(limits_c) == 1 else None


def beside(first: Past, second: Past) -> Pair:
    """How two spans of days differ.

    Args:
        first: the one.
        second: the other, of which each day is compared with the same day of the first.
    """
    years = _years_between(first, second)
    second_c = _on_days_of(first, second, second.mean_c, years)
    # Each by its own limit would compare limits and not beds.
    same_limit = first.bed.cool_limit_c == second.bed.cool_limit_c
    over_h = difference(first.over_h, _on_days_of(first, second, second.over_h, years)) if same_limit else None
    return Pair(
        first=first,
        second=second,
        years=years,
        days=first.days,
        first_c=first.mean_c,
        second_c=second_c,
        mean_k=difference(first.mean_c, second_c),
        over_h=over_h,
    )


def _years_between(first: Past, second: Past) -> int:
    """How many years the second is later: 0 where they have days in common."""
    if first.days[0] <= second.days[-1] and second.days[0] <= first.days[-1]:
        return 0
    return round((second.days[0] - first.days[0]).days / _DAYS_A_YEAR)


def _on_days_of(first: Past, second: Past, value: Array, years: int) -> Array:
    """Values of the second, one for each day of the first; NaN where the second has no such day."""
    place = {day: number for number, day in enumerate(second.days)}
    at = [place.get(later) if (later := _later(day, years)) else None for day in first.days]
    return np.array([np.nan if number is None else value[number] for number in at], dtype=np.float64)


def _later(day: dt.date, years: int) -> dt.date | None:
    """The same day of another year; None for 29 February in a year without one."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return None
