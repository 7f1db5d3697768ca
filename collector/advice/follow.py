"""Follows the thermometers of a bed with the estimator, and feeds it only what is new.

A fortnight of readings makes the estimator know a bed, and costs a good part of a second; an hour
more costs next to nothing. So it is kept. It hears each hour once that hour is over and was given
another to come in; what came since is heard by a branch of it that is thrown away.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from collector.advice.long_past import long_series_of
from collector.model import Bed, Probe, Series
from collector.ports import Readings
from collector.soil.arrays import Array
from collector.soil.estimate.answer import Temperatures
from collector.soil.estimate.column import through_probes
from collector.soil.estimate.filter import Estimator
from collector.soil.estimate.ground import TICK_MS
from collector.soil.estimate.season import Moments, Thermometer, moments_of
from collector.units import Quantity

_HOUR_MS, _DAY_MS = 3_600_000, 86_400_000
# So much past makes a bed known (see `temperatures_at`).
PAST_MS = 14 * _DAY_MS
# Before a bed has spoken so long, a straight line between its probes tells as much (see tests/published).
LEAST_PAST_MS = _DAY_MS
# Readings that come later than this after their hour make the bed be learned anew. Stakes that gather send each hour.
_LATE_MS = _HOUR_MS

_Row = tuple[int, Array, Array]


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """What was known of some depths through time: t times [ms since 1970-01-01 UTC], t by d temperatures [°C] and half bands [K].

    Each time is told by the readings up to it, or up to half an hour after, and by no later one.
    """

    time_ms: NDArray[np.int64]
    temperature_c: Array
    half_band_k: Array

    def at(self, grid_ms: NDArray[np.int64], widest_k: float = np.inf) -> Array:
        """Temperatures [°C] at g times, g by d, linear between those known; NaN outside, and where half the band is wider [K]."""
        if not self.time_ms.size:
            return np.full((grid_ms.size, self.temperature_c.shape[1]), np.nan)
        columns = [
            np.where(
                np.interp(grid_ms, self.time_ms, half_band_k) <= widest_k,
                np.interp(grid_ms, self.time_ms, temperature_c, left=np.nan, right=np.nan),
                np.nan,
            )
            for temperature_c, half_band_k in zip(self.temperature_c.T, self.half_band_k.T, strict=True)
        ]
        return np.array(columns).reshape(len(columns), grid_ms.size).T


@dataclass(frozen=True, slots=True, eq=False)
class Followed:
    """What a bed's thermometers made known: its temperatures now, and how those at the followed depths came about."""

    now: Temperatures
    track: Track


class Follower:
    """Follows the thermometers of one bed. Any thread may ask."""

    def __init__(self, thermometers: Sequence[Probe], depths_m: Array) -> None:
        """`thermometers` have depths; `depths_m` are those whose track is kept [m]."""
        self._probes = [probe for probe in thermometers if probe.depth_m is not None]
        self._depths_m = depths_m
        self._lock = threading.RLock()
        self._known: Estimator | None = None
        self._heard: Mapping[str, Series] = {}
        self._rows: list[_Row] = []
        self._first_ms = self._fed_ms = self._built_ms = self._track_from_ms = 0

    def stale(self, series: Mapping[str, Series], track_from_ms: int, now_ms: int) -> bool:
        """Whether the bed should be learned anew: never done, a night has passed, or readings came late or were flagged since.

        Args:
            series: what its probes said of late, by probe id.
            track_from_ms: from when on the track is wanted [ms since 1970-01-01 UTC].
            now_ms: the moment [ms since 1970-01-01 UTC].
        """
        with self._lock:
            return bool(self._probes) and (
                self._known is None
                or self._built_ms // _DAY_MS != now_ms // _DAY_MS
                or now_ms < self._fed_ms
                or track_from_ms < self._track_from_ms
                or any(self._changed(series[probe.id], now_ms) for probe in self._probes)
            )

    def learn(self, readings: Readings, track_from_ms: int, now_ms: int) -> None:
        """Learn the bed anew from a fortnight before the track begins [ms]. Raises what the store raises."""
        with self._lock:
            from_ms = track_from_ms - PAST_MS
            series = long_series_of(self._probes, readings, from_ms, now_ms + 1)
            self._known = Estimator([probe.depth_m or 0.0 for probe in self._probes])
            self._rows = []
            self._fed_ms, self._track_from_ms, self._built_ms = 0, track_from_ms, now_ms
            heard = [one.trusted().time_ms[:1].tolist() for one in series.values()]
            self._first_ms = min((time_ms for first in heard for time_ms in first), default=now_ms)
            self._take_in(series, now_ms)

    def follow(self, series: Mapping[str, Series], now_ms: int) -> Followed | None:
        """What is known now; None where the bed was not learned in the last day, or has not spoken for a day yet.

        Args:
            series: what its probes said over the last two days, by probe id.
            now_ms: the moment [ms since 1970-01-01 UTC].
        """
        with self._lock:
            old = self._known is None or now_ms < self._fed_ms or now_ms - self._fed_ms > _DAY_MS
            if old or now_ms - self._first_ms < LEAST_PAST_MS:
                return None
            self._take_in(series, now_ms)
            assert self._known is not None
            branch, tail = self._known.branch(), []
            moments = _moments(self._probes, series, self._fed_ms, now_ms + 1, TICK_MS)
            for time_ms, values_c in zip(moments.time_ms.tolist(), moments.values_c, strict=True):
                branch.hear(time_ms, values_c)
                if time_ms % _HOUR_MS == 0 and time_ms < now_ms:
                    tail += self._row(branch, time_ms)
            tail += self._row(branch, now_ms)
            now = branch.estimate(now_ms)
            return None if now is None else Followed(now, self._track([*self._rows, *tail]))

    def _take_in(self, series: Mapping[str, Series], now_ms: int) -> None:
        """Hear each hour that is over and was given another."""
        assert self._known is not None
        last = (now_ms - _LATE_MS - _HOUR_MS // 2) // _HOUR_MS
        to_ms = last * _HOUR_MS + _HOUR_MS // 2
        if to_ms > self._fed_ms:
            moments = _moments(self._probes, series, self._fed_ms, to_ms, _HOUR_MS)
            said = dict(zip((moments.time_ms // _HOUR_MS).tolist(), moments.values_c, strict=True))
            silence_c = np.full(len(self._probes), np.nan)
            first = self._fed_ms // _HOUR_MS + 1 if self._fed_ms else min(said, default=last + 1)
            for hour in range(first, last + 1):
                self._known.hear(hour * _HOUR_MS, said.get(hour, silence_c))
                if hour * _HOUR_MS >= max(self._track_from_ms, self._first_ms + LEAST_PAST_MS):
                    self._rows += self._row(self._known, hour * _HOUR_MS)
            self._fed_ms = to_ms
        self._heard = {probe.id: series[probe.id].trusted() for probe in self._probes}

    def _changed(self, series: Series, now_ms: int) -> bool:
        """Whether a probe's readings of the last two days are others than those that were heard."""
        old, new = (one.within(now_ms - 2 * _DAY_MS, self._fed_ms) for one in (self._heard[series.probe_id], series.trusted()))
        return not (np.array_equal(old.time_ms, new.time_ms) and np.array_equal(old.value, new.value))

    def _row(self, known: Estimator, time_ms: int) -> list[_Row]:
        temperatures = known.estimate(time_ms) if self._depths_m.size else None
        return [] if temperatures is None else [(time_ms, *through_probes(temperatures, self._depths_m))]

    def _track(self, rows: Sequence[_Row]) -> Track:
        times_ms, temperatures_c, half_bands_k = zip(*rows, strict=True) if rows else ((), (), ())
        shape = (len(rows), self._depths_m.size)
        return Track(
            np.array(times_ms, dtype=np.int64),
            np.array(temperatures_c, dtype=np.float64).reshape(shape),
            np.array(half_bands_k, dtype=np.float64).reshape(shape),
        )


class Followers:
    """A follower for each bed. Any thread may ask."""

    def __init__(self, readings: Readings, depths_of: Callable[[Bed], Array]) -> None:
        """`depths_of` gives the depths [m] whose track is kept."""
        self._readings = readings
        self._depths_of = depths_of
        self._beds: dict[str, Follower] = {}

    def of(self, bed: Bed) -> Follower:
        """The follower of a bed."""
        if bed.id not in self._beds:
            self._beds[bed.id] = Follower(bed.probes_of(Quantity.SOIL_TEMPERATURE), self._depths_of(bed))
        return self._beds[bed.id]

    def followed(
        self, bed: Bed, series: Mapping[str, Series], track_from_ms: int, now_ms: int, *, may_learn: bool = True
    ) -> tuple[Followed | None, bool]:
        """What is known of a bed now, and whether it was learned for that. Raises what the store raises.

        Args:
            bed: the bed.
            series: what its probes said over the last two days, by probe id.
            track_from_ms: from when on its track is wanted [ms since 1970-01-01 UTC].
            now_ms: the moment [ms since 1970-01-01 UTC].
            may_learn: False where there is no time for that; then what was learned before must do.
        """
        follower = self.of(bed)
        learns = may_learn and follower.stale(series, track_from_ms, now_ms)
        if learns:
            follower.learn(self._readings, track_from_ms, now_ms)
        return follower.follow(series, now_ms), learns


def cloves_of(bed: Bed) -> Array:
    """The depth of the cloves [m] alone, or none."""
    return np.array([] if bed.clove_depth_m is None else [bed.clove_depth_m])


def _moments(probes: Sequence[Probe], series: Mapping[str, Series], from_ms: int, to_ms: int, every_ms: int) -> Moments:
    """What thermometers said in from_ms <= t < to_ms that may speak for the soil, brought to common moments."""
    said = [series[probe.id].trusted().within(from_ms, to_ms) for probe in probes]
    return moments_of(
        [Thermometer(probe.depth_m or 0.0, one.time_ms, one.value) for probe, one in zip(probes, said, strict=True)], every_ms
    )
