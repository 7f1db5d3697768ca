"""Nights in which downy mildew can form spores, and the damp hours after them in which these can infect.

As in `disease`: nothing here says that the disease is there, and what a gap may hide is not taken for safe. There is no probe
for wet leaves; air of 95 % stands in for them, which is a guess.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from collector.calls import Evidence
from collector.crop import daylength
from collector.crop.disease import HOUR_S, Fit
from collector.crop.limits import Limit
from collector.crop.spans import LONGEST_S, Array, Marks, Spans, Times, both_known, longest_run_s, spans_of

DAY_MS = daylength.DAY_MS
SPORES = (Fit.YES, Fit.PERHAPS)


@dataclass(frozen=True, slots=True)
class MildewLimits:
    """What forms spores at night, what stops it the day before, and what infects."""

    humid_pct: Limit
    from_h: Limit
    day_surely_c: Limit
    day_perhaps_c: Limit
    stop_c: Limit
    stop_h: Limit
    stop_soon_c: Limit
    stop_soon_h: Limit
    cool_low_c: Limit
    cool_high_c: Limit
    cool_h: Limit
    mild_high_c: Limit
    mild_h: Limit
    alive_h: Limit
    shows_least_d: Limit
    shows_most_d: Limit


_HILDEBRAND = (
    "Hildebrand & Sutton 1982, Phytopathology 72:219-224 (abstract): 95 % humidity or more from 02:00 to dawn, "
    "the day before below 23 to 24 °C, no film of water; shows after 10 to 16 days"
)
_IPM = "UC IPM, downy mildew: fewer spores above 24 °C, none above 28 °C for 4 h or 29 °C for 2 h; rain at night suppresses them"
_WET = "a copy of UC IPM, downy mildew: wet for 2 to 3 h at 6 to 16 °C, or 5 h and more at 16 to 20 °C"
_VISSER = (
    "de Visser 1998, European Journal of Plant Pathology 104:933-943: infection up to 72 h after spores formed (second-hand)"
)
# De Visser draws the lines elsewhere: spores above 92 % humidity, and a warm day is one of several hours above 27 °C
# (second-hand). The
# limits here are those of the trials that were seen.
USUAL = MildewLimits(
    humid_pct=Limit(95.0, "%RH", Evidence.PUBLISHED, _HILDEBRAND),
    from_h=Limit(2.0, "h", Evidence.PUBLISHED, _HILDEBRAND),
    day_surely_c=Limit(23.0, "°C", Evidence.PUBLISHED, _HILDEBRAND),
    day_perhaps_c=Limit(24.0, "°C", Evidence.PUBLISHED, _HILDEBRAND),
    stop_c=Limit(28.0, "°C", Evidence.PUBLISHED, _IPM),
    stop_h=Limit(4.0, "h", Evidence.PUBLISHED, _IPM),
    stop_soon_c=Limit(29.0, "°C", Evidence.PUBLISHED, _IPM),
    stop_soon_h=Limit(2.0, "h", Evidence.PUBLISHED, _IPM),
    cool_low_c=Limit(6.0, "°C", Evidence.WEAK, _WET),
    cool_high_c=Limit(16.0, "°C", Evidence.WEAK, _WET),
    cool_h=Limit(3.0, "h", Evidence.WEAK, _WET),
    mild_high_c=Limit(20.0, "°C", Evidence.WEAK, _WET),
    mild_h=Limit(5.0, "h", Evidence.WEAK, _WET),
    alive_h=Limit(72.0, "h", Evidence.PUBLISHED, _VISSER),
    shows_least_d=Limit(10.0, "d", Evidence.PUBLISHED, _HILDEBRAND),
    shows_most_d=Limit(16.0, "d", Evidence.PUBLISHED, _HILDEBRAND),
)


@dataclass(frozen=True, slots=True)
class SporeNight:
    """One night: how long it was humid from two o'clock to dawn [h], the warmest of the day before [°C], and how it fits.

    `day` is the date of its dawn; `dawn_ms` is None where the sun does not rise. `rain_known` is False where the rain was not
    told: rain would have suppressed it.
    """

    day: dt.date
    dawn_ms: int | None
    humid_h: float
    night_h: float
    day_before_c: float
    rain_known: bool
    fit: Fit


@dataclass(frozen=True, slots=True)
class MildewWeather:
    """The nights, and the longest damp runs after those that fit, in the cool range and in the cool and mild one [h].

    `shows` is from when to when an infection by the first night of spores that was followed by one, or else by the first
    night of spores, would show [ms since 1970 UTC].
    """

    nights: tuple[SporeNight, ...]
    cool_run_h: float
    mild_run_h: float
    fit: Fit
    shows: tuple[int, int] | None


def mildew_weather(
    time_ms: Times,
    air_c: Array,
    humidity_pct: Array,
    days: Sequence[dt.date],
    latitude_deg: float,
    longitude_deg: float,
    night_rain_mm: Mapping[dt.date, float] | None = None,
    limits: MildewLimits = USUAL,
    longest_s: float = LONGEST_S,
) -> MildewWeather:
    """Nights of spores and damp hours of infection for downy mildew, Peronospora destructor [h].

    It fits where a night of spores is followed by damp hours at a temperature that infects, and perhaps where only the one or
    only the milder sign of it is met. Two o'clock is by the mean sun of the place.

    Args:
        time_ms: times of n readings, each later than the one before [ms since 1970 UTC].
        air_c: air temperature at those times, NaN is not known [°C].
        humidity_pct: relative humidity at those times, NaN is not known [%RH].
        days: dates of the dawns to judge, in order, at least one; the readings should reach a day before the first.
        latitude_deg: latitude, north positive [°].
        longitude_deg: longitude, east positive [°].
        night_rain_mm: rain between two o'clock and dawn by date; a date that is missing, or NaN, is not known [mm].
        limits: what spores and infection need.
        longest_s: two readings farther apart than this have a gap between them [s].

    Raises:
        ValueError: no days, arrays of unequal lengths, times out of order, or a place that cannot be.

    Source: Hildebrand & Sutton 1982 (abstract); UC IPM, downy mildew; the hours of infection are weak.
    """
    if not days:
        raise ValueError("no days; want the date of at least one dawn")
    air = _Air(time_ms, air_c, humidity_pct, longest_s)
    rain_mm = night_rain_mm or {}
    nights = tuple(_night(air, day, latitude_deg, longitude_deg, rain_mm.get(day), limits) for day in days)
    spores = [(night, night.dawn_ms) for night in nights if night.dawn_ms is not None and night.fit in SPORES]
    if not spores:
        hidden = any(night.fit is Fit.NOT_KNOWN for night in nights)
        return MildewWeather(nights, 0.0, 0.0, Fit.NOT_KNOWN if hidden else Fit.NO, None)
    cool_h = mild_h = 0.0
    surely, first_ms = False, None
    for night, dawn_ms in spores:
        after_cool_h, after_mild_h = _infecting_h(air, dawn_ms, limits)
        cool_h, mild_h = max(cool_h, after_cool_h), max(mild_h, after_mild_h)
        if after_cool_h >= limits.cool_h.value or after_mild_h >= limits.mild_h.value:
            first_ms = first_ms or dawn_ms
            surely = surely or night.fit is Fit.YES
    began_ms = first_ms or spores[0][1]
    shows = (began_ms + int(limits.shows_least_d.value * DAY_MS), began_ms + int(limits.shows_most_d.value * DAY_MS))
    return MildewWeather(nights, cool_h, mild_h, Fit.YES if surely else Fit.PERHAPS, shows)


@dataclass(frozen=True, slots=True, eq=False)
class _Air:
    """The readings, and the time between them."""

    time_ms: Times
    air_c: Array
    humidity_pct: Array
    longest_s: float

    def spans(self, from_ms: int, to_ms: int, *, humid: bool) -> Spans:
        known = both_known(self.air_c, self.humidity_pct) if humid else np.isfinite(self.air_c)
        return spans_of(self.time_ms, known, from_ms, to_ms, self.longest_s)


def _night(
    air: _Air, day: dt.date, latitude_deg: float, longitude_deg: float, rain_mm: float | None, limits: MildewLimits
) -> SporeNight:
    two_ms = int(daylength.mean_solar_ms(day, longitude_deg, limits.from_h.value))
    times_ms = daylength.sun_times_ms(day, latitude_deg, longitude_deg, daylength.Definition.ALMANAC)
    rain_known, rained = rain_mm is not None and math.isfinite(rain_mm), rain_mm is not None and rain_mm > 0.0
    if times_ms is None or times_ms[0] <= two_ms:  # no dawn, or it is light at two
        return SporeNight(day, None, 0.0, 0.0, float("nan"), rain_known, Fit.NOT_KNOWN)
    dawn_ms = int(times_ms[0])
    night = air.spans(two_ms, dawn_ms, humid=True)
    humid = night.both_ends(air.humidity_pct >= limits.humid_pct.value)
    before = air.spans(two_ms - DAY_MS, two_ms, humid=False)
    warmest_c, before_fit = _day_before(air, before, limits)
    humid_fit = Fit.NO if (night.known & ~humid).any() else Fit.YES if night.known.all() else Fit.NOT_KNOWN
    fit = _worst(humid_fit, before_fit, Fit.NO if rained else Fit.YES)
    humid_h = float(night.length_s[humid].sum()) / HOUR_S
    return SporeNight(day, dawn_ms, humid_h, (dawn_ms - two_ms) / 1000.0 / HOUR_S, warmest_c, rain_known, fit)


def _day_before(air: _Air, before: Spans, limits: MildewLimits) -> tuple[float, Fit]:
    """The warmest of the day before a night [°C], and whether it let spores form in that night."""

    def stopped(limit_c: Limit, run_h: Limit) -> bool:
        return longest_run_s(before, before.both_ends(air.air_c > limit_c.value)) >= run_h.value * HOUR_S

    ends = np.concatenate((before.before[before.known], before.after[before.known]))
    warmest_c = float(air.air_c[ends].max()) if ends.size else float("nan")
    if stopped(limits.stop_c, limits.stop_h) or stopped(limits.stop_soon_c, limits.stop_soon_h):
        return warmest_c, Fit.NO
    if not before.known.all():  # the warmest hours may lie in the gap
        return warmest_c, Fit.NOT_KNOWN
    return warmest_c, Fit.YES if warmest_c < limits.day_surely_c.value else Fit.PERHAPS


def _worst(*fits: Fit) -> Fit:
    """What all of them allow: one "no" is enough, and what is not known outweighs what fits."""
    for fit in (Fit.NO, Fit.NOT_KNOWN, Fit.PERHAPS):
        if fit in fits:
            return fit
    return Fit.YES


def _infecting_h(air: _Air, dawn_ms: int, limits: MildewLimits) -> tuple[float, float]:
    """The longest damp runs while the spores of a night live, in the cool range, and in the cool and mild one [h]."""
    spans = air.spans(dawn_ms, dawn_ms + int(limits.alive_h.value * HOUR_S * 1000.0), humid=True)
    damp = air.humidity_pct >= limits.humid_pct.value

    def run_h(holds: Marks) -> float:
        return longest_run_s(spans, spans.both_ends(damp & holds)) / HOUR_S

    warm_enough = air.air_c >= limits.cool_low_c.value
    return run_h(warm_enough & (air.air_c <= limits.cool_high_c.value)), run_h(
        warm_enough & (air.air_c <= limits.mild_high_c.value)
    )
