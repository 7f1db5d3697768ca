"""Water that a reference grass gives to the air, after FAO-56, chapters 2 to 4."""

from __future__ import annotations

import numpy as np

from collector.soil.arrays import Floats, within
from collector.soil.constants import LATENT_HEAT_MJ_KG


def atmospheric_pressure_kpa(elevation_m: float) -> float:
    """Mean pressure of the air [kPa].

    Args:
        elevation_m: height above sea level [m].

    Raises:
        ValueError: an elevation outside -500 to 9000 m.

    Source: Allen et al. 1998, FAO-56, eq. 7.
    """
    within("elevation_m", elevation_m, -500.0, 9000.0, "m")
    return float(101.3 * ((293.0 - 0.0065 * elevation_m) / 293.0) ** 5.26)


def psychrometric_constant_kpa_k(pressure_kpa: float) -> float:
    """Psychrometric constant, γ [kPa/K].

    Args:
        pressure_kpa: pressure of the air [kPa].

    Raises:
        ValueError: a pressure below 0.

    Source: Allen et al. 1998, FAO-56, eq. 8.
    """
    within("pressure_kpa", pressure_kpa, 0.0, np.inf, "kPa")
    return 0.665e-3 * pressure_kpa


def saturation_vapour_pressure_kpa(air_c: Floats) -> Floats:
    """Saturation vapour pressure over water, e° [kPa].

    Args:
        air_c: air temperature, trusted from -40 to 60 [°C].

    Raises:
        ValueError: a temperature beyond 100 °C to either side.

    Source: Allen et al. 1998, FAO-56, eq. 11.
    """
    within("air_c", air_c, -100.0, 100.0, "°C")
    pressure_kpa: Floats = 0.6108 * np.exp(17.27 * air_c / (air_c + 237.3))
    return pressure_kpa


def mean_saturation_vapour_pressure_kpa(highest_c: Floats, lowest_c: Floats) -> Floats:
    """Mean saturation vapour pressure of a day, es [kPa].

    Args:
        highest_c: highest air temperature of the day [°C].
        lowest_c: lowest air temperature of the day [°C].

    Raises:
        ValueError: a temperature beyond 100 °C to either side.

    Source: Allen et al. 1998, FAO-56, eq. 12.
    """
    return (saturation_vapour_pressure_kpa(highest_c) + saturation_vapour_pressure_kpa(lowest_c)) / 2.0


def saturation_slope_kpa_k(air_c: Floats) -> Floats:
    """Slope of the saturation vapour pressure with temperature, Δ [kPa/K].

    Args:
        air_c: air temperature, trusted from -40 to 60 [°C].

    Raises:
        ValueError: a temperature beyond 100 °C to either side.

    Source: Allen et al. 1998, FAO-56, eq. 13.
    """
    slope: Floats = 4098.0 * saturation_vapour_pressure_kpa(air_c) / (air_c + 237.3) ** 2
    return slope


def vapour_pressure_by_dew_point_kpa(dew_point_c: Floats) -> Floats:
    """Actual vapour pressure, ea [kPa], by the dew point.

    Args:
        dew_point_c: dew point; where it is not known, the night's lowest temperature stands in for it [°C].

    Raises:
        ValueError: a temperature beyond 100 °C to either side.

    Source: Allen et al. 1998, FAO-56, eq. 14 and 48.
    """
    return saturation_vapour_pressure_kpa(dew_point_c)


def vapour_pressure_by_wet_bulb_kpa(dry_c: Floats, wet_c: Floats, pressure_kpa: float, coefficient_per_k: float) -> Floats:
    """Actual vapour pressure, ea [kPa], by a dry and a wet thermometer.

    Args:
        dry_c: dry bulb [°C].
        wet_c: wet bulb [°C].
        pressure_kpa: pressure of the air [kPa].
        coefficient_per_k: of the instrument: 0.000662 aspirated, 0.000800 in natural draught, 0.001200 indoors [1/K].

    Raises:
        ValueError: a wet bulb above the dry one.

    Source: Allen et al. 1998, FAO-56, eq. 15 and 16.
    """
    within("dry_c less wet_c", dry_c - wet_c, 0.0, np.inf, "K")
    return saturation_vapour_pressure_kpa(wet_c) - coefficient_per_k * pressure_kpa * (dry_c - wet_c)


def vapour_pressure_by_humidity_kpa(highest_c: Floats, lowest_c: Floats, highest_pct: Floats, lowest_pct: Floats) -> Floats:
    """Actual vapour pressure of a day, ea [kPa], by the extremes of humidity.

    Args:
        highest_c: highest air temperature of the day [°C].
        lowest_c: lowest air temperature of the day [°C].
        highest_pct: highest relative humidity of the day [%].
        lowest_pct: lowest relative humidity of the day [%].

    Raises:
        ValueError: a humidity outside 0 to 100 %, or a highest value below the lowest.

    Source: Allen et al. 1998, FAO-56, eq. 17.
    """
    within("highest_c less lowest_c", highest_c - lowest_c, 0.0, np.inf, "K")
    within("lowest_pct", lowest_pct, 0.0, 100.0, "%")
    within("highest_pct", highest_pct, 0.0, 100.0, "%")
    within("highest_pct less lowest_pct", highest_pct - lowest_pct, 0.0, 100.0, "%")
    at_night_kpa = saturation_vapour_pressure_kpa(lowest_c) * highest_pct / 100.0
    at_noon_kpa = saturation_vapour_pressure_kpa(highest_c) * lowest_pct / 100.0
    return (at_night_kpa + at_noon_kpa) / 2.0


def vapour_pressure_by_mean_humidity_kpa(highest_c: Floats, lowest_c: Floats, mean_pct: Floats) -> Floats:
    """Actual vapour pressure of a day, ea [kPa], by the mean humidity; less sure than by its extremes.

    Args:
        highest_c: highest air temperature of the day [°C].
        lowest_c: lowest air temperature of the day [°C].
        mean_pct: mean relative humidity of the day [%].

    Raises:
        ValueError: a humidity outside 0 to 100 %.

    Source: Allen et al. 1998, FAO-56, eq. 19.
    """
    within("mean_pct", mean_pct, 0.0, 100.0, "%")
    return mean_pct / 100.0 * mean_saturation_vapour_pressure_kpa(highest_c, lowest_c)


def wind_at_2m_m_s(wind_m_s: Floats, height_m: float) -> Floats:
    """Wind at 2 m above the ground, u2 [m/s].

    Args:
        wind_m_s: wind at the height of the instrument [m/s].
        height_m: that height above a short grass, more than 0.1 [m].

    Raises:
        ValueError: a wind below 0, or a height up to 0.1 m.

    Source: Allen et al. 1998, FAO-56, eq. 47.
    """
    within("wind_m_s", wind_m_s, 0.0, np.inf, "m/s")
    if height_m <= 0.1:
        raise ValueError(f"height_m is {height_m}; want more than 0.1 [m]")
    wind_2m_m_s: Floats = wind_m_s * 4.87 / np.log(67.8 * height_m - 5.42)
    return wind_2m_m_s


def penman_monteith_mm_d(
    available_mj_m2_d: Floats, air_c: Floats, wind_2m_m_s: Floats, saturation_kpa: Floats, vapour_kpa: Floats, elevation_m: float
) -> Floats:
    """Reference evapotranspiration of a day, ETo [mm/d].

    Args:
        available_mj_m2_d: net radiation less soil heat flux, Rn - G [MJ m⁻² d⁻¹].
        air_c: mean of the day's highest and lowest air temperature [°C].
        wind_2m_m_s: wind at 2 m [m/s].
        saturation_kpa: mean saturation vapour pressure [kPa].
        vapour_kpa: actual vapour pressure [kPa].
        elevation_m: height above sea level [m].

    Raises:
        ValueError: a wind or vapour pressure below 0, or an elevation outside -500 to 9000 m.

    Source: Allen et al. 1998, FAO-56, eq. 6.
    """
    within("wind_2m_m_s", wind_2m_m_s, 0.0, np.inf, "m/s")
    within("vapour_kpa", vapour_kpa, 0.0, np.inf, "kPa")
    return _penman_monteith_mm(900.0, available_mj_m2_d, air_c, wind_2m_m_s, saturation_kpa - vapour_kpa, elevation_m)


def penman_monteith_mm_h(
    available_mj_m2_h: Floats, air_c: Floats, wind_2m_m_s: Floats, vapour_kpa: Floats, elevation_m: float
) -> Floats:
    """Reference evapotranspiration of an hour, ETo [mm/h].

    Args:
        available_mj_m2_h: net radiation less soil heat flux, Rn - G [MJ m⁻² h⁻¹].
        air_c: mean air temperature of the hour [°C].
        wind_2m_m_s: wind at 2 m [m/s].
        vapour_kpa: actual vapour pressure [kPa].
        elevation_m: height above sea level [m].

    Raises:
        ValueError: a wind or vapour pressure below 0, or an elevation outside -500 to 9000 m.

    Source: Allen et al. 1998, FAO-56, eq. 53.
    """
    within("wind_2m_m_s", wind_2m_m_s, 0.0, np.inf, "m/s")
    within("vapour_kpa", vapour_kpa, 0.0, np.inf, "kPa")
    deficit_kpa = saturation_vapour_pressure_kpa(air_c) - vapour_kpa
    return _penman_monteith_mm(37.0, available_mj_m2_h, air_c, wind_2m_m_s, deficit_kpa, elevation_m)


def _penman_monteith_mm(
    numerator: float, available_mj_m2: Floats, air_c: Floats, wind_2m_m_s: Floats, deficit_kpa: Floats, elevation_m: float
) -> Floats:
    """Equations 6 and 53 differ in the one number that holds the length of the span."""
    slope = saturation_slope_kpa_k(air_c)
    gamma = psychrometric_constant_kpa_k(atmospheric_pressure_kpa(elevation_m))
    # FAO-56 prints 1/λ as 0.408, and its examples are worked with that
    radiation_term = round(1.0 / LATENT_HEAT_MJ_KG, 3) * slope * available_mj_m2
    air_term = gamma * numerator / (air_c + 273.0) * wind_2m_m_s * deficit_kpa
    return (radiation_term + air_term) / (slope + gamma * (1.0 + 0.34 * wind_2m_m_s))


def soil_heat_mj_m2_h(net_radiation_mj_m2_h: Floats, daylight: bool) -> Floats:
    """Heat that goes into the soil under grass in an hour, G [MJ m⁻² h⁻¹].

    Args:
        net_radiation_mj_m2_h: net radiation, Rn [MJ m⁻² h⁻¹].
        daylight: whether it is day [yes or no].

    Source: Allen et al. 1998, FAO-56, eq. 45 and 46.
    """
    return (0.1 if daylight else 0.5) * net_radiation_mj_m2_h


def soil_heat_of_month_mj_m2_d(month_c: Floats, month_before_c: Floats) -> Floats:
    """Mean heat that goes into the soil over a month, G [MJ m⁻² d⁻¹], where the next month is not known.

    Args:
        month_c: mean air temperature of the month [°C].
        month_before_c: mean air temperature of the month before [°C].

    Source: Allen et al. 1998, FAO-56, eq. 44.
    """
    return 0.14 * (month_c - month_before_c)


def soil_heat_between_months_mj_m2_d(month_after_c: Floats, month_before_c: Floats) -> Floats:
    """Mean heat that goes into the soil over a month, G [MJ m⁻² d⁻¹], where its neighbours are known.

    Args:
        month_after_c: mean air temperature of the month after [°C].
        month_before_c: mean air temperature of the month before [°C].

    Source: Allen et al. 1998, FAO-56, eq. 43.
    """
    return 0.07 * (month_after_c - month_before_c)


def hargreaves_mm_d(extraterrestrial_mj_m2_d: Floats, highest_c: Floats, lowest_c: Floats) -> Floats:
    """Reference evapotranspiration of a day, ETo [mm/d], where only temperature is known; nothing below -17.8 °C.

    Args:
        extraterrestrial_mj_m2_d: radiation above the atmosphere, Ra [MJ m⁻² d⁻¹].
        highest_c: highest air temperature of the day [°C].
        lowest_c: lowest air temperature of the day [°C].

    Raises:
        ValueError: a highest temperature below the lowest.

    Source: Allen et al. 1998, FAO-56, eq. 52, with Ra turned into mm/d by 0.408 (eq. 20).
    """
    within("highest_c less lowest_c", highest_c - lowest_c, 0.0, np.inf, "K")
    mean_c = (highest_c + lowest_c) / 2.0
    amount_mm_d = 0.0023 * (mean_c + 17.8) * np.sqrt(highest_c - lowest_c) * 0.408 * extraterrestrial_mj_m2_d
    not_less: Floats = np.maximum(amount_mm_d, 0.0)
    return not_less
