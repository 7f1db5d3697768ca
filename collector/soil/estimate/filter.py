"""A Kalman filter over the ground, one for each diffusivity, all run side by side and weighed by the waves they explain.

One call of `Estimator.hear` takes in the readings of a moment, well under a millisecond; `estimate`
answers for that moment or a later one and changes nothing.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from collector.soil.arrays import Array
from collector.soil.estimate.answer import Temperatures
from collector.soil.estimate.ground import DIFFUSIVITIES_M2_S, MISFIT_S, TICK_MS, doubled, ground_of
from collector.soil.estimate.waves import RunningWaves

# Noise of one reading [K]: a step of a DS18B20 is 1/16 °C (its data sheet), and wires add some.
READING_K = 0.05
# A reading farther off than this many standard deviations is believed less and less, so that a wild one pulls no more than these.
_WILD = 4.0
# The size of all noises is learned over this long, and begins as if so many readings had shown it to be as modelled.
_SCALE_MS = 10 * 86_400_000.0
_SCALE_READINGS = 20.0
# A reading speaks for its depth this long. Common practice, no source.
PATIENCE_MS = 3 * 3_600_000
# Longer gaps than these many ticks are crossed by powers of two, which are kept; shorter ones are kept each.
_KEPT_STEPS = 18


@dataclass(frozen=True, slots=True, eq=False)
class Departure:
    """How far readings were off from what was expected [K], and what deviation was expected of them [K]; NaN where none came."""

    off_k: Array
    expected_k: Array

    @property
    def deviations(self) -> Array:
        """How far off in units of what was expected."""
        return self.off_k / self.expected_k


class Estimator:
    """Learns the ground from m probes, moment by moment.

    Args of the constructor: depths of the probes in any order, two may share one [m], and the
    diffusivities to weigh [m²/s]. Raises ValueError for no probe or a depth outside 0 to 1.5 m.
    """

    def __init__(self, depths_m: Sequence[float], diffusivities_m2_s: tuple[float, ...] = DIFFUSIVITIES_M2_S) -> None:
        self._ground = ground_of(tuple(float(depth_m) for depth_m in depths_m), diffusivities_m2_s)
        self._waves = RunningWaves(self._ground.depths_m, self._ground.diffusivities_m2_s)
        members, states = self._ground.diffusivities_m2_s.size, self._ground.start.shape[0]
        self._state = np.zeros((members, states))
        self._covariance = np.broadcast_to(self._ground.start, (members, states, states)).copy()
        self._misfits = np.arange(states - self.depths_m.size, states)
        self._covariance[:, self._misfits, self._misfits] = self._misfit_k2()
        self._squares = np.full(members, _SCALE_READINGS)
        self._readings = np.full(members, _SCALE_READINGS)
        self._tick: int | None = None
        self._powers = [(self._ground.step, self._ground.noise)]
        self._steps: dict[int, tuple[Array, Array]] = {}
        self._newest_ms = np.full(self._ground.depths_m.size, np.iinfo(np.int64).min // 2)

    @property
    def depths_m(self) -> Array:
        """Depths of the probes [m], in the order they were given."""
        return self._ground.depths_m

    def hear(self, time_ms: int, values_c: Array) -> None:
        """Takes in the readings of one moment [°C].

        Times are rounded to ten minutes. A moment with no reading at all only passes the time.

        Args:
            time_ms: the moment, no earlier than the last one [ms since 1970-01-01 UTC].
            values_c: one for each probe, NaN is missing [°C].

        Raises:
            ValueError: a moment before the last one, as many values as there are no probes, or an infinite one.

        Source: Kalman 1960 (from memory); a reading's noise grows with how wild it is, after Huber (from memory).
        """
        there = self._there(values_c)
        if self._tick is None:
            if not there.any():
                return
            self._begin(time_ms, float(values_c[there].mean()))
        self._pass_to(time_ms)
        if not there.any():
            return
        row = self._ground.hears[there]
        reach, spread, off_k, expected_k2 = self._expected(row, values_c[there])
        wild = np.maximum(np.abs(off_k) / np.sqrt(self._scale[:, None] * expected_k2) / _WILD, 1.0)
        noise_k2 = expected_k2 * wild**2 - np.diagonal(spread, axis1=1, axis2=2)
        inverse = np.linalg.inv(spread + noise_k2[:, :, None] * np.eye(off_k.shape[1]))
        gain = reach @ inverse
        self._state = self._state + (gain @ off_k[:, :, None])[:, :, 0]
        covariance = self._covariance - gain @ np.swapaxes(reach, 1, 2)
        self._covariance = 0.5 * (covariance + np.swapaxes(covariance, 1, 2))  # rounding must not unbalance it
        self._squares = self._squares + np.einsum("bm,bmk,bk->b", off_k, inverse, off_k)
        self._readings = self._readings + off_k.shape[1]
        self._waves.hear(time_ms, values_c)
        self._newest_ms[there] = time_ms

    def compare(self, time_ms: int, values_c: Array) -> Departure | None:
        """How far readings are off from what is expected of them [K]; None before any reading. Nothing is learned.

        Args:
            time_ms: the moment, no earlier than the last reading taken in [ms since 1970-01-01 UTC].
            values_c: one for each probe, NaN is missing [°C].

        Raises:
            ValueError: as `hear`.

        Source: as `hear`.
        """
        there = self._there(values_c)
        if self._tick is None:
            return None
        ahead = copy.copy(self)
        ahead._pass_to(time_ms)
        _, _, off_k, expected_k2 = ahead._expected(self._ground.hears[there], values_c[there])
        weights = self._waves.weights()
        found = Departure(np.full(values_c.shape, np.nan), np.full(values_c.shape, np.nan))
        found.off_k[there] = weights @ off_k
        found.expected_k[there] = np.sqrt(weights @ (self._scale[:, None] * expected_k2 + (off_k - weights @ off_k) ** 2))
        return found

    def branch(self) -> Estimator:
        """Another estimator that knows what this one knows, and then hears what it is told alone [°C].

        Source: by definition.
        """
        other = copy.copy(self)
        other._state, other._covariance = self._state.copy(), self._covariance.copy()
        other._waves, other._newest_ms = copy.deepcopy(self._waves), self._newest_ms.copy()
        return other

    def estimate(self, time_ms: int) -> Temperatures | None:
        """What is known of the bed's temperatures [°C] at a moment; None before any reading.

        Args:
            time_ms: the moment, no earlier than the last reading taken in [ms since 1970-01-01 UTC].

        Raises:
            ValueError: a moment before the last reading.

        Source: as `hear`.
        """
        if self._tick is None:
            return None
        ahead = copy.copy(self)
        ahead._pass_to(time_ms)
        return Temperatures(
            ground=self._ground,
            state=ahead._state.copy(),
            covariance=ahead._covariance,
            scale=self._scale,
            weights=self._waves.weights(),
            fresh=time_ms - self._newest_ms <= PATIENCE_MS,
        )

    @property
    def _scale(self) -> Array:
        """How large the noises are, squared, to how the model has them; one for each diffusivity."""
        scale: Array = self._squares / self._readings
        return scale

    def _there(self, values_c: Array) -> NDArray[np.bool_]:
        if values_c.shape != self.depths_m.shape:
            raise ValueError(f"values_c has shape {values_c.shape}; want one value for each of {self.depths_m.size} probes")
        if np.isinf(values_c).any():
            raise ValueError(f"values_c is {values_c.tolist()}; want numbers, or NaN for what is missing")
        return np.isfinite(values_c)

    def _expected(self, row: Array, values_c: Array) -> tuple[Array, Array, Array, Array]:
        """Covariance of the state with k readings and of these among themselves, how far they are off, and their variance."""
        reach = self._covariance @ row.T
        spread = row @ reach
        return reach, spread, values_c - self._state @ row.T, np.diagonal(spread, axis1=1, axis2=2) + READING_K**2

    def _begin(self, time_ms: int, mean_c: float) -> None:
        self._tick = _tick(time_ms)
        self._state[:, : self._ground.cells + 1] = mean_c  # the cells, and the level of the surface

    def _pass_to(self, time_ms: int) -> None:
        assert self._tick is not None
        ticks = _tick(time_ms) - self._tick
        if ticks < 0:
            raise ValueError(
                f"time_ms is {time_ms}, before the last one heard, of about {self._tick * TICK_MS}; want readings in the order"
                " of their times: begin a new Estimator and tell it all of them in order"
            )
        for step, noise in self._ways(ticks):
            self._state = (step @ self._state[:, :, None])[:, :, 0]
            self._covariance = step @ self._covariance @ np.swapaxes(step, 1, 2) + noise
        lost = 1.0 - np.exp(-2.0 * ticks * TICK_MS / 1000.0 / MISFIT_S)
        self._covariance = self._covariance.copy()  # the old one may be another's
        self._covariance[:, self._misfits, self._misfits] += lost * self._misfit_k2()
        fade = np.exp(-ticks * TICK_MS / _SCALE_MS)
        self._squares, self._readings = self._squares * fade, self._readings * fade
        missing = np.maximum(_SCALE_READINGS - self._readings, 0.0)  # what was forgotten counts as modelled again
        self._squares, self._readings = self._squares + missing, self._readings + missing
        self._tick += ticks

    def _misfit_k2(self) -> Array:
        return self._waves.misfit2() * self._ground.misfit_k**2

    def _ways(self, ticks: int) -> list[tuple[Array, Array]]:
        """The steps that together last so many ticks."""
        if 0 < ticks <= _KEPT_STEPS:
            if ticks not in self._steps:
                step, noise = self._powers[0]
                for _ in range(ticks - 1):
                    first, first_noise = self._powers[0]
                    step, noise = first @ step, first @ noise @ np.swapaxes(first, 1, 2) + first_noise
                self._steps[ticks] = step, noise
            return [self._steps[ticks]]
        while ticks >> len(self._powers):
            self._powers.append(doubled(*self._powers[-1]))
        return [power for place, power in enumerate(self._powers) if ticks >> place & 1]


def _tick(time_ms: int) -> int:
    return (time_ms + TICK_MS // 2) // TICK_MS
