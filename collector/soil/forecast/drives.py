"""What drives the temperature of soil, made of the weather: hourly, without gaps, one column for each drive.

A quantity that the weather table hardly holds makes no drive; a sun that nobody measured is judged by the
range of air temperature. Without that, the sun of a clear sky is the only drive: the clock.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from collector.soil.arrays import Array
from collector.soil.evapotranspiration import saturation_vapour_pressure_kpa
from collector.soil.forecast.inputs import (
    AIR_C,
    DAY_H,
    HOUR_MS,
    HUMIDITY_PCT,
    QUANTITIES,
    SUN_W_M2,
    WIND_M_S,
    Site,
    Times,
    Weather,
    hourly_means,
    hours_in_a_row,
)
from collector.soil.radiation import (
    clear_sky_mj_m2,
    extraterrestrial_mj_m2_span,
    solar_from_temperature_mj_m2_d,
    solar_hour_angle_rad,
)

DAY_MS = DAY_H * HOUR_MS
# A quantity counts as measured where so much of the past is known; shorter gaps are bridged
# by a straight line, longer ones by the same hour of the days beside. Common practice, no source.
_KNOWN_SHARE = 0.7
_BRIDGED_H = 6
# So many last days tell what the weather will be where no forecast does. Common practice, no source.
CLIMATE_DAYS = 5
# Wind at 2 m where none is measured [m/s]: Allen et al. 1998, FAO-56, p. 63, mean over 2000 stations.
USUAL_WIND_M_S = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class HourlyWeather:
    """Weather on the grid of full hours: n values of each quantity that is known well enough, without gaps.

    Where there is air temperature there is sun, if need be by the range of the former. `known` (n) tells the hours
    whose air temperature was measured, or bridged over a few hours; `sun_scale` is what such a sun is multiplied by.
    """

    columns: Mapping[str, Array]
    known: Array
    sun_scale: float = 1.0


def clear_sun_w_m2(grid_ms: Times, site: Site) -> Array:
    """Sun under a clear sky, mean over the hours that end at the full hours [W/m²], n values; 0 in the polar night.

    Args:
        grid_ms: full hours, n of them [ms since 1970 UTC].
        site: where the bed is [Site].

    Source: Allen et al. 1998, FAO-56, eq. 28 and 37.
    """
    middle_ms = np.asarray(grid_ms - HOUR_MS // 2, dtype=np.int64)
    days = middle_ms // DAY_MS
    year_start = days.astype("datetime64[D]").astype("datetime64[Y]").astype("datetime64[D]").astype(np.int64)
    day_of_year = (days - year_start + 1).astype(np.float64)
    utc_h = (middle_ms % DAY_MS) / HOUR_MS
    angle_rad = solar_hour_angle_rad(utc_h, site.longitude_deg, day_of_year)
    above_mj_m2 = extraterrestrial_mj_m2_span(site.latitude_deg, day_of_year, angle_rad, 1.0)
    return clear_sky_mj_m2(np.maximum(above_mj_m2, 0.0), site.elevation_m) * 1e6 / 3600.0


def sun_by_air_w_m2(air_c: Array, clear_sun: Array, elevation_m: float) -> Array:
    """Sun by the range of air temperature over the day around each hour [W/m²], n values, at most that of a clear sky.

    NaN makes the day around it NaN.

    Args:
        air_c: air temperature, hourly, without gaps, n values [°C].
        clear_sun: sun under a clear sky in these hours, n values [W/m²].
        elevation_m: height above the sea [m].

    Raises:
        ValueError: no hour, another number of temperatures than of suns, or an elevation outside -500 to 9000 m.

    Source: Allen et al. 1998, FAO-56, eq. 50, with the sun of a clear sky for the shape of the day.
    """
    if not air_c.size or air_c.shape != clear_sun.shape:
        raise ValueError(f"{air_c.size} air temperatures and {clear_sun.size} suns; want as many of both, one or more")
    half = DAY_H // 2
    day = np.lib.stride_tricks.sliding_window_view(np.pad(air_c, (half, half - 1), mode="edge"), DAY_H)
    above = clear_sun / clear_sky_mj_m2(1.0, elevation_m)
    sun: Array = np.minimum(solar_from_temperature_mj_m2_d(above, day.max(axis=1), day.min(axis=1)), clear_sun)
    return sun


def past_weather(weather: Weather, grid_ms: Times, site: Site) -> HourlyWeather:
    """The observed weather on a grid of full hours, its gaps closed [units of the quantities].

    Args:
        weather: as it came; rows after the end of the grid are not looked at [Weather].
        grid_ms: full hours, n of them, one after the other [ms since 1970 UTC].
        site: where the bed is [Site].

    Raises:
        ValueError: a grid of no hours, or of others than one after the other.

    Source: straight lines over short gaps, the same hour of the days beside over long ones; common practice, no source.
    """
    hours_in_a_row(grid_ms)
    columns = {}
    past = np.asarray(weather.time_ms) <= grid_ms[-1]
    hourly = {
        name: _bridge(hourly_means(weather.time_ms[past], weather.columns[name][past], grid_ms))
        for name in QUANTITIES
        if name in weather.columns
    }
    for name, values in hourly.items():
        told = np.isfinite(values)
        first = int(told.argmax())
        if told.any() and told[first:].mean() >= _KNOWN_SHARE and grid_ms.size - first >= 2 * DAY_H:
            columns[name] = fill_across_days(values)
    if AIR_C not in columns:
        return HourlyWeather({}, np.zeros(grid_ms.size))
    guess = sun_by_air_w_m2(columns[AIR_C], clear_sun_w_m2(grid_ms, site), site.elevation_m)
    sun = hourly.get(SUN_W_M2, np.full(grid_ms.size, np.nan))
    told = np.isfinite(sun)
    scale = 1.0
    if told.sum() >= CLIMATE_DAYS * DAY_H and guess[told].sum() > 0:
        scale = float(sun[told].sum() / guess[told].sum())
    columns[SUN_W_M2] = np.where(told, sun, scale * guess)
    return HourlyWeather(columns, np.isfinite(hourly[AIR_C]).astype(np.float64), scale)


def weather_ahead(weather: Weather, past: HourlyWeather, ahead_ms: Times, site: Site) -> HourlyWeather:
    """The weather of the hours ahead [units of the quantities]: as forecast, and where that is silent as in the last days.

    Args:
        weather: the forecast; rows outside those hours are not looked at [Weather].
        past: the weather before it [HourlyWeather].
        ahead_ms: the full hours ahead that follow that past, h of them [ms since 1970 UTC].
        site: where the bed is [Site].

    Raises:
        ValueError: a grid of no hours, or of others than one after the other.

    Source: mean of the last days at that hour, sun by the range of air temperature; common practice, no source.
    """
    hours_in_a_row(ahead_ms)
    columns, known = {}, np.zeros(ahead_ms.size)
    times_ms = np.asarray(weather.time_ms)
    near = (times_ms > ahead_ms[0] - DAY_MS) & (times_ms <= ahead_ms[-1] + DAY_MS)
    told = {
        name: _bridge(hourly_means(times_ms[near], weather.columns[name][near], ahead_ms))
        if name in weather.columns
        else np.full(ahead_ms.size, np.nan)
        for name in past.columns
    }
    for name, before in past.columns.items():
        columns[name] = np.where(np.isfinite(told[name]), told[name], climate_of(before, ahead_ms.size))
    if AIR_C in columns:
        known = np.isfinite(told[AIR_C]).astype(np.float64)
        guess = past.sun_scale * sun_by_air_w_m2(columns[AIR_C], clear_sun_w_m2(ahead_ms, site), site.elevation_m)
        columns[SUN_W_M2] = np.where(np.isfinite(told[SUN_W_M2]), told[SUN_W_M2], guess)
    return HourlyWeather(columns, known)


def climate_of(before: Array, hours: int) -> Array:
    """What the last days were like at each hour of the day [unit of the values], h values.

    Args:
        before: hourly values without gaps up to now, n of them, a day or more [any unit].
        hours: how many hours ahead [h].

    Raises:
        ValueError: less than a day of values.

    Source: mean of the last five days; common practice, no source.
    """
    if before.size < DAY_H:
        raise ValueError(f"{before.size} hours of weather; want a day of them at least")
    days = max(1, min(CLIMATE_DAYS, before.size // DAY_H))
    day = before[-days * DAY_H :].reshape(days, DAY_H).mean(axis=0)
    return np.resize(day, hours)


def drives_of(weather: HourlyWeather, clear_sun: Array) -> Array:
    """The drives of the soil [°C, 100 W/m², kPa], n by m: air, sun, sun by wind, felt temperature, vapour deficit, vapour.

    Without air temperature the sun of a clear sky is the only one. NaN makes the drives of its hour NaN.

    Args:
        weather: n hours without gaps [HourlyWeather].
        clear_sun: sun under a clear sky in these hours, n values [W/m²].

    Raises:
        ValueError: columns of another length than the sun of a clear sky, or an air temperature beyond 100 °C.

    Source: the terms of a surface's energy balance; convection 8 + 6 u [W m⁻² K⁻¹] with radiation, common practice, no source.
    """
    columns = weather.columns
    if any(values.shape != clear_sun.shape for values in columns.values()):
        raise ValueError(f"columns have shapes {[one.shape for one in columns.values()]}, clear_sun {clear_sun.shape}; want one")
    if AIR_C not in columns:
        return clear_sun[:, None] / 100.0
    air_c, sun = columns[AIR_C], columns[SUN_W_M2]
    wind = np.maximum(columns[WIND_M_S], 0.0) if WIND_M_S in columns else np.full(air_c.size, USUAL_WIND_M_S)
    felt_c = air_c + (0.8 * sun - 60.0) / (8.0 + 6.0 * wind)
    drives = [air_c, sun / 100.0, felt_c]
    if WIND_M_S in columns:
        drives.append(sun / 100.0 / (1.0 + wind))
    if HUMIDITY_PCT in columns:
        saturation_kpa = saturation_vapour_pressure_kpa(air_c)
        vapour_kpa = saturation_kpa * np.clip(columns[HUMIDITY_PCT], 0.0, 100.0) / 100.0
        drives += [saturation_kpa - vapour_kpa, vapour_kpa]
    return np.column_stack(drives)


def expected_of(drives: int) -> Array:
    """How much of each drive a soil shows before anything is learned of it [ratio], m values: of air and felt temperature.

    Args:
        drives: how many there are, m; the clock alone, or three and more as of `drives_of` [count].

    Raises:
        ValueError: another number.

    Source: a surface between sun and shade, that warms with the air by nine tenths; common practice, no source.
    """
    if drives != 1 and drives < 3:
        raise ValueError(f"drives is {drives}; want 1, the clock alone, or 3 and more")
    share = np.zeros(drives)
    if drives > 1:
        share[[0, 2]] = 0.5, 0.4
    return share


def fill_across_days(values: Array) -> Array:
    """The same with gaps closed by the same hour of the days beside [unit of the values]; all NaN stays so, and none stays none.

    Args:
        values: hourly, n values [any unit].

    Source: linear between days; common practice, no source.
    """
    filled = np.asarray(values, dtype=np.float64).copy()
    for hour in range(min(DAY_H, filled.size)):
        column = filled[hour::DAY_H]
        known = np.flatnonzero(np.isfinite(column))
        if 0 < known.size < column.size:
            column[:] = np.interp(np.arange(column.size), known, column[known])
    rest = np.isfinite(filled)
    if rest.any() and not rest.all():  # an hour of the day that no day knows
        at = np.flatnonzero(rest)
        filled = np.interp(np.arange(filled.size), at, filled[at])
    return filled


def _bridge(values: Array, most_h: int = _BRIDGED_H) -> Array:
    """Close gaps of a few hours by straight lines."""
    known = np.flatnonzero(np.isfinite(values))
    if known.size < 2:
        return values
    hours = np.arange(values.size)
    line = np.interp(hours, known, values[known])
    after = np.searchsorted(known, hours)
    inside = (after > 0) & (after < known.size)
    gap_h = known[np.minimum(after, known.size - 1)] - known[np.maximum(after - 1, 0)]
    return np.where(np.isfinite(values) | (inside & (gap_h <= most_h)), line, np.nan)
