"""How long the day is, and when the sun rises and sets.

A day has as many lengths as there are definitions of its ends, and they part by up to an hour and more; so a threshold
of daylength is never kept without the definition that it goes with. `day` is the date at the place, by its own sun:
the day around that date's solar noon.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from enum import Enum

from collector.calls import Evidence
from collector.crop.limits import Limit, inside

DAY_MS = 86_400_000
ONE_DAY = dt.timedelta(days=1)
_EPOCH = dt.date(1970, 1, 1)
# Noon of 1 January 2000, from which the formulas of the sun count their days.
_J2000_MS = (dt.date(2000, 1, 1) - _EPOCH).days * DAY_MS + DAY_MS // 2


class Definition(Enum):
    """Where the centre of the sun stands when the day begins and ends [° above a flat horizon].

    GEOMETRIC: on the horizon, as if there were no air (as FAO-56, eq. 34, whose sun is a little coarser). ALMANAC: its
    upper edge seen on the horizon, 34' of refraction and 16' of radius below, as almanacs print sunrise. CIVIL: 6° below,
    the ends of civil twilight, when one still reads outdoors.
    """

    GEOMETRIC = 0.0
    ALMANAC = -50.0 / 60.0
    CIVIL = -6.0

    @property
    def altitude_rad(self) -> float:
        """The same angle [rad]."""
        return math.radians(self.value)


@dataclass(frozen=True, slots=True)
class Threshold:
    """A daylength that means something to the crop [h], and by which definition."""

    hours: Limit
    definition: Definition


# In growth rooms lamps go on and off and there is no twilight. That sunrise and sunset stand for them here is our choice.
_DEL_POZO = "del Pozo & González 2005, Agric. Técnica 65(2):119-126, two Chilean clones in growth rooms (abstract)"
NONE_BULB = Threshold(Limit(12.0, "h", Evidence.PUBLISHED, f"{_DEL_POZO}: no bulbs at 8, 10 or 12 h"), Definition.ALMANAC)
ALL_BULB = Threshold(
    Limit(14.0, "h", Evidence.PUBLISHED, f"{_DEL_POZO}: all plants bulbed above 14 h, stored at 4 or 7 °C"), Definition.ALMANAC
)
# The two above leave two hours open, and cultivars differ. This one lies between them.
BULBING = Threshold(
    Limit(
        13.5,
        "h",
        Evidence.WEAK,
        "Brewster, Onions and Other Vegetable Alliums, 2nd ed.: garlic of California begins to bulb in late April; "
        "the hours are worked out for 38° N on 29 April. Cultivars of low latitudes bulb in shorter days",
    ),
    Definition.GEOMETRIC,
)


def daylength_h(day: dt.date, latitude_deg: float, longitude_deg: float, definition: Definition) -> float:
    """Length of the day by a definition [h]: 0 where the sun stays below its mark all day, 24 where it stays above.

    Args:
        day: the date.
        latitude_deg: latitude, north positive, -90 to 90 [°].
        longitude_deg: longitude, east positive, -180 to 180 [°].
        definition: where the sun stands when the day begins and ends.

    Raises:
        ValueError: a latitude or longitude outside its range.

    Source: as `sun_times_ms`.
    """
    times_ms = sun_times_ms(day, latitude_deg, longitude_deg, definition)
    if times_ms is not None:
        return min((times_ms[1] - times_ms[0]) / 3.6e6, 24.0)
    declination_rad, _ = _sun(_mean_noon_ms(day, longitude_deg))
    return 24.0 if _half_day_rad(latitude_deg, declination_rad, definition) > 0.0 else 0.0


def sun_times_ms(day: dt.date, latitude_deg: float, longitude_deg: float, definition: Definition) -> tuple[float, float] | None:
    """When the day begins and ends by a definition [ms since 1970 UTC]; None where the sun does not cross its mark.

    Args:
        day: the date.
        latitude_deg: latitude, north positive, -90 to 90 [°].
        longitude_deg: longitude, east positive, -180 to 180 [°].
        definition: where the sun stands when the day begins and ends.

    Raises:
        ValueError: a latitude or longitude outside its range.

    Source: Astronomical Almanac, low precision formulas for the sun (0.01° from 1950 to 2050), from memory; the hour angle
    from the spherical triangle, taken anew at sunrise and at sunset because the sun goes on moving.
    """
    inside("latitude_deg", latitude_deg, -90.0, 90.0, "°")
    inside("longitude_deg", longitude_deg, -180.0, 180.0, "°")
    noon_ms = _mean_noon_ms(day, longitude_deg)
    if _half_day_rad(latitude_deg, _sun(noon_ms)[0], definition) in (0.0, math.pi):
        return None
    times_ms = []
    for side in (-1.0, 1.0):
        at_ms = noon_ms
        for _ in range(4):  # the sun moves 0.4° a day: each turn brings the answer some 300 times nearer
            declination_rad, equation_ms = _sun(at_ms)
            half_rad = _half_day_rad(latitude_deg, declination_rad, definition)
            at_ms = noon_ms - equation_ms + side * half_rad / (2.0 * math.pi) * DAY_MS
        times_ms.append(at_ms)
    return times_ms[0], times_ms[1]


def first_long_day(
    threshold: Threshold, latitude_deg: float, longitude_deg: float, from_day: dt.date, to_day: dt.date
) -> dt.date | None:
    """First date on which the days, growing longer, have reached a threshold [h]; None where none up to `to_day` does.

    The long days of late summer, which grow shorter, do not count: they bulb nothing that was planted in them.

    Args:
        threshold: how long, and by which definition.
        latitude_deg: latitude, north positive, -90 to 90 [°].
        longitude_deg: longitude, east positive, -180 to 180 [°].
        from_day: the date to begin at.
        to_day: the last date to try.

    Raises:
        ValueError: a latitude or longitude outside its range.

    Source: by definition.
    """
    day, before_h = from_day, daylength_h(from_day - ONE_DAY, latitude_deg, longitude_deg, threshold.definition)
    while day <= to_day:
        hours = daylength_h(day, latitude_deg, longitude_deg, threshold.definition)
        if hours >= threshold.hours.value and (hours > before_h or hours == 24.0):  # a polar day grows no longer
            return day
        day, before_h = day + ONE_DAY, hours
    return None


def days_shorten(day: dt.date, latitude_deg: float, longitude_deg: float) -> bool:
    """True where the day is shorter than the one before [true or false]: an autumn planting, and not one of spring.

    Args:
        day: the date.
        latitude_deg: latitude, north positive; 0 is taken as the north [°].
        longitude_deg: longitude, east positive [°].

    Source: by definition, from the sun's declination.
    """
    today_rad, _ = _sun(_mean_noon_ms(day, longitude_deg))
    before_rad, _ = _sun(_mean_noon_ms(day - ONE_DAY, longitude_deg))
    return today_rad < before_rad if latitude_deg >= 0.0 else today_rad > before_rad


def mean_solar_ms(day: dt.date, longitude_deg: float, hour: float) -> float:
    """Moment at which a clock set to the mean sun of the place shows an hour [ms since 1970 UTC].

    Args:
        day: the date.
        longitude_deg: longitude, east positive [°].
        hour: hour on that clock [h].

    Source: by definition, 15° of longitude to the hour.
    """
    return (day - _EPOCH).days * DAY_MS + (hour - longitude_deg / 15.0) * 3.6e6


def _mean_noon_ms(day: dt.date, longitude_deg: float) -> float:
    return mean_solar_ms(day, longitude_deg, 12.0)


def _sun(at_ms: float) -> tuple[float, float]:
    """Declination of the sun [rad], and how far it is ahead of the mean sun [ms]."""
    days = (at_ms - _J2000_MS) / DAY_MS
    mean_longitude_deg = 280.460 + 0.9856474 * days
    anomaly_rad = math.radians(357.528 + 0.9856003 * days)
    ecliptic_rad = math.radians(mean_longitude_deg + 1.915 * math.sin(anomaly_rad) + 0.020 * math.sin(2.0 * anomaly_rad))
    obliquity_rad = math.radians(23.439 - 4e-7 * days)
    declination_rad = math.asin(math.sin(obliquity_rad) * math.sin(ecliptic_rad))
    ascension_rad = math.atan2(math.cos(obliquity_rad) * math.sin(ecliptic_rad), math.cos(ecliptic_rad))
    ahead_rad = math.remainder(math.radians(mean_longitude_deg) - ascension_rad, 2.0 * math.pi)
    return declination_rad, ahead_rad / (2.0 * math.pi) * DAY_MS


def _half_day_rad(latitude_deg: float, declination_rad: float, definition: Definition) -> float:
    """Hour angle at which the sun crosses its mark [rad]; 0 where it stays below all day, π where it stays above."""
    latitude_rad = math.radians(latitude_deg)
    height = math.sin(definition.altitude_rad) - math.sin(latitude_rad) * math.sin(declination_rad)
    reach = math.cos(latitude_rad) * math.cos(declination_rad)
    return math.acos(min(max(height / reach, -1.0), 1.0))
