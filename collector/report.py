"""A season's record gathered for a report: each bed's days, what was done in it and told of it, and how beds differ."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from collector.advice.compare import Array, Difference, difference
from collector.advice.season.record import HOUR_MS, Course, day_of, start_of
from collector.advice.season.seasons import Seasons, cloves_by_hour
from collector.advice.season.state import SeasonState
from collector.advice.voice import voice_of
from collector.calls import Notice
from collector.errors import QuestionError
from collector.journal import Deed, Entry
from collector.model import Bed, Garden
from collector.ports import Clock, Readings, SeasonStore

# A day is known where so many of its hours are.
HOURS_A_DAY = 18
NOTICES_MOST = 5000


@dataclass(frozen=True, slots=True, eq=False)
class BedRecord:
    """One bed over the days of a report: n dates, and n values each, NaN where the day is not known.

    `mean_c` is the mean at the cloves, `over_h` the hours of the day above the cool limit. `water_mm` is what was given by
    the journal, litres told on the bed's area; `untold` waterings told no amount. `yield_kg_m2` is None where nothing was
    weighed.
    """

    bed: Bed
    season: SeasonState
    entries: tuple[Entry, ...]
    told: tuple[Notice, ...]
    days: tuple[dt.date, ...]
    mean_c: Array
    over_h: Array
    water_mm: float
    untold: int
    yield_kg_m2: float | None
    diameter_mm: float | None


@dataclass(frozen=True, slots=True)
class Pair:
    """How two beds differ, the first less the second; None where their days do not tell."""

    first: BedRecord
    second: BedRecord
    mean_k: Difference | None
    over_h: Difference | None


@dataclass(frozen=True, slots=True)
class Report:
    """All that a report tells."""

    garden: Garden
    made_ms: int
    first: dt.date
    last: dt.date
    beds: tuple[BedRecord, ...]
    pairs: tuple[Pair, ...]


class Reporter:
    """Gathers reports of one garden. What the stores raise is raised on."""

    def __init__(self, garden: Garden, readings: Readings, season: SeasonStore, clock: Clock) -> None:
        """It opens nothing: the stores are the caller's to close."""
        self._garden = garden
        self._readings = readings
        self._season = season
        self._seasons = Seasons(garden, readings, season)
        self._clock = clock
        self._zone = voice_of(garden).timezone

    def report(self, bed_ids: Sequence[str] = (), first: dt.date | None = None, last: dt.date | None = None) -> Report:
        """The report of some beds, of all where none is named, from the planting to the lift or to today if no dates are given.

        Raises QuestionError for an unknown bed, dates in the wrong order, or a garden that has neither planting nor dates.
        """
        beds = [self._bed(bed_id) for bed_id in bed_ids] or list(self._garden.beds)
        now_ms = self._clock.now_ms()
        today = day_of(now_ms, self._zone)
        journal = self._season.entries(0, now_ms + 1)
        planted = min((one.planted for bed in beds for one in bed.plantings), default=None)
        begins = first or planted
        if begins is None:
            raise QuestionError("the garden file names no planting; want the dates of the report, as --from 2025-10-01")
        ends = last or self._lifted(beds, journal, begins) or today
        if ends < begins:
            raise QuestionError(f"the report would end on {ends} and begin on {begins}; want an end after the beginning")
        told = self._season.notices(NOTICES_MOST)
        records = tuple(self._record(bed, begins, min(ends, today), journal, told, now_ms) for bed in beds)
        pairs = tuple(_pair(*two) for two in combinations(records, 2))
        return Report(self._garden, now_ms, begins, min(ends, today), records, pairs)

    # ------------------------------------------------------------ parts of the above

    def _bed(self, bed_id: str) -> Bed:
        bed = self._garden.bed(bed_id)
        if bed is None:
            known = ", ".join(one.id for one in self._garden.beds)
            raise QuestionError(f"bed {bed_id!r}: the garden file names no such bed; it names {known}")
        return bed

    def _lifted(self, beds: Sequence[Bed], journal: Sequence[Entry], begins: dt.date) -> dt.date | None:
        """When the last of the beds was lifted; None while one of them is not."""
        days = []
        for bed in beds:
            lifts = [day_of(one.at_ms, self._zone) for one in journal if (one.bed_id, one.deed) == (bed.id, Deed.LIFTED)]
            days.append(max((day for day in lifts if day >= begins), default=None))
        known = [day for day in days if day is not None]
        return max(known) if known and len(known) == len(days) else None

    def _record(
        self, bed: Bed, first: dt.date, last: dt.date, journal: Sequence[Entry], told: Sequence[Notice], now_ms: int
    ) -> BedRecord:
        from_ms, to_ms = start_of(first, self._zone), start_of(last + dt.timedelta(days=1), self._zone)
        days = tuple(first + dt.timedelta(days=day) for day in range((last - first).days + 1))
        depth_m = bed.clove_depth_m
        course = Course()
        if depth_m is not None:
            course = cloves_by_hour(self._readings, bed, from_ms, min(to_ms, now_ms + 1)).get(depth_m, course)
        starts_ms = np.array([start_of(day, self._zone) for day in (*days, last + dt.timedelta(days=1))], dtype=np.int64)
        mean_c, over_h = _by_the_day(course, starts_ms, bed.cool_limit_c)
        entries = tuple(one for one in journal if one.bed_id == bed.id and from_ms <= one.at_ms < to_ms)
        waterings = [one.amounts.get("litres") for one in entries if one.deed is Deed.WATERED]
        weighed = [one.amounts for one in entries if one.deed is Deed.WEIGHED]
        kilos, widths = ([one[name] for one in weighed if name in one] for name in ("yield_kg", "diameter_mm"))
        return BedRecord(
            bed=bed,
            season=self._seasons.of(bed, self._seasons.entries(now_ms), None, now_ms),
            entries=entries,
            told=tuple(one for one in reversed(told) if one.bed_id == bed.id and from_ms <= one.raised_ms < to_ms),
            days=days,
            mean_c=mean_c,
            over_h=over_h,
            water_mm=sum(litres or 0.0 for litres in waterings) / bed.area_m2,
            untold=sum(litres is None for litres in waterings),
            yield_kg_m2=sum(kilos) / bed.area_m2 if kilos else None,
            diameter_mm=float(np.mean(widths)) if widths else None,
        )


def _by_the_day(course: Course, starts_ms: NDArray[np.int64], limit_c: float | None) -> tuple[Array, Array]:
    """Means of days at the cloves [°C], and hours over the limit [h]; NaN for a day of which too few hours are known."""
    days = starts_ms.size - 1
    mean_c, over_h = np.full(days, np.nan), np.full(days, np.nan)
    known = np.isfinite(course.value)
    at_ms, value_c = course.time_ms[known], course.value[known]
    for day, (low, high) in enumerate(zip(starts_ms[:-1].tolist(), starts_ms[1:].tolist(), strict=True)):
        cut = slice(*np.searchsorted(at_ms, (low, high)))
        if at_ms[cut].size >= HOURS_A_DAY:
            mean_c[day] = value_c[cut].mean()
            if limit_c is not None:
                over_h[day] = (value_c[cut] > limit_c).mean() * (high - low) / HOUR_MS
    return mean_c, over_h


def _pair(first: BedRecord, second: BedRecord) -> Pair:
    # Each bed by its own limit would compare limits and not beds.
    same = first.bed.cool_limit_c == second.bed.cool_limit_c
    over_h = difference(first.over_h, second.over_h) if same else None
    return Pair(first, second, difference(first.mean_c, second.mean_c), over_h)
