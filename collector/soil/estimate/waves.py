"""How likely each diffusivity is, by the wave of the day at the probes.

How far a filter is off from one reading to the next tells little of diffusivity, as any soil hardly
moves in ten minutes. The wave of the day tells much: it fades and lags with depth, and the rate of
both is one number. A probe that sits two centimetres from where it is said to be is nothing unusual.
"""

from __future__ import annotations

import numpy as np

from collector.soil.arrays import Array
from collector.soil.estimate.ground import SECONDS_PER_DAY
from collector.soil.thermal import damping_depth_m

# How long a wave is remembered, and how often the likelihoods are worked out anew.
_MEMORY_MS = 7 * 86_400_000.0
_EVERY_MS = 6 * 3_600_000
# A wave counts when its probe was heard over two days of the memory, and when it is as high as this.
_LEAST_MS = 2 * 86_400_000.0
_LEAST_K = 0.1
# Misplacement [m], share by which a wave departs from a pure one, and error of its height [K]; common practice, no source.
_MISPLACED_M = 0.02
_IMPURE = 0.05
_ERROR_K = 0.1
# The misfit of a common bed, square of a ratio, and how many departures of waves it counts for; as the next.
_COMMON_MISFIT2, _COMMON_COUNTS = 0.3, 2.0
# Before any wave: the usual soil [m²/s] and the spread of its logarithm; chosen on measured soils (see the tests).
_USUAL_M2_S, _SPREAD = 0.8e-6, 0.4


class RunningWaves:
    """The daily waves of m probes, remembered for about a week, and what b diffusivities make of them."""

    def __init__(self, depths_m: Array, diffusivities_m2_s: Array) -> None:
        self._depths_m = depths_m
        self._damping_m = damping_depth_m(diffusivities_m2_s, SECONDS_PER_DAY)
        self._before = -0.5 * (np.log(diffusivities_m2_s / _USUAL_M2_S) / _SPREAD) ** 2
        self._weights = _shares(self._before)
        self._misfit2 = _COMMON_MISFIT2
        self._products = np.zeros((depths_m.size, 4, 4))
        self._answers = np.zeros((depths_m.size, 4))
        self._heard_ms = np.zeros(depths_m.size)
        self._first_ms: int | None = None
        self._last_ms = self._weighed_ms = 0

    def hear(self, time_ms: int, values_c: Array) -> None:
        """Takes in the readings of one moment [°C].

        Args:
            time_ms: the moment [ms since 1970-01-01 UTC].
            values_c: one for each probe, NaN is missing [°C].

        Raises:
            ValueError: another number of values than of probes.

        Source: least squares with a fading memory; textbook (from memory).
        """
        if values_c.shape != self._depths_m.shape:
            raise ValueError(f"values_c has shape {values_c.shape}; want one value for each of {self._depths_m.size} probes")
        if self._first_ms is None:
            self._first_ms = self._last_ms = self._weighed_ms = time_ms
        passed_ms = time_ms - self._last_ms
        fade = np.exp(-passed_ms / _MEMORY_MS)
        angle = 2.0 * np.pi * (time_ms / 1000.0) / SECONDS_PER_DAY
        shape = np.array([1.0, (time_ms - self._first_ms) / 86_400_000.0, np.cos(angle), np.sin(angle)])
        there = np.isfinite(values_c)
        self._products *= fade
        self._answers *= fade
        self._heard_ms *= fade
        self._products[there] += np.outer(shape, shape)
        self._answers[there] += shape * values_c[there, None]
        self._heard_ms[there] += min(passed_ms, 3_600_000)  # a reading speaks for an hour at most
        self._last_ms = time_ms
        if time_ms - self._weighed_ms >= _EVERY_MS:
            self._weighed_ms = time_ms
            self._weigh()

    def weights(self) -> Array:
        """How likely each diffusivity is [share], b values that add up to 1.

        Source: Bayes; the damped wave of uniform ground, Carslaw & Jaeger 1959 (from memory).
        """
        return self._weights

    def misfit2(self) -> float:
        """How far the waves are from those of one uniform soil [squared ratio]: near 0 for probes in place, 1 for 2 cm off.

        Source: weighted squares over their number, with a prior; textbook (from memory).
        """
        return self._misfit2

    def _weigh(self) -> None:
        heard = self._heard_ms > _LEAST_MS
        if heard.sum() < 2:
            return
        fitted = np.linalg.solve(self._products[heard] + 1e-3 * np.eye(4), self._answers[heard][:, :, None])[:, :, 0]
        wave = fitted[:, 2] - 1j * fitted[:, 3]
        high = np.abs(wave) > _LEAST_K
        wave, depths_m = wave[high], self._depths_m[heard][high]
        if wave.size < 2:
            return
        steps = depths_m / self._damping_m[:, None]  # b by the waves that count
        variance = (_MISPLACED_M / self._damping_m[:, None]) ** 2 + _IMPURE**2 + (_ERROR_K / np.abs(wave)) ** 2
        # carried up to the surface, all waves should be one wave: as high, and at the same time
        heights = np.log(np.abs(wave)) + steps
        phases = np.angle(wave) + steps
        phases = np.angle(np.exp(1j * (phases - phases[:, :1])))
        squares = _scatter(heights, variance) + _scatter(phases, variance)
        self._weights = _shares(self._before - 0.5 * squares)
        departures = 2 * (wave.size - 1)
        known = float(self._weights @ squares) + _COMMON_MISFIT2 * _COMMON_COUNTS
        self._misfit2 = known / (departures + _COMMON_COUNTS)


def _scatter(values: Array, variance: Array) -> Array:
    """Squared departures from the weighted mean of each row, in units of their variance."""
    mean = np.sum(values / variance, axis=1, keepdims=True) / np.sum(1.0 / variance, axis=1, keepdims=True)
    return np.asarray(np.sum((values - mean) ** 2 / variance, axis=1), dtype=np.float64)


def _shares(log_likelihood: Array) -> Array:
    shares: Array = np.exp(log_likelihood - log_likelihood.max())
    shares /= shares.sum()
    return shares
