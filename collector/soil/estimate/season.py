"""The estimator over readings as they are stored: one series for each probe, each with times of its own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from collector.soil.arrays import Array
from collector.soil.estimate.answer import Temperatures
from collector.soil.estimate.filter import Estimator
from collector.soil.estimate.ground import TICK_MS

# Over a long past, readings count as the mean of each half hour: no soil a centimetre down is quicker.
HALF_HOUR_MS = 3 * TICK_MS


@dataclass(frozen=True, slots=True, eq=False)
class Thermometer:
    """A probe and what it said: `time_ms` [ms since 1970-01-01 UTC], ascending, and `value_c` [°C], NaN is missing.

    Raises ValueError for arrays of different length, times that do not ascend, or an infinite value.
    """

    depth_m: float
    time_ms: NDArray[np.int64]
    value_c: Array

    def __post_init__(self) -> None:
        if self.time_ms.shape != self.value_c.shape or self.time_ms.ndim != 1:
            raise ValueError(
                f"thermometer at {self.depth_m} m: {self.time_ms.shape} times, {self.value_c.shape} values; want equal numbers"
            )
        falls = np.flatnonzero(np.diff(self.time_ms) < 0)
        if falls.size:
            at = int(falls[0]) + 1
            raise ValueError(f"thermometer at {self.depth_m} m: time {at} is before the one before it; want them sorted")
        if np.isinf(self.value_c).any():
            raise ValueError(f"thermometer at {self.depth_m} m: an infinite value; want numbers, or NaN for what is missing")


@dataclass(frozen=True, slots=True, eq=False)
class Moments:
    """Readings of all probes together: t times [ms since 1970-01-01 UTC], strictly ascending, and t by m values [°C]."""

    time_ms: NDArray[np.int64]
    values_c: Array


@dataclass(frozen=True, slots=True, eq=False)
class History:
    """t times by d depths: the temperature [°C] and half its 80 % band [K]; NaN before the first reading."""

    temperature_c: Array
    half_band_k: Array


def moments_of(thermometers: Sequence[Thermometer], every_ms: int = TICK_MS) -> Moments:
    """Readings of several probes brought to common moments [°C]: each the mean of what was said nearest to it.

    Args:
        thermometers: the probes and their readings [Thermometer].
        every_ms: how far the moments are apart, a multiple of ten minutes [ms].

    Raises:
        ValueError: a distance that is no such multiple.

    Source: by definition.
    """
    if every_ms <= 0 or every_ms % TICK_MS:
        raise ValueError(f"every_ms is {every_ms}; want a multiple of {TICK_MS}")
    said = [np.isfinite(one.value_c) for one in thermometers]
    slots = [(one.time_ms[heard] + every_ms // 2) // every_ms for one, heard in zip(thermometers, said, strict=True)]
    common = np.unique(np.concatenate(slots)) if slots else np.array([], dtype=np.int64)
    values_c = np.full((common.size, len(thermometers)), np.nan)
    for column, (one, heard, slot) in enumerate(zip(thermometers, said, slots, strict=True)):
        places = np.searchsorted(common, slot)
        count = np.bincount(places, minlength=common.size)
        total = np.bincount(places, weights=one.value_c[heard], minlength=common.size)
        values_c[count > 0, column] = total[count > 0] / count[count > 0]
    return Moments(common * every_ms, values_c)


def temperatures_at(thermometers: Sequence[Thermometer], now_ms: int) -> Temperatures | None:
    """What the readings up to a moment tell of every depth [°C]; None where there are none.

    A fortnight of readings or more tells the soil best; of more than a year the first are forgotten.

    Args:
        thermometers: one or more; later readings than `now_ms` are not looked at [Thermometer].
        now_ms: the moment [ms since 1970-01-01 UTC].

    Raises:
        ValueError: no thermometer, or one outside 0 to 1.5 m.

    Source: as `Estimator`.
    """
    estimator = Estimator([one.depth_m for one in thermometers])
    moments = moments_of(thermometers)
    for time_ms, values_c in zip(moments.time_ms.tolist(), moments.values_c, strict=True):
        if time_ms > now_ms:
            break
        estimator.hear(time_ms, values_c)
    return estimator.estimate(now_ms)


def history(thermometers: Sequence[Thermometer], grid_ms: NDArray[np.int64], depths_m: Array) -> History:
    """Temperature over a past span [°C], each moment told by the readings up to it and by no later one.

    Running back over later readings (a smoother) was tried and told a probe left out no better, and on sandy
    plots worse: what it gains in noise it loses where the soil is not as modelled.

    Args:
        thermometers: one or more [Thermometer].
        grid_ms: t times, ascending [ms since 1970-01-01 UTC].
        depths_m: d depths from 0 to 1.5 [m].

    Raises:
        ValueError: no thermometer, a depth outside the column, or a grid that does not ascend.

    Source: as `Estimator`.
    """
    if (np.diff(grid_ms) < 0).any():
        raise ValueError("grid_ms does not ascend; want its times sorted")
    estimator = Estimator([one.depth_m for one in thermometers])
    moments = moments_of(thermometers, HALF_HOUR_MS)
    shape = (grid_ms.size, depths_m.size)
    found = History(np.full(shape, np.nan), np.full(shape, np.nan))
    heard = 0
    for place, grid_at_ms in enumerate(grid_ms.tolist()):
        while heard < moments.time_ms.size and moments.time_ms[heard] <= grid_at_ms:
            estimator.hear(int(moments.time_ms[heard]), moments.values_c[heard])
            heard += 1
        known = estimator.estimate(grid_at_ms)
        if known is not None:
            found.temperature_c[place], found.half_band_k[place] = known.over(depths_m)
    return found
