"""Looks ahead for every bed, about once an hour, and keeps what it finds: the outlook that rules and pages go by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from collector.advice.rounds import series_of
from collector.advice.state import MEAN_LEAST_COVER, MOISTURE_GAP_MS, grid_of, on_grid
from collector.calls import DoneMark, Job
from collector.forecaster import Forecaster
from collector.model import Bed, Garden
from collector.outlook import Outlook, TemperatureAhead, WaterAhead
from collector.ports import Clock, Readings, SeasonStore
from collector.soil import dry_down
from collector.soil.arrays import Array
from collector.soil.crop_coefficient import GARLIC_KC, GARLIC_KCB, mulched_coefficient
from collector.soil.demand import reference_by_air_mm
from collector.soil.diffusivity import harmonic_diffusivity_m2_s
from collector.soil.forecast.inputs import AIR_C, DAY_H, HOUR_MS, RAIN_MM, Record, Weather, hourly_means, hours_of
from collector.soil.forecast.model import LONGEST_H, Forecast, fit, forecast
from collector.soil.root_zone import RootZone
from collector.units import Quantity

# A bed is looked at anew each full hour, its water twice in it, for that costs little and a watering changes it at once.
WATER_EVERY_MS = HOUR_MS // 2
# What one look may take of the machine's time, so that a big garden's calls are never held up for long: the rest comes next.
LOOK_TAKES_S = 10.0
# The same bed no sooner than this by the machine's time: a simulated garden's hours pass in seconds.
BED_REST_S = 15.0
# The water filter learns how a bed drinks from so many days. Common practice, no source.
WATER_PAST_DAYS = 21
WATER_AHEAD_DAYS = LONGEST_H // DAY_H
# Within so many days the cloth is taken to lie where it was said to be laid: the forecast, which learned from days without
# it, learns what it does. Common practice, no source.
CLOTH_LEARNT_MS = 3 * DAY_H * HOUR_MS
CLOTH_LIES_MS = 21 * DAY_H * HOUR_MS
# The daily wave of so many days tells how fast warmth goes down.
WAVE_DAYS = 5


@dataclass(frozen=True, slots=True)
class _Looked:
    """When a bed was looked at last, by the machine's time [s]; and what of the grower's marks was known then."""

    at_s: float
    marks: Sequence[DoneMark]
    water_ms: int


class Lookout:
    """Makes and keeps the outlook of each bed of a garden. One thread calls it."""

    def __init__(self, garden: Garden, readings: Readings, season: SeasonStore, clock: Clock) -> None:
        """It opens nothing: the stores are the caller's to close."""
        self._garden = garden
        self._readings = readings
        self._season = season
        self._clock = clock
        self._forecaster = Forecaster(garden, readings)
        self._looked: dict[str, _Looked] = {}

    def look(self) -> None:
        """Renew every outlook that is due, those that waited longest first, for some seconds. Raises what the stores raise."""
        began_s = self._clock.elapsed_s()
        never = _Looked(-np.inf, (), 0)
        for bed in sorted(self._garden.beds, key=lambda bed: self._looked.get(bed.id, never).at_s):
            now_ms, now_s = self._clock.now_ms(), self._clock.elapsed_s()
            if now_s - began_s > LOOK_TAKES_S:
                return
            if now_s - self._looked.get(bed.id, never).at_s >= BED_REST_S:
                self._renew(bed, now_ms)

    def _renew(self, bed: Bed, now_ms: int) -> None:
        marks, looked = self._marks(bed, now_ms), self._looked.get(bed.id)
        kept = self._season.outlook(bed.id, now_ms // HOUR_MS * HOUR_MS)
        if kept is None or looked is None or looked.marks != marks:
            self._season.keep_outlook(self.outlook(bed, marks, now_ms))
        elif now_ms - looked.water_ms >= WATER_EVERY_MS:
            weather = self._forecaster.weather(bed, now_ms)
            self._season.keep_outlook(replace(kept, water=self._water(bed, marks, weather, now_ms, [])))
        else:
            now_ms = looked.water_ms
        self._looked[bed.id] = _Looked(self._clock.elapsed_s(), marks, now_ms)

    def outlook(self, bed: Bed, marks: Sequence[DoneMark], now_ms: int) -> Outlook:
        """What is expected of a bed as of now [ms since 1970-01-01 UTC], after what the grower marked as done in it."""
        weather, records = self._forecaster.weather(bed, now_ms), self._forecaster.records(bed, now_ms)
        why_not: list[str] = []
        return Outlook(
            bed_id=bed.id,
            made_ms=now_ms,
            temperature=self._temperature(bed, records, weather, now_ms, why_not),
            water=self._water(bed, marks, weather, now_ms, why_not),
            diffusivity_m2_s=diffusivity_m2_s(records, now_ms),
            why_not=tuple(why_not),
        )

    # ------------------------------------------------------------ parts of the above

    def _temperature(
        self, bed: Bed, records: Sequence[Record], weather: Weather, now_ms: int, why_not: list[str]
    ) -> TemperatureAhead | None:
        """Each thermometer's depth and the cloves, each forecast by itself, so that one may fail alone."""
        cloves_m = bed.clove_depth_m
        depths_m = sorted({one.depth_m for one in records} | ({cloves_m} if cloves_m is not None else set()))
        found: dict[float, Forecast] = {}
        for depth_m in depths_m:
            try:
                found[depth_m] = forecast(fit(records, weather, self._forecaster.site, depth_m, now_ms), weather, LONGEST_H)
            except ValueError as error:
                if depth_m == cloves_m:
                    why_not.append(str(error))
        if not found:
            return None
        time_ms = next(iter(found.values())).time_ms
        nothing = np.full(time_ms.size, np.nan)
        cloves = found.get(cloves_m) if cloves_m is not None else None
        return TemperatureAhead(
            time_ms=time_ms,
            depths_m=np.array(list(found)),
            profile_c=np.column_stack([one.mean_c for one in found.values()]),
            cloves_c=nothing if cloves is None else cloves.mean_c,
            low_c=nothing if cloves is None else cloves.low_c,
            high_c=nothing if cloves is None else cloves.high_c,
            mean_c=nothing if cloves is None else self._means_c(bed, cloves),
        )

    def _means_c(self, bed: Bed, cloves: Forecast) -> Array:
        """The mean of the 24 h up to each hour ahead at the cloves [°C], of what was measured and what is forecast."""
        begin_ms = int(cloves.time_ms[0])
        past_ms = begin_ms - HOUR_MS * np.arange(DAY_H - 1, 0, -1, dtype=np.int64)
        series = series_of(bed, self._readings, int(past_ms[0]) - DAY_H * HOUR_MS, begin_ms)
        past_c = grid_of(bed, series, past_ms, np.empty(0)).cloves_c
        return means_of_24_h(np.concatenate([past_c, cloves.mean_c]))

    def _water(self, bed: Bed, marks: Sequence[DoneMark], weather: Weather, now_ms: int, why_not: list[str]) -> WaterAhead | None:
        """The dry-down learned from three weeks of the moisture probes, and where it goes in the next seven days."""
        probes = [probe for probe in bed.probes_of(Quantity.SOIL_MOISTURE) if probe.depth_m]
        if not probes:
            return None
        end_ms = now_ms // HOUR_MS * HOUR_MS
        grid_ms = end_ms + HOUR_MS * np.arange(-WATER_PAST_DAYS * DAY_H, WATER_AHEAD_DAYS * DAY_H + 1, dtype=np.int64)
        past = grid_ms <= end_ms
        series = series_of(bed, self._readings, int(grid_ms[0]) - MOISTURE_GAP_MS, now_ms + 1)
        by_depth: dict[float, list[Array]] = {}
        for probe in probes:
            by_depth.setdefault(probe.depth_m or 0.0, []).append(on_grid(series[probe.id], grid_ms[past], MOISTURE_GAP_MS))
        moisture = np.column_stack([mean_known(several) for several in by_depth.values()])
        heard = np.flatnonzero(np.isfinite(moisture).any(axis=1))
        if not heard.size or heard[-1] < moisture.shape[0] - MOISTURE_GAP_MS // HOUR_MS - 1:
            why_not.append("no moisture probe has been heard for hours")
            return None
        wanted_mm, rain_mm = self._demand_mm(weather, grid_ms, mulched=bool(bed.covers))
        given_mm = rain_mm + watered_mm(bed, marks, grid_ms)
        zone = RootZone(bed.field_capacity, bed.wilting_point, bed.root_depth_m)
        state = dry_down.fit(zone, grid_ms[past], list(by_depth), moisture, wanted_mm[past], given_mm[past])
        ahead = dry_down.ahead(state, WATER_AHEAD_DAYS, wanted_mm[~past], given_mm[~past])
        return WaterAhead(
            time_ms=np.concatenate([[end_ms], ahead.time_ms]),
            depletion_mm=np.concatenate([[max(state.depletion_mm, 0.0)], ahead.depletion_mm]),
            low_mm=np.concatenate([[state.low_mm], ahead.low_mm]),
            high_mm=np.concatenate([[state.high_mm], ahead.high_mm]),
            refill_mm=np.concatenate([ahead.refill_mm[:1], ahead.refill_mm]),
            refill_ms=ahead.refill_ms,
            early_ms=ahead.early_ms,
            late_ms=ahead.late_ms,
            demand=state.factor,
        )

    def _demand_mm(self, weather: Weather, grid_ms: NDArray[np.int64], *, mulched: bool) -> tuple[Array, Array]:
        """What the bed would drink in each hour by the air, if it drank as a full-grown crop [mm]; and the rain [mm]."""
        columns = {name: hourly_means(weather.time_ms, values, grid_ms) for name, values in weather.columns.items()}
        unknown = np.full(grid_ms.size, np.nan)
        site = self._forecaster.site
        reference_mm = reference_by_air_mm(grid_ms, site.latitude_deg, site.longitude_deg, columns.get(AIR_C, unknown))
        # The stage does not matter much: the filter learns what this bed drinks in that of the reference.
        share = mulched_coefficient(GARLIC_KC.mid, GARLIC_KCB.mid, 1.0 if mulched else 0.0)
        return share * reference_mm, np.nan_to_num(columns.get(RAIN_MM, unknown))

    def _marks(self, bed: Bed, now_ms: int) -> Sequence[DoneMark]:
        marks = self._season.done_marks(now_ms - WATER_PAST_DAYS * DAY_H * HOUR_MS, now_ms + 1)
        return [mark for mark in marks if mark.bed_id == bed.id and mark.undone_ms is None]


def means_of_24_h(hourly_c: Array) -> Array:
    """The mean of each value with the 23 before it [°C], n - 23 values; NaN where under three quarters are known.

    Args:
        hourly_c: hourly values, n of them, NaN is not known [°C].

    Source: by definition.
    """
    known = np.isfinite(hourly_c)
    day = np.ones(DAY_H)
    count = np.convolve(known, day, mode="valid")
    total = np.convolve(np.where(known, hourly_c, 0.0), day, mode="valid")
    return np.where(count >= MEAN_LEAST_COVER * DAY_H, total / np.maximum(count, 1.0), np.nan)


def mean_known(several: Sequence[Array]) -> Array:
    """The mean of what several probes at one depth say at each time, NaN where none does; unit as given."""
    told = np.isfinite(several)
    total = np.where(told, several, 0.0).sum(axis=0)
    return np.where(told.any(axis=0), total / np.maximum(told.sum(axis=0), 1), np.nan)


def watered_mm(bed: Bed, marks: Sequence[DoneMark], grid_ms: NDArray[np.int64]) -> Array:
    """Water that the grower told of [mm], in the hours that end at `grid_ms`; where no litres were told the probes must tell."""
    given_mm = np.zeros(grid_ms.size)
    for mark in marks:
        place = int(np.searchsorted(grid_ms, mark.at_ms))
        if mark.job is Job.WATER and mark.litres is not None and place < grid_ms.size:
            given_mm[place] += mark.litres * bed.watering_efficiency / bed.area_m2
    return given_mm


def diffusivity_m2_s(records: Sequence[Record], now_ms: int) -> float | None:
    """How fast warmth goes down in the bed [m²/s], by the daily wave at two depths over the last days; None if they do not tell.

    Args:
        records: what its thermometers said [Record].
        now_ms: the moment [ms since 1970-01-01 UTC].

    Source: median over all pairs of depths of `harmonic_diffusivity_m2_s`.
    """
    grid_ms = now_ms // HOUR_MS * HOUR_MS + HOUR_MS * np.arange(-WAVE_DAYS * DAY_H, 1, dtype=np.int64)
    by_depth = {one.depth_m: hours_of(one.time_ms, one.temperature_c, grid_ms) for one in records}
    found = []
    for upper_m, lower_m in combinations(sorted(by_depth), 2):
        found.append(harmonic_diffusivity_m2_s(grid_ms, by_depth[upper_m], by_depth[lower_m], lower_m - upper_m))
    known = [one for one in found if np.isfinite(one)]
    return float(np.median(known)) if known else None
