"""What is to be expected of a bed: its readings and the weather in, the parts of an outlook out. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from collector.advice.grids import on_grid, profile_now
from collector.advice.season.state import CLOTH_LIES_MS
from collector.advice.state import MEAN_LEAST_COVER, MOISTURE_GAP_MS, TEMPERATURE_PATIENCE_MS, grid_of
from collector.advice.what_ifs import what_ifs_of
from collector.calls import DoneMark, Job
from collector.errors import QuestionError
from collector.model import Bed, Series
from collector.outlook import TemperatureAhead, WaterAhead, WhatIf
from collector.soil import dry_down
from collector.soil.arrays import Array, mean_known
from collector.soil.covers import MATERIALS
from collector.soil.crop_coefficient import GARLIC_KC, GARLIC_KCB, mulched_coefficient
from collector.soil.demand import reference_by_air_mm
from collector.soil.diffusivity import harmonic_diffusivity_m2_s
from collector.soil.exposure import exposure_of
from collector.soil.forecast.doubt import Doubt
from collector.soil.forecast.inputs import AIR_C, DAY_H, HOUR_MS, RAIN_MM, Record, Site, Weather, hourly_means, hours_of
from collector.soil.forecast.model import LONGEST_H, Forecast, fit, forecast
from collector.soil.ground import COLUMN_M, Ground
from collector.soil.root_zone import RootZone
from collector.soil.what_if import Cloth, Today, difference_k, today_of
from collector.units import Quantity

# The water filter learns how a bed drinks from so many days. Common practice, no source.
WATER_PAST_DAYS = 21
WATER_AHEAD_DAYS = LONGEST_H // DAY_H
# A forecast learned from days without the cloth; within so many days of shade it has learned what the cloth does, and until
# then the heat-flow model tells it. Common practice, no source.
CLOTH_LEARNT_MS = 3 * DAY_H * HOUR_MS
# The daily wave of so many days tells how fast warmth goes down.
WAVE_DAYS = 5
# What a cover or a soil without a name in our tables is taken for, where a difference is worked out.
USUAL_COVER, USUAL_SOIL = "straw", "loam"
# Share of the water between wilting point and field capacity in a soil of which no probe tells. Common practice, no source.
USUAL_WETNESS = 0.7


# ---------------------------------------------------------------- temperature


def temperature_ahead(
    bed: Bed,
    records: Sequence[Record],
    series: Mapping[str, Series],
    marks: Sequence[DoneMark],
    weather: Weather,
    site: Site,
    now_ms: int,
    diffusivity_m2_s: float | None = None,
) -> TemperatureAhead:
    """Each thermometer's depth and the cloves a week ahead, and the cloves with the grower's cloth over them [°C].

    Args:
        bed: the bed.
        records: what its thermometers said in the months that a forecast learns from [Record].
        series: readings of its probes by probe id, at least of the last two days.
        marks: what the grower marked as done in it, and did not take back.
        weather: what is known of it, past and ahead, or nothing [Weather].
        site: where the bed is.
        now_ms: the moment [ms since 1970-01-01 UTC]; later readings change nothing.
        diffusivity_m2_s: how fast warmth goes down in it, where that is known [m²/s].

    Raises:
        QuestionError: no depth of the bed can be forecast.
    """
    cloves_m = bed.clove_depth_m
    found: dict[float, Forecast] = {}
    why_not = "this bed has no thermometer and no planting"
    for depth_m in sorted({one.depth_m for one in records} | ({cloves_m} if cloves_m is not None else set())):
        try:
            found[depth_m] = forecast(fit(records, weather, site, depth_m, now_ms), weather, LONGEST_H, Doubt())
        except ValueError as error:
            why_not = str(error)
    if not found:
        raise QuestionError(why_not)
    time_ms = next(iter(found.values())).time_ms
    profile_c = np.column_stack([one.mean_c for one in found.values()])
    depths_m = np.array(list(found))
    cloves = found.get(cloves_m) if cloves_m is not None else None
    if cloves is None or cloves_m is None:
        unknown = np.full(time_ms.size, np.nan)
        return TemperatureAhead(time_ms, depths_m, profile_c, unknown, unknown, unknown, unknown)

    past_ms = int(time_ms[0]) - HOUR_MS * np.arange(DAY_H - 1, 0, -1, dtype=np.int64)
    past_c = grid_of(bed, series, past_ms, np.empty(0)).cloves_c

    def with_means(cloves_c: Array) -> Array:
        return means_of_24_h(np.concatenate([past_c, cloves_c]))

    cloth_k = np.zeros(time_ms.size)
    if bed.shade_cloth is not None:
        today = bed_today(bed, series, weather, site, now_ms, diffusivity_m2_s)
        cloth_k = difference_k(today, Cloth(bed.shade_cloth), cloves_m)
    laid_ms = _laid_ms(marks, now_ms)
    if laid_ms is not None:  # what the forecast has not yet learned of the cloth that lies
        unlearnt_k = max(0.0, 1.0 - (now_ms - laid_ms) / CLOTH_LEARNT_MS) * cloth_k
        cloves = replace(cloves, **{name: getattr(cloves, name) + unlearnt_k for name in ("mean_c", "low_c", "high_c")})
    ahead = TemperatureAhead(time_ms, depths_m, profile_c, cloves.mean_c, cloves.low_c, cloves.high_c, with_means(cloves.mean_c))
    if bed.shade_cloth is None:
        return ahead
    if laid_ms is not None:
        return replace(ahead, bare_mean_c=with_means(cloves.mean_c - cloth_k))
    with_cloth_c = cloves.mean_c + cloth_k
    return replace(ahead, cloth_share=bed.shade_cloth, with_cloth_c=with_cloth_c, with_cloth_mean_c=with_means(with_cloth_c))


def bed_today(
    bed: Bed,
    series: Mapping[str, Series],
    weather: Weather,
    site: Site,
    now_ms: int,
    diffusivity_m2_s: float | None = None,
    cloth: float = 0.0,
) -> Today:
    """A bed as its last days have left it, as the heat-flow model wants it.

    Args:
        bed: the bed.
        series: readings of its probes by probe id, at least of the last hours.
        weather: what is known of it, past and ahead, or nothing [Weather].
        site: where the bed is.
        now_ms: the moment [ms since 1970-01-01 UTC].
        diffusivity_m2_s: how fast warmth goes down in it, where that is known [m²/s].
        cloth: share of the sun that a cloth over it takes [ratio].
    """
    thermometers = [probe for probe in bed.probes_of(Quantity.SOIL_TEMPERATURE) if (probe.depth_m or 0.0) <= COLUMN_M]
    said = profile_now(thermometers, series, now_ms, TEMPERATURE_PATIENCE_MS)
    ground = replace(ground_of(bed, series, diffusivity_m2_s), cloth=cloth)
    return today_of(ground, exposure_of(weather, site, now_ms, LONGEST_H), said)


def what_ifs_ahead(
    bed: Bed,
    series: Mapping[str, Series],
    marks: Sequence[DoneMark],
    weather: Weather,
    site: Site,
    now_ms: int,
    diffusivity_m2_s: float | None = None,
) -> tuple[WhatIf, ...]:
    """What might be changed in a bed, and what that would do to its cloves [K]; empty where it has none.

    Arguments are those of `temperature_ahead`.
    """
    if bed.clove_depth_m is None:
        return ()
    lies = _laid_ms(marks, now_ms) is not None and bed.shade_cloth is not None
    today = bed_today(bed, series, weather, site, now_ms, diffusivity_m2_s, (bed.shade_cloth or 0.0) if lies else 0.0)
    return what_ifs_of(bed, today, bed.clove_depth_m)


def ground_of(bed: Bed, series: Mapping[str, Series], diffusivity_m2_s: float | None) -> Ground:
    """A bed as the what-if model wants it; what it does not know by name it takes for the usual.

    Args:
        bed: the bed.
        series: readings of its probes by probe id; the newest moistures tell how wet the soil is.
        diffusivity_m2_s: how fast warmth goes down in it, where that is known [m²/s].
    """
    told = [one.value[-1] for probe in bed.probes_of(Quantity.SOIL_MOISTURE) if (one := series[probe.id].trusted()).value.size]
    capacity = None if np.isnan(bed.field_capacity) else bed.field_capacity
    usual = 0.2 if capacity is None else bed.wilting_point + USUAL_WETNESS * (capacity - bed.wilting_point)
    return Ground(
        texture=bed.soil or USUAL_SOIL,
        water_m3_m3=float(np.clip(np.mean(told), 0.02, 0.5)) if told else usual,
        covers=tuple((cover.material if cover.material in MATERIALS else USUAL_COVER, cover.thickness_m) for cover in bed.covers),
        diffusivity_m2_s=diffusivity_m2_s,
        field_capacity_m3_m3=capacity,
    )


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


def learned_diffusivity_m2_s(records: Sequence[Record], now_ms: int) -> float | None:
    """How fast warmth goes down in the bed [m²/s], by the daily wave at two depths over the last days; None if they do not tell.

    Args:
        records: what its thermometers said [Record].
        now_ms: the moment [ms since 1970-01-01 UTC].

    Source: median over all pairs of depths of `harmonic_diffusivity_m2_s`.
    """
    grid_ms = now_ms // HOUR_MS * HOUR_MS + HOUR_MS * np.arange(-WAVE_DAYS * DAY_H, 1, dtype=np.int64)
    by_depth = {one.depth_m: hours_of(one.time_ms, one.temperature_c, grid_ms) for one in records}
    found = [
        harmonic_diffusivity_m2_s(grid_ms, by_depth[upper_m], by_depth[lower_m], lower_m - upper_m)
        for upper_m, lower_m in combinations(sorted(by_depth), 2)
    ]
    known = [one for one in found if np.isfinite(one)]
    return float(np.median(known)) if known else None


# ---------------------------------------------------------------- water


def water_ahead(
    bed: Bed, series: Mapping[str, Series], marks: Sequence[DoneMark], weather: Weather, site: Site, now_ms: int
) -> WaterAhead | None:
    """The dry-down learned from three weeks of the moisture probes, and where it goes in a week [mm]; None without a probe.

    Args:
        bed: the bed.
        series: readings of its probes by probe id, at least of the last `WATER_PAST_DAYS`.
        marks: what the grower marked as done in it, and did not take back.
        weather: what is known of it, past and ahead, or nothing [Weather].
        site: where the bed is.
        now_ms: the moment [ms since 1970-01-01 UTC]; later readings change nothing.

    Raises:
        QuestionError: no moisture probe has been heard for hours.
    """
    end_ms = now_ms // HOUR_MS * HOUR_MS
    grid_ms = end_ms + HOUR_MS * np.arange(-WATER_PAST_DAYS * DAY_H, WATER_AHEAD_DAYS * DAY_H + 1, dtype=np.int64)
    past = grid_ms <= end_ms
    by_depth: dict[float, list[Array]] = {}
    for probe in bed.probes_of(Quantity.SOIL_MOISTURE):
        if probe.depth_m:
            by_depth.setdefault(probe.depth_m, []).append(on_grid(series[probe.id], grid_ms[past], MOISTURE_GAP_MS))
    if not by_depth:
        return None
    moisture = np.column_stack([mean_known(several) for several in by_depth.values()])
    heard = np.flatnonzero(np.isfinite(moisture).any(axis=1))
    if not heard.size or moisture.shape[0] - 1 - heard[-1] > MOISTURE_GAP_MS // HOUR_MS:
        moistures = [series[probe.id] for probe in bed.probes_of(Quantity.SOIL_MOISTURE)]
        begun = any(one.time_ms.size and one.time_ms[-1] > end_ms for one in moistures)
        raise QuestionError(
            "moisture was not heard over a full hour yet" if begun else "no moisture probe has been heard for hours"
        )
    wanted_mm, rain_mm = _demand_mm(bed, weather, site, grid_ms)
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


def watered_mm(bed: Bed, marks: Sequence[DoneMark], grid_ms: NDArray[np.int64]) -> Array:
    """Water that the grower told of [mm], in the hours that end at `grid_ms`; where no litres were told the probes must tell."""
    given_mm = np.zeros(grid_ms.size)
    for mark in marks:
        place = int(np.searchsorted(grid_ms, mark.at_ms))
        of_the_grid = grid_ms[0] - HOUR_MS < mark.at_ms <= grid_ms[-1]
        if mark.job is Job.WATER and mark.litres is not None and of_the_grid:
            given_mm[place] += mark.litres * bed.watering_efficiency / bed.area_m2
    return given_mm


# ---------------------------------------------------------------- parts of the above


def _demand_mm(bed: Bed, weather: Weather, site: Site, grid_ms: NDArray[np.int64]) -> tuple[Array, Array]:
    """What the bed would drink in each hour by the air, if it drank as a full-grown crop [mm]; and the rain [mm]."""
    unknown = np.full(grid_ms.size, np.nan)
    columns = {
        name: hourly_means(weather.time_ms, weather.columns[name], grid_ms) if name in weather.columns else unknown
        for name in (AIR_C, RAIN_MM)
    }
    reference_mm = reference_by_air_mm(grid_ms, site.latitude_deg, site.longitude_deg, columns[AIR_C])
    # The stage does not matter much: the filter learns what this bed drinks in that of the reference.
    share = mulched_coefficient(GARLIC_KC.mid, GARLIC_KCB.mid, 1.0 if bed.covers else 0.0)
    return share * reference_mm, np.nan_to_num(columns[RAIN_MM])


def _laid_ms(marks: Sequence[DoneMark], now_ms: int) -> int | None:
    """When the cloth that lies was laid [ms]; None where none does."""
    off_ms = max((mark.at_ms for mark in marks if mark.job is Job.UNSHADE), default=now_ms - CLOTH_LIES_MS)
    return min((mark.at_ms for mark in marks if mark.job is Job.SHADE and mark.at_ms > off_ms), default=None)
