"""One bed over some days as readings and journal tell it: the cloves day by day, water, stages, harvest. Reads the store."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from collector.advice.long_past import fallen_mm
from collector.advice.season.built import EARLY_D, SUMS_MOST_D, Locale
from collector.advice.season.looks import about, looks_of
from collector.advice.season.record import HOUR_MS, Course, day_of, start_of
from collector.advice.season.seasons import cloves_by_hour
from collector.crop.observed import Stage, sights
from collector.crop.spans import Array
from collector.journal import Deed, Entry
from collector.model import Bed, Garden, Planting
from collector.ports import Readings
from collector.units import Quantity

# A day is known where so many of its hours are.
HOURS_A_DAY = 18
# A planting so long after the one before it begins a season of its own, even where no lift was written down [d].
ANOTHER_SEASON_D = 200
# Bulbs are weighed when they are cured: what is weighed so long after the lift belongs to the season [d].
HARVEST_D = 120


@dataclass(frozen=True, slots=True)
class Span:
    """Some days of a bed, both ends among them. `planted` is when its crop went into the ground, None where nothing tells."""

    bed: Bed
    first: dt.date
    last: dt.date
    planted: dt.date | None = None

    @property
    def key(self) -> str:
        """A name for it that no other season of the garden has, for an address."""
        return f"{self.first.isoformat()}-{self.bed.id}"


@dataclass(frozen=True, slots=True)
class Harvest:
    """What was weighed after the lift; None is what nobody told. `area_m2` may be NaN."""

    yield_kg: float | None
    bulbs: int | None
    diameter_mm: float | None

    def yield_kg_m2(self, area_m2: float) -> float | None:
        """The yield by area; None where it, or the area [m²], is not told."""
        return self.yield_kg / area_m2 if self.yield_kg is not None and area_m2 > 0.0 else None


@dataclass(frozen=True, slots=True, eq=False)
class Past:
    """One bed over the days of a span: n dates, and n values each, NaN where the day is not known.

    `mean_c` is the mean at the cloves, `over_h` the hours of the day above the cool limit. `water_mm` is what was given by
    the journal, litres told on the bed's area; `untold` waterings told no amount. `rain_mm` is what a gauge of the garden
    caught, None without one. `seen_d` says how many days after the planting each stage was first seen, where it was.
    """

    span: Span
    entries: tuple[Entry, ...]
    days: tuple[dt.date, ...]
    mean_c: Array
    over_h: Array
    water_mm: float
    untold: int
    rain_mm: float | None
    seen_d: Mapping[Stage, int]
    harvest: Harvest | None

    @property
    def bed(self) -> Bed:
        """The bed."""
        return self.span.bed


def seasons_of(bed: Bed, entries: Sequence[Entry], today: dt.date, timezone: ZoneInfo) -> tuple[Span, ...]:
    """The seasons of a bed that journal and garden file know of, the newest first.

    A season goes from a planting to the lift, or to today, or to the next planting; never longer than garlic grows. The
    date of the garden file counts where the journal tells no planting about then.

    Args:
        bed: the bed.
        entries: the journal, about any bed, none taken back.
        today: the date; a planting after it is a plan.
        timezone: the garden's.
    """
    own = [entry for entry in entries if entry.bed_id == bed.id]
    said = {day_of(entry.at_ms, timezone) for entry in own if entry.deed is Deed.PLANTED}
    filed = {one.planted for one in bed.plantings if not any(abs((one.planted - day).days) <= EARLY_D for day in said)}
    lifts = [(day_of(entry.at_ms, timezone), entry.planting) for entry in own if entry.deed is Deed.LIFTED]
    begins: list[dt.date] = []
    for day in sorted(day for day in said | filed if day <= today):
        if not begins or (day - begins[-1]).days > ANOTHER_SEASON_D or any(begins[-1] <= lift <= day for lift, _ in lifts):
            begins.append(day)
    found = []
    for first, following in pairwise([*begins, None]):
        assert first is not None
        stop = today if following is None else following - dt.timedelta(days=1)
        mine = [(day, variety) for day, variety in lifts if first <= day <= stop]
        over = following is not None or _all_lifted(bed, {variety for _, variety in mine})
        last = max(day for day, _ in mine) if mine and over else stop
        found.append(Span(bed, first, min(last, first + dt.timedelta(days=SUMS_MOST_D)), first))
    return tuple(reversed(found))


def _all_lifted(bed: Bed, varieties: set[str | None]) -> bool:
    """True where these are all that grows in the bed; None stands for the whole of it."""
    return None in varieties or (bool(varieties) and varieties >= {one.variety for one in bed.plantings})


def past_of(span: Span, garden: Garden, locale: Locale, readings: Readings, journal: Sequence[Entry], now_ms: int) -> Past:
    """What is known of a bed over a span. Raises what the store raises.

    Args:
        span: which bed, and which days.
        garden: for a rain gauge in another bed.
        locale: where it is, and by which limits.
        readings: the store.
        journal: about any bed, oldest first, none taken back, up to now.
        now_ms: the moment [ms since 1970-01-01 UTC].
    """
    bed, timezone = span.bed, locale.timezone
    days = tuple(span.first + dt.timedelta(days=day) for day in range((span.last - span.first).days + 1))
    starts_ms = np.array([start_of(day, timezone) for day in (*days, span.last + dt.timedelta(days=1))], dtype=np.int64)
    from_ms, to_ms = int(starts_ms[0]), int(starts_ms[-1])
    course, depth_m = Course(), bed.clove_depth_m
    if depth_m is not None:
        course = cloves_by_hour(readings, bed, from_ms, min(to_ms, now_ms + 1)).get(depth_m, course)
    mean_c, over_h = _by_the_day(course, starts_ms, bed.cool_limit_c)
    own = [entry for entry in journal if entry.bed_id == bed.id and from_ms <= entry.at_ms]
    entries = tuple(entry for entry in own if entry.at_ms < to_ms)
    waterings = [entry.amounts.get("litres") for entry in entries if entry.deed is Deed.WATERED]
    gauge = next((probe for one in (bed, *garden.beds) for probe in one.probes_of(Quantity.RAIN)), None)
    return Past(
        span=span,
        entries=entries,
        days=days,
        mean_c=mean_c,
        over_h=over_h,
        water_mm=sum(litres or 0.0 for litres in waterings) / bed.area_m2,
        untold=sum(litres is None for litres in waterings),
        rain_mm=None if gauge is None else fallen_mm(readings, gauge.id, from_ms, min(to_ms, now_ms + 1)),
        seen_d=_first_seen(span, locale, entries),
        harvest=_harvest(entries, own, to_ms),
    )


def _by_the_day(course: Course, starts_ms: NDArray[np.int64], limit_c: float | None) -> tuple[Array, Array]:
    """Means of days at the cloves [°C], and hours over the limit [h]; NaN for a day of which too few hours are known."""
    days = starts_ms.size - 1
    mean_c, over_h = np.full(days, np.nan), np.full(days, np.nan)
    known = np.isfinite(course.value)
    at_ms, value_c = course.time_ms[known], course.value[known]
    for day, (low, high) in enumerate(pairwise(starts_ms.tolist())):
        cut = slice(*np.searchsorted(at_ms, (low, high)))
        if at_ms[cut].size >= HOURS_A_DAY:
            mean_c[day] = value_c[cut].mean()
            if limit_c is not None:
                over_h[day] = (value_c[cut] > limit_c).mean() * (high - low) / HOUR_MS
    return mean_c, over_h


def _first_seen(span: Span, locale: Locale, entries: Sequence[Entry]) -> dict[Stage, int]:
    """How many days after the planting each stage was first seen: in the first variety that showed it, if there are several."""
    if span.planted is None:
        return {}
    found: dict[Stage, int] = {}
    for one in span.bed.plantings:
        for stage, day in stages_seen(one, span.planted, span.last, locale, entries):
            since_d = (day - span.planted).days
            found[stage] = min(since_d, found.get(stage, since_d))
    return found


def stages_seen(
    one: Planting, planted: dt.date, last: dt.date, locale: Locale, entries: Sequence[Entry]
) -> Iterator[tuple[Stage, dt.date]]:
    """Each stage after the planting that was seen up to a date, in order, and the day when it first was.

    Args:
        one: the planting.
        planted: when it went into the ground.
        last: the last date that counts.
        locale: by which limits a look shows a stage.
        entries: of the bed's journal, oldest first.
    """
    limits = locale.method.look
    looks = looks_of(about(entries, one.variety), planted, last, locale.timezone)
    shown = [
        (look.day, max(sight.stage.place for sight in sights(look, one.kind, limits) if not sight.not_yet))
        for look in looks
        if any(not sight.not_yet for sight in sights(look, one.kind, limits))
    ]
    for stage in list(Stage)[1:]:
        day = next((day for day, place in shown if place == stage.place), None)
        if day is not None:
            yield stage, day


def _harvest(entries: Sequence[Entry], later: Sequence[Entry], to_ms: int) -> Harvest | None:
    """What was weighed in the span, and for some time after it where it ends with a lift."""
    lifted = any(entry.deed is Deed.LIFTED for entry in entries)
    end_ms = to_ms + HARVEST_D * 24 * HOUR_MS if lifted else to_ms
    weighed = [entry.amounts for entry in later if entry.deed is Deed.WEIGHED and entry.at_ms < end_ms]
    if not weighed:
        return None

    def told(name: str) -> list[float]:
        return [amounts[name] for amounts in weighed if name in amounts]

    kilos, bulbs, widths = told("yield_kg"), told("bulbs"), told("diameter_mm")
    return Harvest(
        yield_kg=sum(kilos) if kilos else None,
        bulbs=round(sum(bulbs)) if bulbs else None,
        diameter_mm=sum(widths) / len(widths) if widths else None,
    )
