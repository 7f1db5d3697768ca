"""What a weather forecast may be off, and how far that moves the soil: the panel's own response, applied to the error.

A soil sums up the weather of hours and days, so what counts is how long an error of the forecast lasts:
one of an hour is hardly felt, a front that comes a day late is.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from collector.soil.arrays import Array
from collector.soil.forecast.drives import HourlyWeather
from collector.soil.forecast.inputs import AIR_C, SUN_W_M2

# The middles of the first and of the seventh day, between which the error of air temperature grows evenly [h].
_FIRST_DAY_H, _SEVENTH_DAY_H = 12.0, 156.0
# An error of the forecast falls to 1/e within so long, as weather does: a day. Common practice, no source.
_LASTS_H = 24.0
# Steps for slopes, small beside any weather [K and share].
_STEP_K, _STEP_SHARE = 0.01, 0.01


@dataclass(frozen=True, slots=True)
class Doubt:
    """Standard errors of a weather forecast: air temperature on the first and on the seventh day [K], and of the sun [share].

    The values are those of a public forecast; common practice, no source. Raises ValueError below 0 or not finite.
    """

    air_first_day_k: float = 1.0
    air_seventh_day_k: float = 2.75
    sun_share: float = 0.3

    def __post_init__(self) -> None:
        for name in self.__slots__:
            value = getattr(self, name)
            if not (math.isfinite(value) and value >= 0.0):
                raise ValueError(f"{name} is {value}; want 0 or more")


def spread_k(response: Array, weather: HourlyWeather, drives_of: Callable[[HourlyWeather], Array], doubt: Doubt) -> Array:
    """Standard error of the soil's temperature that comes from errors of the weather forecast [K], h values.

    Args:
        response: what one hour of each drive adds from then on, m by h [K per unit of the drive].
        weather: as forecast, with air temperature and sun, h hours [HourlyWeather].
        drives_of: makes h by m drives of a weather [any units].
        doubt: how far the forecast may be off [Doubt].

    Raises:
        ValueError: a weather without air temperature or sun, or drives of another number or length than the response.

    Source: propagation of errors through a linear response, first-order autoregressive errors; textbook statistics.
    """
    columns = weather.columns
    if AIR_C not in columns or SUN_W_M2 not in columns:
        raise ValueError(f"weather has {', '.join(columns) or 'no columns'}; want {AIR_C} and {SUN_W_M2}")
    base = drives_of(weather)
    if base.T.shape != response.shape:
        raise ValueError(f"response has shape {response.shape}, drives {base.shape}; want drives by hours, and hours by drives")
    warmer = drives_of(replace(weather, columns={**columns, AIR_C: columns[AIR_C] + _STEP_K}))
    sunnier = drives_of(replace(weather, columns={**columns, SUN_W_M2: columns[SUN_W_M2] * (1.0 + _STEP_SHARE)}))
    hours = np.arange(response.shape[1])
    grows = (doubt.air_first_day_k, doubt.air_seventh_day_k)
    air_k = np.interp(hours + 1.0, (_FIRST_DAY_H, _SEVENTH_DAY_H), grows)
    lag = hours[:, None] - hours
    after = np.where(lag >= 0, response[:, lag], 0.0)  # m by the hour felt by the hour of the error
    alike = np.exp(-np.abs(lag) / _LASTS_H)
    variance_k2 = np.zeros(hours.size)
    for slope, error in (((warmer - base) / _STEP_K, air_k), ((sunnier - base) / _STEP_SHARE, doubt.sun_share)):
        felt = np.einsum("mhk,km->hk", after, slope) * error
        variance_k2 += np.einsum("hk,hk->h", felt @ alike, felt)
    return np.sqrt(variance_k2)
