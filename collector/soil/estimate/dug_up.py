"""Whether a stake stands in the soil: when it was dug up, within an hour most of its depths leave what the soil could do.

They go where the air is. It needs a day's past to compare with.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from collector.soil.arrays import Array
from collector.soil.estimate.filter import Estimator
from collector.soil.estimate.season import Thermometer, moments_of

_HOUR_MS, _DAY_MS = 3_600_000, 86_400_000
# One usual soil is enough to tell a fault [m²/s].
_SOIL_M2_S = (0.8e-6,)

# Dug up: farther off than so many deviations and so many kelvin, compared with what was known an hour before; chosen on
# measured soils and the simulated garden. The torn-out ones all lie in the same air, within this much [K].
_TORN_DEVIATIONS, _TORN_K, _SAME_AIR_K = 5.0, 1.5, 2.5
_BEFORE_MS = _HOUR_MS
_KNOWN_MS = _DAY_MS
# Air may pass through the soil's temperature: the stake is back once all say so for this long.
_BACK_MS = 3 * _HOUR_MS
# After so long in the air, what the soil does is no longer known. Then the stake is back once the wave of a day fades with
# depth: halfway at least from not at all to what a usual soil does to it [m]; it must be this high to be told from none [K].
_LONGEST_OUT_MS = 2 * _DAY_MS
_USUAL_DAMPING_M, _SWING_K = 0.12, 2.0


@dataclass(frozen=True, slots=True)
class DugUp:
    """A stake in the air, from its first reading there to its first back in the soil [ms since 1970-01-01 UTC].

    `end_ms` is None until it has been back for three hours.
    """

    first_ms: int
    end_ms: int | None


class StakeWatch:
    """Looks at one stake moment by moment, and tells when it lay in the air.

    Args of the constructor: depths of its thermometers in any order [m], and since when it is
    known to lie in the air [ms], None where it stands in the soil. Raises ValueError for a depth
    outside 0 to 1.5 m, and for no depth.
    """

    def __init__(self, depths_m: Sequence[float], out_ms: int | None = None) -> None:
        self._known = Estimator(depths_m, _SOIL_M2_S)
        self._depths_m = np.array(depths_m, dtype=np.float64)
        self._first_ms: int | None = None
        self._last_ms: int | None = None
        self._waiting: list[tuple[int, Array]] = []
        self._day: list[tuple[int, Array]] = []  # the last day in the air
        self._found: list[DugUp] = []
        self._out_ms = out_ms  # since when the stake is out, and
        self._quiet_ms: int | None = None  # since when it says again what the soil may say

    @property
    def spans(self) -> tuple[DugUp, ...]:
        """When the stake lay in the air [ms], oldest first."""
        return (*self._found, *([DugUp(self._out_ms, None)] if self._out_ms is not None else []))

    def hear(self, time_ms: int, values_c: Array, air_c: float | None = None) -> None:
        """Takes in the readings of one moment [°C].

        Args:
            time_ms: the moment, no earlier than the last one [ms since 1970-01-01 UTC].
            values_c: one for each thermometer, NaN is missing [°C].
            air_c: the air's temperature, where it is known [°C].

        Raises:
            ValueError: a moment before the last one, or values as `Estimator.hear`.

        Source: as `dug_up`.
        """
        if self._last_ms is not None and time_ms < self._last_ms:
            raise ValueError(f"time_ms is {time_ms}, before the last one heard, {self._last_ms}; want readings in order")
        self._last_ms = time_ms
        if self._first_ms is None:
            self._first_ms = time_ms
        while self._waiting and self._out_ms is None and time_ms - self._waiting[0][0] >= _BEFORE_MS:
            self._known.hear(*self._waiting.pop(0))
        torn = self._torn(time_ms, values_c)
        if self._out_ms is None:
            if time_ms - self._first_ms >= _KNOWN_MS and self._in_the_air(time_ms, values_c, torn, air_c):
                self._out_ms, self._quiet_ms = time_ms, None
                self._waiting.clear()  # the hour before is doubtful
                self._day.clear()
        else:
            self._look_for_return(time_ms, values_c, torn)
        if self._out_ms is None or self._quiet_ms is not None:
            self._waiting.append((time_ms, values_c))

    def _look_for_return(self, time_ms: int, values_c: Array, torn: NDArray[np.bool_]) -> None:
        assert self._out_ms is not None
        self._day = [(at_ms, said_c) for at_ms, said_c in self._day if time_ms - at_ms < _DAY_MS] + [(time_ms, values_c)]
        if time_ms - self._out_ms < _LONGEST_OUT_MS:
            if torn.any():
                self._quiet_ms = None
                self._waiting.clear()
                return
            self._quiet_ms = time_ms if self._quiet_ms is None else self._quiet_ms
            if time_ms - self._quiet_ms >= _BACK_MS:
                self._back(self._quiet_ms)
        elif self._fades():
            self._known = Estimator(self._depths_m.tolist(), _SOIL_M2_S)  # what was known of this soil is old
            self._first_ms = self._day[0][0]
            self._waiting = list(self._day)
            self._back(self._day[0][0])

    def _back(self, end_ms: int) -> None:
        assert self._out_ms is not None
        self._found.append(DugUp(self._out_ms, end_ms))
        self._out_ms = None

    def _fades(self) -> bool:
        """Whether the last day swung less at depth, as it does in soil; in the air it swings alike on the whole stake."""
        if self._day[-1][0] - self._day[0][0] < 0.95 * _DAY_MS:
            return False
        said_c = np.array([values_c for _, values_c in self._day])
        heard = np.isfinite(said_c).mean(axis=0) > 0.5
        if heard.sum() < 2:
            return False
        swings_k, depths_m = np.ptp(np.where(np.isfinite(said_c), said_c, np.nanmean(said_c, axis=0)), axis=0), self._depths_m
        swings_k, depths_m = swings_k[heard], depths_m[heard]
        upper, lower = int(np.argmin(depths_m)), int(np.argmax(depths_m))
        in_soil = float(np.exp(-(depths_m[lower] - depths_m[upper]) / _USUAL_DAMPING_M))
        return bool(swings_k[upper] >= _SWING_K and swings_k[lower] / swings_k[upper] < 0.5 * (1.0 + in_soil))

    def _torn(self, time_ms: int, values_c: Array) -> NDArray[np.bool_]:
        """Which probes say what the soil at their depth cannot, after what was known of it."""
        departure = self._known.compare(time_ms, values_c)
        if departure is None:
            return np.zeros(values_c.shape, dtype=bool)
        far: NDArray[np.bool_] = np.abs(departure.off_k) > np.maximum(_TORN_DEVIATIONS * departure.expected_k, _TORN_K)
        return far

    def _in_the_air(self, time_ms: int, values_c: Array, torn: NDArray[np.bool_], air_c: float | None) -> bool:
        """Whether most probes are torn out, and have gone where the air is."""
        if torn.sum() < 2 or 2 * torn.sum() <= np.isfinite(values_c).sum():
            return False
        there_c = values_c[torn]
        if air_c is None:
            return bool(np.ptp(there_c) <= _SAME_AIR_K)
        departure = self._known.compare(time_ms, values_c)
        return departure is not None and bool((np.abs(there_c - air_c) < np.abs(there_c - departure.off_k[torn] - air_c)).all())


def dug_up(stake: Sequence[Thermometer], air: Thermometer | None = None) -> list[DugUp]:
    """When the probes of one stake lay in the air [spans in ms], oldest first.

    A stake with one probe is never called dug up, nor one in its first day.

    Args:
        stake: the thermometers of one stake and their readings [Thermometer].
        air: the air temperature near it, where it is known; its depth does not count [Thermometer].

    Raises:
        ValueError: a depth outside 0 to 1.5 m.

    Source: heat flow, which moves no depth by kelvins within the hour; thresholds chosen on measured soils, no source.
    """
    if len(stake) < 2:
        return []
    watch, moments = StakeWatch([one.depth_m for one in stake]), moments_of(stake)
    for time_ms, values_c in zip(moments.time_ms.tolist(), moments.values_c, strict=True):
        watch.hear(time_ms, values_c, air_at_c(air, time_ms))
    return list(watch.spans)


def air_at_c(air: Thermometer | None, time_ms: int) -> float | None:
    """The air's last reading of the hour before a moment [°C], None where there is none.

    Args:
        air: the air temperature, where it is measured; its depth does not count [Thermometer].
        time_ms: the moment [ms since 1970-01-01 UTC].

    Source: by definition.
    """
    if air is None:
        return None
    last = int(np.searchsorted(air.time_ms, time_ms, side="right")) - 1
    if last < 0 or time_ms - int(air.time_ms[last]) > _HOUR_MS or not np.isfinite(air.value_c[last]):
        return None
    return float(air.value_c[last])
