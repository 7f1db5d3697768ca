"""Temperature of a bed by depth at one moment: what the probes say where they sit, and between them what the filter knows.

The filter tells the soil, and each probe's own error beside it. The grower reads the probes, so the
curve is bent to go through what they say; how much of that the soil between them shares fades with
the distance, for the error may be of the probe as well as of the soil around it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from collector.soil.arrays import Array
from collector.soil.estimate.answer import Temperatures
from collector.soil.estimate.ground import COLUMN_M
from collector.soil.profile import Estimate, Profile

# A probe is believed this far around it as much as 1/e. Chosen on measured soils (see tests/published).
_SHARED_M = 0.15
# Beyond the outermost probes it is told no farther than this [m]: there the band still holds (see tests/published).
REACH_M = 0.05
_STEP_M = 0.01
_SAME_DEPTH_M = 1e-4


@dataclass(frozen=True, slots=True)
class Column:
    """Temperature [°C] known from `REACH_M` above the shallowest probe that spoke lately to as much below the deepest.

    `said` is what those probes say; at depths in `late_m` that is some time ago, and what the filter
    has made of it since. Between them the nodes hold: `nodes_m`, ascending, `nodes_c`, and half
    the 80 % band there, `half_band_k`.
    """

    said: Profile
    nodes_m: tuple[float, ...]
    nodes_c: tuple[float, ...]
    half_band_k: tuple[float, ...]
    late_m: tuple[float, ...] = ()

    @property
    def depths_m(self) -> tuple[float, ...]:
        """Depths of the probes [m], shallowest first."""
        return self.said.depths_m

    @property
    def values(self) -> tuple[float, ...]:
        """What they say [°C]."""
        return self.said.values

    def at(self, depth_m: float) -> Estimate | None:
        """Temperature at a depth [°C], measured where a probe sits, else with half its 80 % band [K]; None out of reach.

        Args:
            depth_m: depth below the soil surface [m]; NaN gives None.

        Source: as `column_of`.
        """
        for known_m, value_c in zip(self.said.depths_m, self.said.values, strict=True):
            if abs(known_m - depth_m) <= _SAME_DEPTH_M and known_m not in self.late_m:
                return Estimate(value_c, measured=True)
        if not self.nodes_m[0] - _SAME_DEPTH_M <= depth_m <= self.nodes_m[-1] + _SAME_DEPTH_M:
            return None
        value_c = float(np.interp(depth_m, self.nodes_m, self.nodes_c))
        return Estimate(value_c, measured=False, band=float(np.interp(depth_m, self.nodes_m, self.half_band_k)))

    def crossings(self, limit: float) -> tuple[float, ...]:
        """The depths [m] at which the soil goes from one side of a limit to the other, shallowest first.

        Looked for down to the deepest probe. One probe alone tells of none: the band of what is
        around it is too wide for a depth.

        Args:
            limit: the limit [°C].

        Source: as `column_of`.
        """
        if len(self.said.depths_m) == 1:
            return ()
        deep = sum(node_m <= self.said.depths_m[-1] + _SAME_DEPTH_M for node_m in self.nodes_m)
        return Profile(self.nodes_m[:deep], self.nodes_c[:deep]).crossings(limit)


def column_of(known: Temperatures, said: Profile, late_m: tuple[float, ...] = ()) -> Column:
    """The column of one moment [°C].

    Args:
        known: what the filter knows of that moment [Temperatures].
        said: what the probes say that spoke lately [Profile, °C].
        late_m: depths of those of them that have fallen silent since [m].

    Source: the curve of the filter bent through the probes; common practice, no source.
    """
    first_m, last_m = max(said.depths_m[0] - REACH_M, 0.0), min(said.depths_m[-1] + REACH_M, COLUMN_M)
    steps_m = np.arange(math.ceil(round(first_m / _STEP_M, 6)), math.floor(round(last_m / _STEP_M, 6)) + 1) * _STEP_M
    nodes_m = np.unique(np.round(np.concatenate([[first_m, last_m], steps_m, said.depths_m]), 6))
    mean_c, half_band_k = through_probes(known, nodes_m)
    off_k = np.array(said.values) - np.interp(said.depths_m, nodes_m, mean_c)
    # what a probe says now and what the filter has smoothed of it differ by hundredths; the curve goes through what is shown
    mean_c += np.interp(nodes_m, said.depths_m, off_k) * _shared(nodes_m, np.array(said.depths_m))
    return Column(said, tuple(nodes_m.tolist()), tuple(mean_c.tolist()), tuple(half_band_k.tolist()), late_m)


def through_probes(known: Temperatures, depths_m: Array) -> tuple[Array, Array]:
    """Temperature [°C] and half its 80 % band [K] at depths, by the filter's curve bent to go through the probes.

    Args:
        known: what the filter knows of a moment [Temperatures].
        depths_m: d depths below the soil surface, 0 to 1.5 [m].

    Raises:
        ValueError: a depth outside the column, or NaN.

    Source: as `column_of`.
    """
    which = known.fresh if known.fresh.any() else np.ones(known.fresh.shape, dtype=bool)
    order = np.argsort(known.ground.depths_m[which], kind="stable")
    probes_m, rows = known.ground.depths_m[which][order], known.ground.hears[which][order]
    mean_c, half_band_k = known.over(depths_m)
    own_k = known.weights @ (known.state @ (rows - known.ground.rows(probes_m)).T)
    places_m, place = np.unique(probes_m, return_inverse=True)
    own_k = np.bincount(place, weights=own_k) / np.bincount(place)
    return mean_c + np.interp(depths_m, places_m, own_k) * _shared(depths_m, places_m), half_band_k


def _shared(depths_m: Array, probes_m: Array) -> Array:
    """How much of a probe's own error is taken to be the soil's, by the distance to the nearest [share]."""
    shared: Array = np.exp(-np.abs(depths_m[:, None] - probes_m).min(axis=1) / _SHARED_M)
    return shared
