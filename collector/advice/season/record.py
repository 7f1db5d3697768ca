"""Months of readings by the hour: what a season's sums are made of, and the last days as they were said."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

import numpy as np

from collector.crop.spans import Array, Times
from collector.model import Series

HOUR_MS = 3_600_000


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """One quantity through time: n times in order [ms since 1970-01-01 UTC], n values, NaN where not known."""

    time_ms: Times = field(default_factory=lambda: np.array([], dtype=np.int64))
    value: Array = field(default_factory=lambda: np.array([], dtype=np.float64))

    def within(self, from_ms: int, to_ms: int) -> Course:
        """The same from one time on and before another [ms]."""
        cut = slice(*np.searchsorted(self.time_ms, (from_ms, to_ms)))
        return Course(self.time_ms[cut], self.value[cut])

    def mean(self, from_ms: int, to_ms: int) -> float | None:
        """Mean of what is known in from_ms <= t < to_ms; None where that is less than three quarters of its hours."""
        said = self.within(from_ms, to_ms)
        known = np.isfinite(said.value)
        hours = np.unique(said.time_ms[known] // HOUR_MS).size
        return float(said.value[known].mean()) if hours >= 0.75 * (to_ms - from_ms) / HOUR_MS else None

    def last(self, now_ms: int, patience_ms: int) -> float | None:
        """The newest value known up to now and no older than the patience [ms]."""
        said = self.within(now_ms - patience_ms, now_ms + 1)
        known = said.value[np.isfinite(said.value)]
        return float(known[-1]) if known.size else None


def as_said(series: Series) -> Course:
    """What was said that may be believed, as it was said."""
    said = series.trusted()
    return Course(said.time_ms, said.value)


@dataclass(frozen=True, slots=True, eq=False)
class Air:
    """Air temperature and humidity at common times: n times [ms], n values each, NaN where not known."""

    time_ms: Times
    air_c: Array
    humidity_pct: Array


def together(temperature: Course, humidity: Course) -> Air:
    """Two courses brought to common times, each joined by straight lines over at most three hours."""
    times_ms = np.union1d(temperature.time_ms, humidity.time_ms)
    return Air(times_ms, _drawn(temperature, times_ms), _drawn(humidity, times_ms))


def _drawn(course: Course, times_ms: Times) -> Array:
    known = np.isfinite(course.value)
    at_ms, value = course.time_ms[known], course.value[known]
    if not at_ms.size:
        return np.full(times_ms.size, np.nan)
    after = np.searchsorted(at_ms, times_ms)
    before = np.clip(after - (np.append(at_ms, -1)[after] != times_ms), 0, at_ms.size - 1)
    gap_ms = at_ms[np.clip(after, 0, at_ms.size - 1)] - at_ms[before]
    inside = (times_ms >= at_ms[0]) & (times_ms <= at_ms[-1]) & (gap_ms <= 3 * HOUR_MS)
    return np.where(inside, np.interp(times_ms, at_ms, value), np.nan)


@dataclass(frozen=True, slots=True, eq=False)
class Record:
    """What a bed's season is worked out of.

    `air_c` is by the hour since the earliest planting, and whose it is; `air` the last weeks of it with the humidity, as
    they were said; `rain` the last weeks [mm each]. `cloves_c` is the soil by the hour at each planting's depth, by the
    depth [m]; `store_c`, `curing` are by the probes there. All of it may be empty.
    """

    air_c: Course = field(default_factory=Course)
    air: Air = field(default_factory=lambda: together(Course(), Course()))
    rain_mm: Course | None = None
    cloves_c: Mapping[float, Course] = field(default_factory=dict)
    store_c: Course = field(default_factory=Course)
    curing: Air = field(default_factory=lambda: together(Course(), Course()))
    ahead_c: Course = field(default_factory=Course)  # means of 24 h at the cloves that are foreseen, by the end of each


def day_of(at_ms: int, timezone: ZoneInfo) -> dt.date:
    """The date at a moment [ms since 1970-01-01 UTC] in the garden."""
    return dt.datetime.fromtimestamp(at_ms / 1000, tz=timezone).date()


def start_of(day: dt.date, timezone: ZoneInfo) -> int:
    """When a date begins in the garden [ms since 1970-01-01 UTC]."""
    return round(1000 * dt.datetime.combine(day, dt.time(), timezone).timestamp())
