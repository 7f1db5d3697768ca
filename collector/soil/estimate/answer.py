"""What the filter knows at one moment, as an answer to the same questions that readings alone answer (profile.py)."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from collector.soil.arrays import Array
from collector.soil.estimate.ground import COLUMN_M, Ground
from collector.soil.profile import Estimate, Profile

# Half of an 80 % band in standard deviations: a normal variable is within it four times of five.
HALF_BAND = 1.2816
# A probe speaks for this depth. Nobody buries it to a tenth of a millimetre.
_SAME_DEPTH_M = 1e-4
# What the filter's own variance counts for, as it also covers misfits that are of the probes and not of the soil; how far a
# depth is misjudged [m]; and what a thermometer differs from another [K]. Chosen so that the band holds on measured soils.
_VARIANCE_SHARE = 0.25
_MISPLACED_M = 0.02
_THERMOMETER_K = 0.12
# Beyond the outermost probes the soil may be another: this much for each metre [K/m], and so much more misjudged depth [m/m].
_BEYOND_K_M, _MISPLACED_BEYOND = 3.0, 0.4
# The gradient is taken over this much to either side [m].
_BESIDE_M = 0.005


@dataclass(frozen=True, eq=False)
class Temperatures:
    """Temperature at every depth from the surface to 1.5 m, at one moment [°C].

    `fresh` tells which probes spoke of late: m values. The rest are those of the filter: b
    diffusivities by n states, their covariances, the size of the noises, and the weights.
    """

    ground: Ground
    state: Array
    covariance: Array
    scale: Array
    weights: Array
    fresh: NDArray[np.bool_]

    def at(self, depth_m: float) -> Estimate | None:
        """Temperature at a depth [°C], with half its 80 % band [K]; None outside the column, 0 to 1.5 m.

        At the depth of a probe that spoke of late, it is what that probe says, smoothed and
        carried to this moment, with its offset, as the grower reads it there; several count as their mean.

        Args:
            depth_m: depth below the soil surface [m]; NaN gives None.

        Source: the mean of a Gaussian mixture (textbook, from memory).
        """
        if not 0.0 <= depth_m <= COLUMN_M:
            return None
        here = self.fresh & (np.abs(self.ground.depths_m - depth_m) <= _SAME_DEPTH_M)
        if here.any():
            said_c = self.weights @ (self.state @ self.ground.hears[here].T)
            return Estimate(float(said_c.mean()), measured=True, band=HALF_BAND * _THERMOMETER_K)
        mean_c, half_band_k = self.over(np.array([depth_m]))
        return Estimate(float(mean_c[0]), measured=False, band=float(half_band_k[0]))

    def over(self, depths_m: Array) -> tuple[Array, Array]:
        """The soil's temperature [°C] and half its 80 % band [K] at depths; offsets of probes are not in it.

        Args:
            depths_m: depths below the soil surface, 0 to 1.5, d of them [m].

        Raises:
            ValueError: a depth outside the column, or NaN.

        Source: the mean and variance of a Gaussian mixture (textbook, from memory).
        """
        rows = self.ground.rows(depths_m)
        each_c = self.state @ rows.T
        mean_c = self.weights @ each_c
        variance_k2 = np.sum((rows @ self.covariance) * rows, axis=2)
        variance_k2 = self.weights @ (_VARIANCE_SHARE * self.scale[:, None] * variance_k2 + (each_c - mean_c) ** 2)
        beyond_m = self._beyond_m(depths_m)
        misplaced_m = _MISPLACED_M + _MISPLACED_BEYOND * beyond_m
        variance_k2 += (misplaced_m * self._gradient_k_m(depths_m)) ** 2 + (_BEYOND_K_M * beyond_m) ** 2 + _THERMOMETER_K**2
        return mean_c, HALF_BAND * np.sqrt(variance_k2)

    def crossings(self, limit: float) -> tuple[float, ...]:
        """The depths [m] at which the soil goes from one side of a limit to the other, shallowest first.

        They are looked for from the surface to the deepest probe that spoke of late and 5 cm beyond.

        Args:
            limit: the limit [°C].

        Source: linear interpolation between the cells; common practice, no source.
        """
        return self._cut.crossings(limit) if self.fresh.any() else ()

    @property
    def depths_m(self) -> tuple[float, ...]:
        """Depths [m] of the probes that spoke of late, shallowest first, each once."""
        return tuple(sorted(set(self.ground.depths_m[self.fresh].tolist())))

    @property
    def values(self) -> tuple[float, ...]:
        """What is said at each of `depths_m` [°C]."""
        return tuple(estimate.value for depth_m in self.depths_m if (estimate := self.at(depth_m)) is not None)

    @property
    def diffusivity_m2_s(self) -> float:
        """The likely diffusivity of the bed [m²/s]: the mean, in its logarithm, of those weighed."""
        return float(np.exp(self.weights @ np.log(self.ground.diffusivities_m2_s)))

    @cached_property
    def _cut(self) -> Profile:
        end_m = min(self.depths_m[-1] + 0.05, COLUMN_M)
        nodes_m = np.concatenate([[0.0], self.ground.middles_m[self.ground.middles_m < end_m], [end_m]])
        return Profile(tuple(nodes_m.tolist()), tuple(self.over(nodes_m)[0].tolist()), 0.0)

    def _beyond_m(self, depths_m: Array) -> Array:
        """How far depths are above the shallowest probe or below the deepest of those that spoke of late, else of all [m]."""
        probes_m = self.ground.depths_m[self.fresh] if self.fresh.any() else self.ground.depths_m
        beyond_m: Array = np.maximum(np.maximum(probes_m.min() - depths_m, depths_m - probes_m.max()), 0.0)
        return beyond_m

    def _gradient_k_m(self, depths_m: Array) -> Array:
        upper_m, lower_m = np.maximum(depths_m - _BESIDE_M, 0.0), np.minimum(depths_m + _BESIDE_M, COLUMN_M)
        upper, lower = self.ground.rows(upper_m), self.ground.rows(lower_m)
        gradient: Array = self.weights @ (self.state @ (lower - upper).T) / (lower_m - upper_m)
        return gradient
