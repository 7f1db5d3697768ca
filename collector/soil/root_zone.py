"""The root zone as one store of water, step by step, and what moisture probes say it lacks.

Depletion is signed in here: below 0 the root zone holds more than its field capacity, for as
long as that takes to drain. Outside, 0 is full. A step is anything from minutes to one day.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from collector.soil.arrays import Array
from collector.soil.water import GARLIC_P_TABLE, stress_coefficient, total_available_mm

# What is above field capacity drains away with this time constant [d], so that 95 % of it is gone after two days:
# field capacity is what is left when drainage has become slow, a day or two after soaking (Allen et al. 1998, FAO-56,
# p. 161; the days from memory).
DRAINAGE_D = 0.7
# No more than this stays above field capacity for long enough to be seen [m³/m³]; common practice, no source.
SURPLUS_M3_M3 = 0.08


@dataclass(frozen=True, slots=True)
class RootZone:
    """A soil as deep as its roots go: water contents [m³/m³], depth [m], and the tabled p [ratio].

    Raises ValueError for a soil that cannot be, as `total_available_mm`, or a p outside 0 to 1.
    """

    field_capacity_m3_m3: float
    wilting_point_m3_m3: float
    root_depth_m: float
    p_table: float = GARLIC_P_TABLE
    taw_mm: float = field(init=False)  # total available water [mm]

    def __post_init__(self) -> None:
        taw_mm = total_available_mm(self.field_capacity_m3_m3, self.wilting_point_m3_m3, self.root_depth_m)
        object.__setattr__(self, "taw_mm", taw_mm)
        if not 0.0 < self.p_table < 1.0:
            raise ValueError(f"p_table is {self.p_table}; want above 0, below 1")


def pass_step(zone: RootZone, depletion_mm: float, demand_mm: float, gain_mm: float, step_d: float, p: float) -> float:
    """Depletion at the end of a step [mm], below 0 where more is held than field capacity.

    Water comes first, then what is too much drains, then the crop drinks: all it asks for down
    to RAW, below that less and less.

    Args:
        zone: the root zone [m³/m³ and m].
        depletion_mm: depletion at the beginning [mm].
        demand_mm: crop evapotranspiration of the step without stress, 0 or more [mm].
        gain_mm: rain and watering that reach the soil in the step, 0 or more [mm].
        step_d: length of the step, up to one day [d].
        p: share of TAW that is taken without stress, below 1 [ratio].

    Raises:
        ValueError: a demand or gain below 0, a step of no length, or as `stress_coefficient`.

    Source: Allen et al. 1998, FAO-56, eq. 84-86, ch. 8; drainage over days in place of eq. 88 at once.
    """
    if demand_mm < 0.0 or gain_mm < 0.0 or not step_d > 0.0:
        raise ValueError(f"demand {demand_mm} mm, gain {gain_mm} mm, step {step_d} d: want 0 or more, and a step above 0")
    taw_mm = zone.taw_mm
    start_mm = max(depletion_mm - gain_mm, -1000.0 * SURPLUS_M3_M3 * zone.root_depth_m)
    if start_mm < 0.0:
        start_mm *= math.exp(-step_d / DRAINAGE_D)
    return min(start_mm + stress_coefficient(start_mm, taw_mm, p) * demand_mm, taw_mm)


def probe_weights(depths_m: Sequence[float], root_depth_m: float) -> Array:
    """Share of each probe in the mean water content of the root zone [ratio], one value for each depth, sum 1.

    Linear between the probes; above the shallowest and below the deepest their value holds.

    Args:
        depths_m: depths of the probes, strictly ascending, above 0 [m].
        root_depth_m: depth of the root zone [m].

    Raises:
        ValueError: no depth, one that is not a number above 0, or depths that do not ascend.

    Source: Allen et al. 1998, FAO-56, eq. 87, ch. 8, with the mean of theta taken over depth.
    """
    depths = np.asarray(depths_m, dtype=np.float64)
    if not depths.size or not np.isfinite(depths).all() or depths[0] <= 0.0 or (np.diff(depths) <= 0.0).any():
        raise ValueError(f"depths_m is {list(depths_m)}; want one depth or more, above 0 and ascending: one column for each")
    if not root_depth_m > 0.0:
        raise ValueError(f"root_depth_m is {root_depth_m}; want more than 0")
    corners = [0.0, *(depth for depth in depths.tolist() if depth < root_depth_m), root_depth_m]
    weights = np.zeros(depths.size)
    for upper_m, lower_m in pairwise(corners):
        for end_m in (upper_m, lower_m):
            seen = [float(np.interp(end_m, depths, unit)) for unit in np.eye(depths.size)]
            weights += (lower_m - upper_m) / 2.0 * np.array(seen)
    shares: Array = weights / root_depth_m
    return shares


def measured_depletion_mm(zone: RootZone, depths_m: Sequence[float], moisture: Array) -> Array:
    """What the probes say is missing from field capacity [mm], n values, below 0 where more is held; NaN where all are silent.

    A silent probe is taken to move as its nearest neighbour that speaks, so that its silence makes no step.

    Args:
        zone: the root zone [m³/m³ and m].
        depths_m: depths of the probes, strictly ascending, above 0, k of them [m].
        moisture: volume ratio of water, n times by k depths, NaN is not known [m³/m³].

    Raises:
        ValueError: depths as `probe_weights`, or a table of another shape.

    Source: Allen et al. 1998, FAO-56, eq. 87, ch. 8; the silent probe: common practice, no source.
    """
    weights = probe_weights(depths_m, zone.root_depth_m)
    table = np.asarray(moisture, dtype=np.float64)
    if table.ndim != 2 or table.shape[1] != weights.size:
        raise ValueError(f"moisture has shape {table.shape}; want times by {weights.size} depths, one column for each probe")
    heard = np.isfinite(table)
    spoken = heard.any(axis=0)  # a probe that never spoke is no probe
    if not spoken.any():
        return np.full(table.shape[0], np.nan)
    if not spoken.all():
        return measured_depletion_mm(zone, np.asarray(depths_m)[spoken].tolist(), table[:, spoken])
    held = _filled(table, heard, np.asarray(depths_m, dtype=np.float64)) @ weights
    return 1000.0 * zone.root_depth_m * (zone.field_capacity_m3_m3 - held)


def _filled(table: Array, heard: NDArray[np.bool_], depths_m: Array) -> Array:
    """The table with the silences of single probes bridged; rows of which nothing is known stay NaN."""
    full = table.copy()
    for k, depth_m in enumerate(depths_m):
        for row in np.flatnonzero(~heard[:, k] & heard.any(axis=1)):
            full[row, k] = _as_neighbour(table, heard, depths_m, int(row), k, float(depth_m))
    return full


def _as_neighbour(table: Array, heard: NDArray[np.bool_], depths_m: Array, row: int, k: int, depth_m: float) -> float:
    """Where a silent probe would be if it had moved as its nearest neighbour since both last spoke, or before both first did."""
    speaking = np.flatnonzero(heard[row])
    for other in speaking[np.argsort(np.abs(depths_m[speaking] - depth_m), kind="stable")]:
        both = np.flatnonzero(heard[:, k] & heard[:, other])
        if both.size:
            before = both[both < row]
            then = int(before[-1] if before.size else both[0])
            return float(table[then, k] + table[row, other] - table[then, other])
    # never heard together: the neighbour's own value is the best that is known
    return float(table[row, speaking[np.argmin(np.abs(depths_m[speaking] - depth_m))]])
