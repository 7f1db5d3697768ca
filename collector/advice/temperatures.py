"""Temperatures of a bed at the cloves and by depth: measured where a probe sits, else by what follows the bed. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from collector.advice.follow import Followed, Track
from collector.advice.grids import on_grid, profile_now, read_over
from collector.model import Bed, Probe, Series
from collector.soil.arrays import Array
from collector.soil.estimate.column import REACH_M, Column, column_of, through_probes
from collector.soil.profile import Estimate, Profile, profile_of
from collector.units import Quantity

_HOUR_MS = 3_600_000

# How old a reading may be and still speak of now. At clove depth the daily wave takes six hours
# from its middle to its peak, so a three-hour-old temperature is still on the right part of it.
# Common practice, no source.
TEMPERATURE_PATIENCE_MS = 3 * _HOUR_MS
# A thermometer is read now while its reading is no older than this; then it is what the estimator has made of it since.
MEASURED_MS = _HOUR_MS
# A straight line between two readings is trusted over this much time.
TEMPERATURE_GAP_MS = 2 * _HOUR_MS

# A thermometer this near to the clove is in the clove's place: nobody buries closer than that.
AT_THE_CLOVE_M = 0.01
# Half the 80 % band at the cloves [K] up to which they count as known, and for how long after the probes around them fell
# silent they may. Common practice, no source.
CLOVE_BAND_K = 1.5
CLOVE_PATIENCE_MS = 12 * _HOUR_MS


def temperature_now(
    thermometers: Sequence[Probe], series: Mapping[str, Series], now_ms: int, followed: Followed | None
) -> Profile | Column | None:
    """What the thermometers say that spoke lately, and between them what the estimator knows of a bed that is followed."""
    said = profile_now(thermometers, series, now_ms, TEMPERATURE_PATIENCE_MS)
    if said is None or followed is None:
        return said
    read = profile_now(thermometers, series, now_ms, MEASURED_MS)
    late = [depth_m for depth_m in said.depths_m if read is None or not (at := read.at(depth_m)) or not at.measured]
    carried_c = through_probes(followed.now, np.array(late))[0].tolist() if late else []
    points = [*(zip(read.depths_m, read.values, strict=True) if read else ()), *zip(late, carried_c, strict=True)]
    told = profile_of(points)
    assert told is not None
    return column_of(followed.now, told, tuple(late))


def at_the_clove(depth_m: float, clove_m: float) -> bool:
    """Whether what lies at a depth is in the place of a clove [m]."""
    # The margin keeps "1 cm" true of depths that binary fractions hold only nearly.
    return abs(depth_m - clove_m) <= AT_THE_CLOVE_M + 1e-9


def at_clove(bed: Bed, temperature: Profile | Column | None) -> Estimate | None:
    """Temperature [°C] at the shallowest clove: of the thermometer there, else by those around it.

    None out of their reach, and where half the 80 % band is wider than `CLOVE_BAND_K`.
    """
    if temperature is None or bed.clove_depth_m is None:
        return None
    clove_m = bed.clove_depth_m
    nearest_m = min(temperature.depths_m, key=lambda depth_m: abs(depth_m - clove_m))
    there = at_the_clove(nearest_m, clove_m)
    estimate = temperature.at(nearest_m if there else clove_m)
    return None if estimate is None or (estimate.band or 0.0) > CLOVE_BAND_K else estimate


def reaches_clove(bed: Bed) -> bool:
    """True where the bed's thermometers, were all of them heard, would tell the temperature at the cloves."""
    depths_m = [probe.depth_m for probe in bed.probes_of(Quantity.SOIL_TEMPERATURE) if probe.depth_m is not None]
    return at_clove(bed, profile_of([(depth_m, 0.0) for depth_m in depths_m])) is not None


# ---------------------------------------------------------------- through time


def cloves_on(
    bed: Bed, series: Mapping[str, Series], grid_ms: NDArray[np.int64], track: Track | None = None
) -> NDArray[np.float64]:
    """Temperature at the cloves [°C] at each time of a grid [ms since 1970-01-01 UTC], NaN not known.

    A `track` has theirs as its last column; before it begins, they lie on straight lines between the probes.
    """
    drawn = _before_track(grid_ms, track)
    thermometers = bed.probes_of(Quantity.SOIL_TEMPERATURE)
    lines_c = read_over(thermometers, series, grid_ms[:drawn], TEMPERATURE_GAP_MS, lambda one: [_value(at_clove(bed, one))])
    cloves_c = lines_c[:, 0] if lines_c.shape[1] else np.full(drawn, np.nan)
    if track is None or drawn == grid_ms.size:
        return cloves_c
    return np.concatenate([cloves_c, _followed_cloves(bed, series, grid_ms[drawn:], track)])


def profiles_on(
    bed: Bed, series: Mapping[str, Series], grid_ms: NDArray[np.int64], depths_m: Array, track: Track | None = None
) -> Array:
    """Temperatures [°C] at each time of a grid [ms since 1970-01-01 UTC] by depth [m], n by d, NaN not known.

    A `track` has those of these depths as its first columns; before it begins, they lie on straight lines between the probes.
    """
    drawn, thermometers = _before_track(grid_ms, track), bed.probes_of(Quantity.SOIL_TEMPERATURE)
    cut_m = depths_m.tolist()
    lines_c = read_over(
        thermometers, series, grid_ms[:drawn], TEMPERATURE_GAP_MS, lambda one: [_value(one.at(depth_m)) for depth_m in cut_m]
    )
    if lines_c.shape[1] != depths_m.size:
        lines_c = np.full((drawn, depths_m.size), np.nan)
    if track is None or drawn == grid_ms.size:
        return lines_c
    followed_c = track.at(grid_ms[drawn:])[:, : depths_m.size]
    followed_c[~_within_reach(thermometers, series, grid_ms[drawn:], depths_m, TEMPERATURE_PATIENCE_MS)] = np.nan
    return np.concatenate([lines_c, followed_c])


def _before_track(grid_ms: NDArray[np.int64], track: Track | None) -> int:
    """How many times of a grid lie before the track."""
    return grid_ms.size if track is None or not track.time_ms.size else int(np.searchsorted(grid_ms, track.time_ms[0]))


def _followed_cloves(bed: Bed, series: Mapping[str, Series], grid_ms: NDArray[np.int64], track: Track) -> Array:
    """At the cloves [°C]: what a thermometer there says, else what its followed neighbours make known; NaN where too little."""
    clove_m = bed.clove_depth_m
    if clove_m is None:
        return np.full(grid_ms.size, np.nan)
    thermometers = bed.probes_of(Quantity.SOIL_TEMPERATURE)
    cloves_c = track.at(grid_ms, CLOVE_BAND_K)[:, -1]
    cloves_c[~_within_reach(thermometers, series, grid_ms, np.array([clove_m]), CLOVE_PATIENCE_MS)[:, 0]] = np.nan
    there = [
        (abs(probe.depth_m - clove_m), probe.id)
        for probe in thermometers
        if probe.depth_m is not None and at_the_clove(probe.depth_m, clove_m) and probe.id in series
    ]
    for _, probe_id in sorted(there, reverse=True):  # the nearest last: it has the last word
        said_c = on_grid(series[probe_id], grid_ms, TEMPERATURE_GAP_MS)
        cloves_c = np.where(np.isfinite(said_c), said_c, cloves_c)
    return cloves_c


def _within_reach(
    probes: Sequence[Probe], series: Mapping[str, Series], grid_ms: NDArray[np.int64], depths_m: Array, patience_ms: int
) -> NDArray[np.bool_]:
    """Which depths [m] at which times are told of, n by d: from just above the shallowest probe to just below the deepest.

    Probes count that had spoken within the patience [ms].
    """
    shallowest_m, deepest_m = np.full(grid_ms.size, np.inf), np.full(grid_ms.size, -np.inf)
    for probe in probes:
        times_ms = series[probe.id].trusted().time_ms if probe.id in series else np.array([], dtype=np.int64)
        if times_ms.size and probe.depth_m is not None:
            last = np.searchsorted(times_ms, grid_ms, side="right") - 1
            heard = (last >= 0) & (grid_ms - times_ms[last] <= patience_ms)
            shallowest_m[heard] = np.minimum(shallowest_m[heard], probe.depth_m)
            deepest_m[heard] = np.maximum(deepest_m[heard], probe.depth_m)
    reach_m = REACH_M + 1e-9
    within: NDArray[np.bool_] = (depths_m >= shallowest_m[:, None] - reach_m) & (depths_m <= deepest_m[:, None] + reach_m)
    return within


def _value(estimate: Estimate | None) -> float:
    return np.nan if estimate is None else estimate.value
