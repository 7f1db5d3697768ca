"""Sun and long-wave radiation at the ground, after FAO-56, chapter 3.

Latitude and longitude are degrees, north and east positive; a day of the year is 1 to 366.
"""

from __future__ import annotations

import numpy as np

from collector.soil.arrays import Floats, within
from collector.soil.constants import FAO56_KELVIN_OF_ZERO_CELSIUS, SOLAR_CONSTANT_MJ_M2_MIN, STEFAN_BOLTZMANN_MJ_M2_D_K4


def inverse_relative_distance(day_of_year: Floats) -> Floats:
    """Inverse relative distance from earth to sun, dr [ratio].

    Args:
        day_of_year: day of the year, 1 to 366 [d].

    Raises:
        ValueError: a day of the year outside that range.

    Source: Allen et al. 1998, FAO-56, eq. 23.
    """
    within("day_of_year", day_of_year, 1.0, 366.0, "d")
    distance: Floats = 1.0 + 0.033 * np.cos(2.0 * np.pi / 365.0 * day_of_year)
    return distance


def solar_declination_rad(day_of_year: Floats) -> Floats:
    """Solar declination [rad].

    Args:
        day_of_year: day of the year, 1 to 366 [d].

    Raises:
        ValueError: a day of the year outside that range.

    Source: Allen et al. 1998, FAO-56, eq. 24.
    """
    within("day_of_year", day_of_year, 1.0, 366.0, "d")
    declination_rad: Floats = 0.409 * np.sin(2.0 * np.pi / 365.0 * day_of_year - 1.39)
    return declination_rad


def sunset_hour_angle_rad(latitude_deg: float, day_of_year: Floats) -> Floats:
    """Hour angle of sunset [rad]: 0 where the sun stays down all day, π where it stays up.

    Args:
        latitude_deg: latitude, -90 to 90 [°].
        day_of_year: day of the year, 1 to 366 [d].

    Raises:
        ValueError: a latitude or a day of the year outside its range.

    Source: Allen et al. 1998, FAO-56, eq. 25; the polar day and night by clipping its cosine.
    """
    within("latitude_deg", latitude_deg, -90.0, 90.0, "°")
    cosine = -np.tan(np.radians(latitude_deg)) * np.tan(solar_declination_rad(day_of_year))
    angle_rad: Floats = np.arccos(np.clip(cosine, -1.0, 1.0))
    return angle_rad


def daylight_hours(latitude_deg: float, day_of_year: Floats) -> Floats:
    """Hours from sunrise to sunset of the sun's centre at a flat horizon, N [h].

    Args:
        latitude_deg: latitude, -90 to 90 [°].
        day_of_year: day of the year, 1 to 366 [d].

    Raises:
        ValueError: a latitude or a day of the year outside its range.

    Source: Allen et al. 1998, FAO-56, eq. 34.
    """
    return 24.0 / np.pi * sunset_hour_angle_rad(latitude_deg, day_of_year)


def solar_hour_angle_rad(utc_h: Floats, longitude_deg: float, day_of_year: Floats) -> Floats:
    """Hour angle of the sun [rad]: 0 at solar noon, negative before it, from -π to π.

    Args:
        utc_h: time of the day, UTC [h].
        longitude_deg: longitude, east positive [°].
        day_of_year: day of the year, 1 to 366 [d].

    Raises:
        ValueError: a day of the year or a longitude outside its range.

    Source: Allen et al. 1998, FAO-56, eq. 31-33, with the clock of longitude 0.
    """
    within("day_of_year", day_of_year, 1.0, 366.0, "d")
    within("longitude_deg", longitude_deg, -360.0, 360.0, "°")
    b = 2.0 * np.pi * (day_of_year - 81.0) / 364.0
    correction_h = 0.1645 * np.sin(2.0 * b) - 0.1255 * np.cos(b) - 0.025 * np.sin(b)
    angle_rad = np.pi / 12.0 * (utc_h + longitude_deg / 15.0 + correction_h - 12.0)
    wrapped_rad: Floats = (angle_rad + np.pi) % (2.0 * np.pi) - np.pi
    return wrapped_rad


def extraterrestrial_mj_m2_d(latitude_deg: float, day_of_year: Floats) -> Floats:
    """Radiation above the atmosphere on a horizontal surface, Ra [MJ m⁻² d⁻¹].

    Args:
        latitude_deg: latitude, -90 to 90 [°].
        day_of_year: day of the year, 1 to 366 [d].

    Raises:
        ValueError: a latitude or a day of the year outside its range.

    Source: Allen et al. 1998, FAO-56, eq. 21.
    """
    sunset_rad = sunset_hour_angle_rad(latitude_deg, day_of_year)
    sines: Floats = 2.0 * np.sin(sunset_rad)
    whole_mj_m2_d: Floats = _extraterrestrial_mj_m2(latitude_deg, day_of_year, 2.0 * sunset_rad, sines)
    return whole_mj_m2_d


def extraterrestrial_mj_m2_span(latitude_deg: float, day_of_year: Floats, hour_angle_rad: Floats, span_h: float) -> Floats:
    """Radiation above the atmosphere on a horizontal surface over part of a day, Ra [MJ m⁻² per span].

    The part of the span before sunrise or after sunset gives nothing; a span across midnight has its part of both days'
    ends, which matters where the sun stays up.

    Args:
        latitude_deg: latitude, -90 to 90 [°].
        day_of_year: day of the year, 1 to 366 [d].
        hour_angle_rad: hour angle of the sun in the middle of the span [rad].
        span_h: length of the span, up to a few hours [h].

    Raises:
        ValueError: a latitude or a day of the year outside its range, or a span outside 0 to 24 h.

    Source: Allen et al. 1998, FAO-56, eq. 28-30.
    """
    sunset_rad = sunset_hour_angle_rad(latitude_deg, day_of_year)
    within("span_h", span_h, 0.0, 24.0, "h")
    half_rad = np.pi * span_h / 24.0
    begin_rad, begin_sine = _sun_up_to(hour_angle_rad - half_rad, sunset_rad)
    end_rad, end_sine = _sun_up_to(hour_angle_rad + half_rad, sunset_rad)
    return _extraterrestrial_mj_m2(latitude_deg, day_of_year, end_rad - begin_rad, end_sine - begin_sine)


def _sun_up_to(hour_angle_rad: Floats, sunset_rad: Floats) -> tuple[Floats, Floats]:
    """Hour angle that the sun has been up for, and the sine of it, from noon of this day; a day more adds a whole day's."""
    days: Floats = np.floor(hour_angle_rad / (2.0 * np.pi) + 0.5)
    up_rad: Floats = np.clip(hour_angle_rad - 2.0 * np.pi * days, -sunset_rad, sunset_rad)
    return up_rad + 2.0 * days * sunset_rad, np.sin(up_rad) + 2.0 * days * np.sin(sunset_rad)


def _extraterrestrial_mj_m2(latitude_deg: float, day_of_year: Floats, up_rad: Floats, sines: Floats) -> Floats:
    latitude_rad = np.radians(latitude_deg)
    declination_rad = solar_declination_rad(day_of_year)
    height: Floats = (
        up_rad * np.sin(latitude_rad) * np.sin(declination_rad) + np.cos(latitude_rad) * np.cos(declination_rad) * sines
    )
    return 12.0 * 60.0 / np.pi * SOLAR_CONSTANT_MJ_M2_MIN * inverse_relative_distance(day_of_year) * height


def clear_sky_mj_m2(extraterrestrial_mj_m2: Floats, elevation_m: float) -> Floats:
    """Solar radiation at the ground under a clear sky, Rso [MJ m⁻²], over the same span as Ra.

    Args:
        extraterrestrial_mj_m2: radiation above the atmosphere [MJ m⁻²].
        elevation_m: height above sea level [m].

    Raises:
        ValueError: an elevation outside -500 to 9000 m.

    Source: Allen et al. 1998, FAO-56, eq. 37.
    """
    within("elevation_m", elevation_m, -500.0, 9000.0, "m")
    return (0.75 + 2e-5 * elevation_m) * extraterrestrial_mj_m2


def solar_from_sunshine_mj_m2_d(extraterrestrial_mj_m2_d: Floats, sunshine_h: Floats, daylight_h: Floats) -> Floats:
    """Solar radiation at the ground by the hours of sunshine, Rs [MJ m⁻² d⁻¹].

    Args:
        extraterrestrial_mj_m2_d: radiation above the atmosphere [MJ m⁻² d⁻¹].
        sunshine_h: hours of bright sun [h].
        daylight_h: hours from sunrise to sunset [h].

    Raises:
        ValueError: hours outside 0 to 24.

    Source: Allen et al. 1998, FAO-56, eq. 35, with a = 0.25 and b = 0.50.
    """
    within("sunshine_h", sunshine_h, 0.0, 24.0, "h")
    within("daylight_h", daylight_h, 0.0, 24.0, "h")
    # where there is no day there is nothing to take a share of
    share: Floats = sunshine_h / (daylight_h + (daylight_h == 0.0) * 1.0)
    return (0.25 + 0.50 * share) * extraterrestrial_mj_m2_d


def solar_from_temperature_mj_m2_d(extraterrestrial_mj_m2_d: Floats, highest_c: Floats, lowest_c: Floats) -> Floats:
    """Solar radiation at the ground by the day's temperature range, Rs [MJ m⁻² d⁻¹], for inland places.

    Args:
        extraterrestrial_mj_m2_d: radiation above the atmosphere [MJ m⁻² d⁻¹].
        highest_c: highest air temperature of the day [°C].
        lowest_c: lowest air temperature of the day [°C].

    Raises:
        ValueError: a highest temperature below the lowest.

    Source: Allen et al. 1998, FAO-56, eq. 50, with kRs = 0.16 of the interior.
    """
    within("highest_c less lowest_c", highest_c - lowest_c, 0.0, np.inf, "K")
    solar_mj_m2_d: Floats = 0.16 * np.sqrt(highest_c - lowest_c) * extraterrestrial_mj_m2_d
    return solar_mj_m2_d


def net_shortwave_mj_m2(solar_mj_m2: Floats, albedo: float = 0.23) -> Floats:
    """Solar radiation kept by the surface, Rns [MJ m⁻²], over the same span as Rs.

    Args:
        solar_mj_m2: solar radiation at the ground [MJ m⁻²].
        albedo: share reflected, 0.23 of the reference grass [ratio].

    Raises:
        ValueError: an albedo outside 0 to 1.

    Source: Allen et al. 1998, FAO-56, eq. 38.
    """
    within("albedo", albedo, 0.0, 1.0, "ratio")
    return (1.0 - albedo) * solar_mj_m2


def net_longwave_mj_m2_d(highest_c: Floats, lowest_c: Floats, vapour_kpa: Floats, clearness: Floats) -> Floats:
    """Long-wave radiation that the surface loses, Rnl [MJ m⁻² d⁻¹].

    Args:
        highest_c: highest air temperature of the day [°C].
        lowest_c: lowest air temperature of the day [°C].
        vapour_kpa: actual vapour pressure [kPa].
        clearness: Rs/Rso, taken as 1 above 1 [ratio].

    Raises:
        ValueError: a highest temperature below the lowest, or a vapour pressure or clearness below 0.

    Source: Allen et al. 1998, FAO-56, eq. 39.
    """
    within("highest_c less lowest_c", highest_c - lowest_c, 0.0, np.inf, "K")
    black_mj_m2_d = (_black_body_mj_m2_d(highest_c) + _black_body_mj_m2_d(lowest_c)) / 2.0
    return black_mj_m2_d * _longwave_share(vapour_kpa, clearness)


def net_longwave_mj_m2_h(air_c: Floats, vapour_kpa: Floats, clearness: Floats) -> Floats:
    """Long-wave radiation that the surface loses in an hour, Rnl [MJ m⁻² h⁻¹].

    Args:
        air_c: air temperature of the hour [°C].
        vapour_kpa: actual vapour pressure [kPa].
        clearness: Rs/Rso, taken as 1 above 1; at night that of the late afternoon before [ratio].

    Raises:
        ValueError: a vapour pressure or clearness below 0.

    Source: Allen et al. 1998, FAO-56, eq. 39 with σ/24, p. 75.
    """
    return _black_body_mj_m2_d(air_c) / 24.0 * _longwave_share(vapour_kpa, clearness)


def _black_body_mj_m2_d(air_c: Floats) -> Floats:
    kelvin: Floats = air_c + FAO56_KELVIN_OF_ZERO_CELSIUS
    radiated: Floats = STEFAN_BOLTZMANN_MJ_M2_D_K4 * kelvin**4
    return radiated


def _longwave_share(vapour_kpa: Floats, clearness: Floats) -> Floats:
    within("vapour_kpa", vapour_kpa, 0.0, np.inf, "kPa")
    within("clearness", clearness, 0.0, np.inf, "ratio")
    share: Floats = (0.34 - 0.14 * np.sqrt(vapour_kpa)) * (1.35 * np.minimum(clearness, 1.0) - 0.35)
    return share
