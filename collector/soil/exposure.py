"""What a bed is exposed to, hour by hour over the last days and the coming ones: air, sun, sky and wind, without gaps.

Made of whatever weather there is. With none at all, the sun is a usual share of that of a clear sky, and the air is
not known: whoever asks takes the bed to be in balance with it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from collector.soil.arrays import Array
from collector.soil.demand import reference_by_air_mm
from collector.soil.evapotranspiration import saturation_vapour_pressure_kpa
from collector.soil.forecast.drives import USUAL_WIND_M_S, clear_sun_w_m2, past_weather, weather_ahead
from collector.soil.forecast.inputs import AIR_C, DAY_H, HOUR_MS, HUMIDITY_PCT, SUN_W_M2, WIND_M_S, Site, Times, Weather
from collector.soil.radiation import net_longwave_mj_m2_h

# The last days, in which a bed comes to be as it is. Common practice, no source.
PAST_D = 10
# The sun of a usual day as a share of that of a clear sky: Allen et al. 1998, FAO-56, eq. 35 and 37, with bright sun
# during 0.55 of the day; that share is common practice, no source.
USUAL_CLEARNESS = (0.25 + 0.50 * 0.55) / 0.75
# Where no humidity is known: a mild day, dew point 5 K below the air. Common practice, no source.
_DEW_POINT_BELOW_K = 5.0
# Where no air temperature is known, the sky is reckoned as over this [°C]. Common practice, no source.
_MILD_C = 18.0
_W_M2_PER_MJ_M2_H = 1e6 / 3600.0


@dataclass(frozen=True, slots=True, eq=False)
class Exposure:
    """Hourly means of p past and then h coming hours: `time_ms` is the end of each [ms since 1970 UTC], `ahead` is h.

    `air_c` is NaN throughout where no air temperature is known. `sky_loss_w_m2` is what a surface as warm as the air
    radiates beyond what the sky gives it; `reference_mm` is the reference evapotranspiration of each hour [mm].
    """

    time_ms: Times
    ahead: int
    air_c: Array
    sun_w_m2: Array
    sky_loss_w_m2: Array
    wind_m_s: Array
    reference_mm: Array


def exposure_of(weather: Weather, site: Site, now_ms: int, hours: int) -> Exposure:
    """The last ten days and the coming hours at a site [°C, W/m², m/s, mm], from what weather there is.

    Args:
        weather: observed and forecast, in one table; none at all will do [Weather].
        site: where the bed is [Site].
        now_ms: the moment; the first coming hour is that after the full hour before it [ms since 1970 UTC].
        hours: how many coming hours, 1 or more [h].

    Raises:
        ValueError: fewer hours than one, or a latitude beyond the poles.

    Source: gaps as in `forecast.drives`; the sky by Allen et al. 1998, FAO-56, eq. 39 hourly, p. 75, with the clearness of
    the 24 h around; FAO-56, eq. 47, p. 63, for a wind that nobody measured.
    """
    if hours < 1:
        raise ValueError(f"hours is {hours}; want 1 or more")
    origin_ms = now_ms // HOUR_MS * HOUR_MS
    time_ms = origin_ms + HOUR_MS * np.arange(1 - PAST_D * DAY_H, hours + 1, dtype=np.int64)
    before_ms, after_ms = time_ms[:-hours], time_ms[-hours:]
    past = past_weather(weather, before_ms, site)
    coming = weather_ahead(weather, past, after_ms, site)
    columns = {name: np.concatenate([past.columns[name], coming.columns[name]]) for name in past.columns}
    clear_sun = clear_sun_w_m2(time_ms, site)
    unknown = np.full(time_ms.size, np.nan)
    air_c = columns.get(AIR_C, unknown)
    sun_w_m2 = np.maximum(columns.get(SUN_W_M2, USUAL_CLEARNESS * clear_sun), 0.0)
    sky_air_c = np.where(np.isfinite(air_c), air_c, _MILD_C)
    vapour_kpa = saturation_vapour_pressure_kpa(sky_air_c - _DEW_POINT_BELOW_K)
    if HUMIDITY_PCT in columns:
        vapour_kpa = saturation_vapour_pressure_kpa(sky_air_c) * np.clip(columns[HUMIDITY_PCT], 0.0, 100.0) / 100.0
    clearness = _clearness(sun_w_m2, clear_sun)
    sky_loss_w_m2 = np.maximum(net_longwave_mj_m2_h(sky_air_c, vapour_kpa, clearness) * _W_M2_PER_MJ_M2_H, 0.0)
    wind_m_s = np.maximum(columns.get(WIND_M_S, np.full(time_ms.size, USUAL_WIND_M_S)), 0.0)
    reference_mm = reference_by_air_mm(time_ms, site.latitude_deg, site.longitude_deg, air_c)
    return Exposure(time_ms, hours, air_c, sun_w_m2, sky_loss_w_m2, wind_m_s, reference_mm)


def _clearness(sun_w_m2: Array, clear_sun_w_m2: Array) -> Array:
    """The sun over the 24 h around each hour as a share of that of a clear sky; the usual one in the polar night."""
    day = np.ones(min(DAY_H, sun_w_m2.size))
    came, could = np.convolve(sun_w_m2, day, mode="same"), np.convolve(clear_sun_w_m2, day, mode="same")
    share: Array = np.divide(came, could, out=np.full(came.size, USUAL_CLEARNESS), where=could > 0)
    return np.minimum(share, 1.0)
