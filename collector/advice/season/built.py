"""A bed's season, put together from the garden file, the journal and months of readings. Pure."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np

from collector.advice.season.fed import feed_state
from collector.advice.season.looks import about, day_of_newest, looks_of, newest
from collector.advice.season.record import HOUR_MS, Course, Record, day_of, start_of
from collector.advice.season.state import CLOTH_LIES_MS, AfterState, ClothState, PlantingState, SeasonState, TroubleState
from collector.crop import chilling, curing, daylength, disease, heat_sum, mildew, planting, ripening, stage
from collector.crop.limits import Limit
from collector.crop.method import USUAL, Method
from collector.crop.observed import Stage
from collector.journal import Deed, Entry
from collector.model import Bed, Garden, Planting

DAY_MS = 24 * HOUR_MS
# Weather for disease is told of so many days: rust shows nine days after, downy mildew up to sixteen.
TROUBLE_DAYS = 16
# The planting may be noted so long before the date that the garden file plans [d]; what is older is of another season.
EARLY_D = 45
# How fast heat is gathered now is taken from so many days.
PACE_DAYS = 14
# So long after planting the sums tell of no garlic any more, but of a garden file from another year; only looks do.
SUMS_MOST_D = 330
# What would come later than this at the pace of now is not foretold [d].
AHEAD_MOST_D = 300
# How old air may be that stands for that of the store now.
STORE_PATIENCE_MS = 6 * HOUR_MS


@dataclass(frozen=True, slots=True)
class Locale:
    """Where a garden is, its calendar, and the limits that its grower goes by."""

    latitude_deg: float
    longitude_deg: float
    timezone: ZoneInfo
    method: Method


def locale_of(garden: Garden) -> Locale:
    """The locale of a garden."""
    definition = None if garden.daylength is None else daylength.Definition[garden.daylength.upper()]
    method = USUAL.with_own(garden.limits, definition)
    return Locale(garden.latitude_deg, garden.longitude_deg, ZoneInfo(garden.timezone), method)


def begins(bed: Bed) -> dt.date | None:
    """The date from which readings and the journal tell of this season: the chilling before the earliest planting."""
    return min(
        (one.planted - dt.timedelta(days=max(EARLY_D, math.ceil(one.chilled_days or 0.0))) for one in bed.plantings), default=None
    )


def season_of(bed: Bed, garden: Garden, locale: Locale, record: Record, entries: Sequence[Entry], now_ms: int) -> SeasonState:
    """How far the crop of a bed is.

    Args:
        bed: the bed.
        garden: for what it feeds with.
        locale: where it is, and by which limits.
        record: what its probes said.
        entries: of the journal, about any bed, oldest first, none taken back.
        now_ms: the moment [ms since 1970-01-01 UTC].
    """
    today, first = day_of(now_ms, locale.timezone), begins(bed)
    from_ms = now_ms if first is None else start_of(first, locale.timezone)
    own = tuple(entry for entry in entries if entry.bed_id == bed.id and from_ms <= entry.at_ms <= now_ms)
    plantings = tuple(_planting(one, locale, record, own, today, now_ms) for one in bed.plantings)
    return SeasonState(
        method=locale.method,
        today=today,
        entries=own,
        plantings=plantings,
        feed=feed_state(bed, garden, locale.method, plantings, own, locale.timezone),
        cloth=cloth_of(own, now_ms),
        trouble=_trouble(bed, locale, record, own, today, now_ms),
        after=_after(locale, record, own, plantings, now_ms),
        watering_stopped=_stopped(own, locale),
        counted=day_of_newest(own, locale.timezone, Deed.COUNTED),
    )


def _planting(one: Planting, locale: Locale, record: Record, own: Sequence[Entry], today: dt.date, now_ms: int) -> PlantingState:
    entries = about(own, one.variety)
    planted = day_of_newest(entries, locale.timezone, Deed.PLANTED) or one.planted
    lifted = day_of_newest(entries, locale.timezone, Deed.LIFTED)
    in_ground = planted <= today and lifted is None
    method, timezone = locale.method, locale.timezone
    planted_ms = start_of(planted, timezone)
    soil_c = record.cloves_c.get(one.depth_m, Course())
    looks = looks_of(entries, planted, today, timezone)
    heat = _heat(record.air_c, planted_ms, now_ms, method)
    pace = _heat(record.air_c, max(planted_ms, now_ms - PACE_DAYS * DAY_MS), now_ms, method)
    per_day = pace.sum_k_d / (pace.known_s / chilling.DAY_S) if pace is not None and pace.known_s >= chilling.DAY_S else None
    limits = method.stages(planted, locale.latitude_deg, locale.longitude_deg)
    heat_k_d = None if heat is None else heat.sum_k_d
    latitude_deg, longitude_deg = locale.latitude_deg, locale.longitude_deg
    far = stage.stage_now(planted, today, one.kind, latitude_deg, longitude_deg, heat_k_d, looks, limits)
    if far is not None and not far.seen and (today - planted).days > SUMS_MOST_D:
        far = None
    long_day = daylength.first_long_day(
        limits.bulbing_day, latitude_deg, longitude_deg, planted, planted + dt.timedelta(days=365)
    )
    counts = [look for look in looks if look.browned is not None]

    def warm_day(limit: Limit) -> dt.date | None:
        return _heat_day(record.air_c, planted_ms, locale, limit.value, per_day, now_ms)

    return PlantingState(
        planting=one,
        planted=planted,
        in_ground=in_ground,
        chill=_chill(one, locale, record, soil_c, planted_ms, now_ms),
        cool_day=None if planted <= today else _cool_day(locale, soil_c, record.ahead_c, now_ms),
        soil_c=soil_c.mean(now_ms - DAY_MS, now_ms),
        heat=heat,
        heat_per_day_k_d=per_day,
        stage=far,
        day_h=daylength.daylength_h(today, latitude_deg, longitude_deg, method.definition),
        long_day=long_day,
        leaves_by_heat=warm_day(limits.leaves_k_d),
        bulbing_expected=_bulbing_expected(far, long_day, warm_day(limits.bulbing_k_d), today),
        looks=looks,
        lift=ripening.lift_signs(counts[-1] if counts else None, method.lift),
        window=ripening.lift_window(counts, method.lift),
        lifted=lifted,
        scapes_cut=day_of_newest(entries, timezone, Deed.SCAPES_CUT),
    )


def cloth_of(own: Sequence[Entry], now_ms: int) -> ClothState:
    """Whether the cloth lies by the journal of a bed, no entry of it taken back.

    One of which nothing was said for a third of a year was taken off and forgotten.

    Args:
        own: what was written about the bed.
        now_ms: the moment; later entries must not be among them [ms since 1970-01-01 UTC].
    """
    last = newest(own, Deed.CLOTH_LAID, Deed.CLOTH_OFF)
    if last is None:
        return ClothState(False)
    return ClothState(last.deed is Deed.CLOTH_LAID and now_ms - last.at_ms <= CLOTH_LIES_MS, last.at_ms)


def _stopped(own: Sequence[Entry], locale: Locale) -> dt.date | None:
    """Since when the bed is watered no more; None where it was watered since that was said."""
    last = newest(own, Deed.WATERING_STOPPED, Deed.WATERED)
    return day_of(last.at_ms, locale.timezone) if last is not None and last.deed is Deed.WATERING_STOPPED else None


# ---------------------------------------------------------------- chill and heat


def _chill(one: Planting, locale: Locale, record: Record, soil_c: Course, planted_ms: int, now_ms: int) -> chilling.ChillStand:
    """What the cloves had in the store, by a probe there or by what the garden file says, and in the soil since."""
    limits, chills = locale.method.chill, []
    laid_ms = planted_ms - round((one.chilled_days or 0.0) * DAY_MS)
    end_ms = min(planted_ms, now_ms)
    if end_ms > laid_ms:
        stored = record.store_c.within(laid_ms - HOUR_MS, end_ms + HOUR_MS)
        if np.isfinite(stored.value).any():
            chills.append(chilling.chill(stored.time_ms, stored.value, laid_ms, end_ms, limits))
        else:
            chills.append(chilling.stored_chill((end_ms - laid_ms) / DAY_MS, one.chilled_at_c, limits))
    if now_ms > planted_ms:
        chills.append(chilling.chill(soil_c.time_ms, soil_c.value, planted_ms, now_ms, limits))
    return chilling.chill_stand(chills, one.kind, limits)


def _heat(air_c: Course, from_ms: int, now_ms: int, method: Method) -> heat_sum.HeatSum | None:
    """Heat since a moment; None where no thermometer of the air told anything since."""
    if now_ms <= from_ms:
        return None
    gathered = heat_sum.heat_sum(air_c.time_ms, air_c.value, from_ms, now_ms, method.heat)
    return gathered if gathered.known_s else None


def _cool_day(locale: Locale, soil_c: Course, ahead_c: Course, now_ms: int) -> dt.date | None:
    """From when on the soil is cool enough to plant, by the last days and the days that are foreseen."""
    days = round(locale.method.plant.run_d.value)
    today = day_of(now_ms, locale.timezone)
    past_c = [soil_c.mean(now_ms - back * DAY_MS, now_ms - (back - 1) * DAY_MS) for back in range(days, 0, -1)]
    foreseen_c = [_at(ahead_c, now_ms + ahead * DAY_MS) for ahead in range(1, 8)]
    known_c = [math.nan if mean_c is None else mean_c for mean_c in (*past_c, *foreseen_c)]
    cool = planting.first_cool_day(today - dt.timedelta(days=days - 1), known_c, locale.method.plant)
    return None if cool is None else max(cool, today)


def _at(course: Course, at_ms: int) -> float | None:
    if not course.time_ms.size or not course.time_ms[0] - HOUR_MS <= at_ms <= course.time_ms[-1] + HOUR_MS:
        return None
    return float(course.value[np.abs(course.time_ms - at_ms).argmin()])


def _heat_day(
    air_c: Course, planted_ms: int, locale: Locale, limit_k_d: float, per_day_k_d: float | None, now_ms: int
) -> dt.date | None:
    """When the heat since planting reached a sum, or will at the pace of now; None where that cannot be told."""
    heat = locale.method.heat
    said = air_c.within(planted_ms, now_ms + 1)
    known = np.isfinite(said.value)
    warm_k = np.clip(said.value[known], heat.base_c.value, heat.cap_c.value) - heat.base_c.value
    gathered_k_d = np.cumsum(warm_k) / 24.0  # by the hour
    there = np.flatnonzero(gathered_k_d >= limit_k_d)
    if there.size:
        return day_of(int(said.time_ms[known][there[0]]), locale.timezone)
    if not gathered_k_d.size or not per_day_k_d or per_day_k_d <= 0.0:
        return None
    days = math.ceil((limit_k_d - float(gathered_k_d[-1])) / per_day_k_d)
    return day_of(now_ms, locale.timezone) + dt.timedelta(days=days) if days <= AHEAD_MOST_D else None


def _bulbing_expected(
    far: stage.StageNow | None, long_day: dt.date | None, warm_day: dt.date | None, today: dt.date
) -> dt.date | None:
    """When days will be long enough and enough heat gathered, by what is known of it; None where it has begun or never will."""
    if long_day is None or (far is not None and far.stage.place >= Stage.BULBING.place):
        return None
    return max(day for day in (long_day, warm_day, today) if day is not None)


# ---------------------------------------------------------------- disease, and what comes after the lift


def _trouble(bed: Bed, locale: Locale, record: Record, own: Sequence[Entry], today: dt.date, now_ms: int) -> TroubleState:
    air, from_ms, method = record.air, now_ms - TROUBLE_DAYS * DAY_MS, locale.method
    rust = humid = rot = None
    if np.isfinite(air.humidity_pct).any() and np.isfinite(air.air_c).any():
        rust = disease.rust_weather(air.time_ms, air.air_c, air.humidity_pct, from_ms, now_ms, method.rust)
        days = [today - dt.timedelta(days=back) for back in range(TROUBLE_DAYS - 2, -1, -1)]
        rain_mm = None if record.rain_mm is None else _night_rain(record.rain_mm, days, locale)
        humid = mildew.mildew_weather(
            air.time_ms, air.air_c, air.humidity_pct, days, locale.latitude_deg, locale.longitude_deg, rain_mm, method.mildew
        )
    soil_c = record.cloves_c.get(bed.clove_depth_m or math.nan, Course()).within(from_ms, now_ms + 1)
    if bed.white_rot and np.isfinite(soil_c.value).any():
        rot = disease.white_rot_soil(soil_c.time_ms, soil_c.value, now_ms - 7 * DAY_MS, now_ms, method.rot)
    inspected = newest(own, Deed.INSPECTED)
    return TroubleState(rust, humid, rot, None if inspected is None else inspected.at_ms)


def _night_rain(rain_mm: Course, days: Sequence[dt.date], locale: Locale) -> dict[dt.date, float]:
    """Rain between two o'clock and dawn of each date that the gauge spoke in [mm]."""
    told = {}
    for day in days:
        sun_ms = daylength.sun_times_ms(day, locale.latitude_deg, locale.longitude_deg, daylength.Definition.ALMANAC)
        two_ms = round(daylength.mean_solar_ms(day, locale.longitude_deg, locale.method.mildew.from_h.value))
        if sun_ms is not None and sun_ms[0] > two_ms:
            night = rain_mm.within(two_ms, round(sun_ms[0]))
            if night.value.size:
                told[day] = float(np.nansum(night.value))
    return told


def _after(
    locale: Locale, record: Record, own: Sequence[Entry], plantings: Sequence[PlantingState], now_ms: int
) -> AfterState | None:
    """Bulbs that were lifted, from the first of them on; None while everything is in the ground."""
    lifted = [entry for entry in own if entry.deed is Deed.LIFTED]
    if not lifted or not any(one.lifted for one in plantings):
        return None
    lifted_ms, air = min(entry.at_ms for entry in lifted), record.curing
    known = np.isfinite(air.air_c).any() and now_ms > lifted_ms
    begins_ms = (lifted_ms, max(lifted_ms, now_ms - DAY_MS))
    cure, lately = (
        curing.cure_stand(air.time_ms, air.air_c, air.humidity_pct, begin_ms, now_ms, locale.method.cure) if known else None
        for begin_ms in begins_ms
    )
    air_c = Course(air.time_ms, air.air_c).last(now_ms, STORE_PATIENCE_MS)
    humidity_pct = Course(air.time_ms, air.humidity_pct).last(now_ms, STORE_PATIENCE_MS)
    return AfterState(
        lifted_ms=lifted_ms,
        hung_d=(now_ms - lifted_ms) / DAY_MS,
        cure=cure,
        store=None if air_c is None else curing.store_stand(air_c, humidity_pct),
        cured=day_of_newest(own, locale.timezone, Deed.CURED),
        stored=day_of_newest(own, locale.timezone, Deed.STORED),
        lately=lately,
    )
