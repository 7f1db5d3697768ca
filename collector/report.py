"""A season's record gathered for a report: each bed's days, what was done in it and told of it, and how beds differ."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from collector.advice.season.beside import Pair, beside
from collector.advice.season.built import locale_of
from collector.advice.season.past import Past, Span, past_of
from collector.advice.season.record import day_of, start_of
from collector.advice.season.seasons import Seasons
from collector.advice.season.state import SeasonState
from collector.calls import Notice
from collector.errors import QuestionError
from collector.journal import Deed, Entry
from collector.model import Bed, Garden
from collector.ports import Clock, Readings, SeasonStore

NOTICES_MOST = 5000


@dataclass(frozen=True, slots=True, eq=False)
class BedRecord:
    """One bed over the days of a report: what is known of them, how far its season is, and what was told of it."""

    past: Past
    season: SeasonState
    told: tuple[Notice, ...]

    @property
    def bed(self) -> Bed:
        """The bed."""
        return self.past.bed


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
        self._locale = locale_of(garden)
        self._zone = self._locale.timezone

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
        pairs = tuple(beside(one.past, other.past) for one, other in combinations(records, 2))
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
        planted = min((one.planted for one in bed.plantings if one.planted <= last), default=None)
        span = Span(bed, first, last, planted)
        return BedRecord(
            past=past_of(span, self._garden, self._locale, self._readings, journal, now_ms),
            season=self._seasons.of(bed, self._seasons.entries(now_ms), None, now_ms),
            told=tuple(one for one in reversed(told) if one.bed_id == bed.id and from_ms <= one.raised_ms < to_ms),
        )
