"""What a forecast is made from: readings and weather as they came, and the hourly grid they are put on.

Readings and weather may be unsorted, doubled, full of gaps and at any pace. The grid has one
row for each full hour of UTC; what is not known there is NaN.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from collector.soil.arrays import Array, within

HOUR_MS = 3_600_000
DAY_H = 24

Times = NDArray[np.int64]

# The quantities of a weather table, by the names of its columns; a column may be absent.
AIR_C, SUN_W_M2, HUMIDITY_PCT, WIND_M_S, RAIN_MM = (
    "air_temperature_c", "solar_irradiance_w_m2", "relative_humidity_pct", "wind_speed_m_s", "rain_mm",
)  # fmt: skip
QUANTITIES = (AIR_C, SUN_W_M2, HUMIDITY_PCT, WIND_M_S, RAIN_MM)


@dataclass(frozen=True, slots=True, eq=False)
class Record:
    """What one thermometer said: depth [m], times [ms since 1970 UTC] and temperatures [°C], two arrays of one length.

    Raises ValueError for arrays of two lengths and for a depth that is no number of 0 or more.
    """

    depth_m: float
    time_ms: Times
    temperature_c: Array

    def __post_init__(self) -> None:
        if len(self.time_ms) != len(self.temperature_c) or not 0.0 <= self.depth_m < np.inf:
            raise ValueError(
                f"thermometer at {self.depth_m} m with {len(self.time_ms)} times and {len(self.temperature_c)} temperatures; "
                "want a depth of 0 or more and as many of the one as of the other"
            )


@dataclass(frozen=True, slots=True, eq=False)
class Weather:
    """Weather in steps: the end of each step [ms since 1970 UTC] and by column the mean over it, arrays of one length.

    Raises ValueError for a column of another length.
    """

    time_ms: Times = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    columns: Mapping[str, Array] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for name, values in self.columns.items():
            if len(values) != len(self.time_ms):
                raise ValueError(f"weather column {name} has {len(values)} values, time_ms {len(self.time_ms)}; want as many")


@dataclass(frozen=True, slots=True)
class Site:
    """Where the bed is: latitude and longitude [°], north and east positive, and height above the sea [m].

    Raises ValueError for a place that is not on the earth.
    """

    latitude_deg: float
    longitude_deg: float
    elevation_m: float

    def __post_init__(self) -> None:
        if not np.isfinite([self.latitude_deg, self.longitude_deg, self.elevation_m]).all():
            raise ValueError(
                f"latitude {self.latitude_deg}, longitude {self.longitude_deg}, elevation {self.elevation_m}: want numbers"
            )
        within("latitude_deg", self.latitude_deg, -90.0, 90.0, "°")
        within("longitude_deg", self.longitude_deg, -360.0, 360.0, "°")
        within("elevation_m", self.elevation_m, -500.0, 9000.0, "m")


def hours_in_a_row(grid_ms: Times) -> None:
    """Refuses a grid that is not made of hours one after the other [ms].

    Args:
        grid_ms: the grid [ms since 1970 UTC].

    Raises:
        ValueError: a grid of no hours, or of others than one after the other.

    Source: by definition.
    """
    if not grid_ms.size or (np.diff(grid_ms) != HOUR_MS).any():
        raise ValueError(f"grid_ms of {grid_ms.size} times; want one hour or more, each {HOUR_MS} ms after the one before")


def hours_of(time_ms: Sequence[int] | Times, value: Array, grid_ms: Times) -> Array:
    """Readings at the full hours [unit of the value], n values, NaN where there is none within the hour around.

    A reading counts the more the nearer it is to the full hour, and not at all an hour away: for
    hourly readings that is a straight line between two, for quicker ones a mean without lag.

    Args:
        time_ms: times of the readings, in any order, k of them [ms since 1970 UTC].
        value: the readings, k values, NaN is none [any unit].
        grid_ms: full hours, n of them, one after the other [ms since 1970 UTC].

    Raises:
        ValueError: a grid of no hours, or of others than one after the other.

    Source: triangular kernel; common practice, no source.
    """
    hours_in_a_row(grid_ms)
    times = np.asarray(time_ms, dtype=np.int64)
    known = np.isfinite(value)
    place = (times[known] - grid_ms[0]) / HOUR_MS
    below = np.floor(place).astype(np.int64)
    share = place - below
    weight, total = np.zeros(grid_ms.size), np.zeros(grid_ms.size)
    for at, part in ((below, 1.0 - share), (below + 1, share)):
        inside = (at >= 0) & (at < grid_ms.size) & (part > 0)
        np.add.at(weight, at[inside], part[inside])
        np.add.at(total, at[inside], (part * value[known])[inside])
    hourly: Array = np.divide(total, weight, out=np.full(grid_ms.size, np.nan), where=weight > 0)
    return hourly


def hourly_means(time_ms: Sequence[int] | Times, value: Array, grid_ms: Times) -> Array:
    """Means over the hours that end at the full hours [unit of the value], n values, NaN where under half of one is known.

    A step is as long as the usual one of the table, or shorter where the next came sooner. Of two rows at one time the
    later one counts.

    Args:
        time_ms: ends of the steps, in any order, k of them [ms since 1970 UTC].
        value: means over the steps, k values, NaN is none [any unit].
        grid_ms: full hours, n of them, one after the other [ms since 1970 UTC].

    Raises:
        ValueError: a grid of no hours, or of others than one after the other.

    Source: by definition of the mean.
    """
    hours_in_a_row(grid_ms)
    known = np.isfinite(value)
    ends, first = np.unique(np.asarray(time_ms, dtype=np.int64)[known][::-1], return_index=True)
    if ends.size == 0:
        return np.full(grid_ms.size, np.nan)
    means = np.asarray(value, dtype=np.float64)[known][::-1][first]
    gaps = np.diff(ends)
    usual = float(np.median(gaps)) if gaps.size else float(HOUR_MS)
    length = np.minimum(np.concatenate([[usual], gaps]), usual)
    # two running sums, of what is known and of its value; a gap is a stretch that adds nothing
    starts = ends - length
    marks = np.stack([starts, ends.astype(np.float64)], axis=1).ravel()
    covered = np.stack([np.zeros(ends.size), length], axis=1).ravel().cumsum()
    summed = np.stack([np.zeros(ends.size), length * means], axis=1).ravel().cumsum()
    bounds = np.concatenate([[grid_ms[0] - HOUR_MS], grid_ms]).astype(np.float64)
    hours_ms = np.diff(np.interp(bounds, marks, covered))
    sums = np.diff(np.interp(bounds, marks, summed))
    hourly: Array = np.divide(sums, hours_ms, out=np.full(grid_ms.size, np.nan), where=hours_ms >= HOUR_MS / 2)
    return hourly
