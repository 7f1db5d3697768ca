"""Did the water get down: which depths answered a watering or rain, when, and whether to go on.

A wetting front is seen where a probe steps up by more than it scatters within two hours; a
small rise that takes longer is what drains from above. These rules are from memory and
common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from collector.soil.arrays import Array
from collector.soil.root_zone import probe_weights

HOUR_MS = 3_600_000
# A step is a rise of this much [m³/m³], or of so many scatters of the probe where it is noisier, within this time [ms].
# From memory, common practice, no source.
STEP_M3_M3 = 0.02
STEP_SCATTERS = 5.0
STEP_WITHIN_MS = 2 * HOUR_MS
# Less than a step and more than this share of it, however slowly, is a rise.
RISE_SHARE = 0.5
# What a probe said for so long before tells how it scatters and where it began [ms].
BEFORE_MS = 12 * HOUR_MS
# No step is seen across a longer silence [ms]: what was there before it may be gone. Common practice, no source.
FRONT_GAP_MS = 3 * HOUR_MS
# Stop when the probe at about two thirds of the root depth steps; one within the roots and below half their depth counts as
# that one. From memory, common practice, no source.
STOP_SHARE, STOP_LEAST_SHARE = 2.0 / 3.0, 0.5


class Flow(StrEnum):
    """What to do with the hose."""

    GO_ON = "go on"
    STOP = "stop"  # the front is where it carries on down to the end of the roots by itself
    TOO_MUCH = "too much"  # water goes past the roots
    NOT_KNOWN = "not known"  # no probe sits where it would tell


@dataclass(frozen=True, slots=True)
class Answer:
    """What one probe made of the water: `front_ms` when it stepped, None where it did not; `drained` for a late small rise.

    `before_m3_m3` is where it stood, NaN where it was silent; `rise_m3_m3` the most it rose by, 0 or more, NaN where silent.
    """

    depth_m: float
    before_m3_m3: float
    rise_m3_m3: float
    front_ms: int | None
    drained: bool


def answers(time_ms: NDArray[np.int64], depths_m: Sequence[float], moisture: Array, since_ms: int) -> tuple[Answer, ...]:
    """How each depth answered the water that began at a time [m³/m³ and ms], shallowest first.

    Args:
        time_ms: times of the readings, strictly ascending, n of them; some from before the water and some after
            [ms since 1970-01-01 UTC].
        depths_m: depths of the moisture probes, strictly ascending, above 0, k of them [m].
        moisture: volume ratio of water, n by k, NaN is not known [m³/m³].
        since_ms: when the water began [ms since 1970-01-01 UTC].

    Raises:
        ValueError: times or depths that do not ascend, a table of another shape, or no time before and after the beginning.

    Source: a step above a probe's own scatter within one to two hours; from memory, common practice, no source.
    """
    probe_weights(depths_m, 1.0)
    table = np.asarray(moisture, dtype=np.float64)
    if table.shape != (time_ms.size, len(depths_m)):
        raise ValueError(f"moisture has shape {table.shape}; want {(time_ms.size, len(depths_m))}, times by depths")
    if (np.diff(time_ms) <= 0).any():
        raise ValueError("time_ms does not ascend; want each time once, the oldest first")
    before = (time_ms > since_ms - BEFORE_MS) & (time_ms <= since_ms)
    after = time_ms > since_ms
    if not before.any() or not after.any():
        raise ValueError(f"since_ms is {since_ms}: want readings of the {BEFORE_MS // HOUR_MS} h before it and some after it")
    return tuple(_answer(float(depth_m), time_ms, table[:, k], before, after) for k, depth_m in enumerate(depths_m))


@dataclass(frozen=True, slots=True)
class Front:
    """A wetting front that passed a probe: when the rise began, at the latest, and when it was a step [ms]."""

    began_ms: int
    front_ms: int


def fronts(time_ms: NDArray[np.int64], values: Array) -> tuple[Front, ...]:
    """Every wetting front that passed one probe, whether or not anybody told of water [ms], the oldest first.

    A rise that goes on is one front, however long. One across a silence of more than three hours is none, nor is a single spike.

    Args:
        time_ms: times of the readings, strictly ascending, n of them [ms since 1970-01-01 UTC].
        values: volume ratio of water, n values, NaN is not known [m³/m³].

    Raises:
        ValueError: times that do not ascend, or values of another length.

    Source: a step above a probe's own scatter within two hours; from memory, common practice, no source.
    """
    if values.shape != time_ms.shape:
        raise ValueError(f"values has shape {values.shape}, time_ms {time_ms.shape}; want one value for each time")
    if (np.diff(time_ms) <= 0).any():
        raise ValueError("time_ms does not ascend; want each time once, the oldest first")
    known = np.isfinite(values)
    times, heard = time_ms[known], values[known]
    if times.size < 2:
        return ()
    step, heard = _step_m3_m3(heard), steadied(heard)
    since, trough = _troughs(times, heard)
    rises = (heard[1:] - trough >= step - 1e-9) & (np.diff(times) <= FRONT_GAP_MS)
    firsts = np.flatnonzero(rises & ~np.concatenate([[False], rises[:-1]]))
    return tuple(Front(_began_ms(times, heard, since, trough, k, step / 4), int(times[k + 1])) for k in firsts.tolist())


def steadied(values: Array) -> Array:
    """The readings of one probe without single spikes and drop-outs: each the median of itself and its neighbours [m³/m³].

    The newest has no later neighbour: it counts once the next confirms it, as far as it rises.

    Args:
        values: volume ratio of water, n readings one after another, none of them NaN [m³/m³].

    Raises:
        ValueError: a reading that is NaN.

    Source: running median of three, Tukey 1977, Exploratory Data Analysis, ch. 7; from memory.
    """
    if np.isnan(values).any():
        raise ValueError("values holds NaN; leave out what is not known, so that each reading has its neighbours beside it")
    if values.size < 2:
        return values.copy()
    middle = np.median(np.stack([values[:-2], values[1:-1], values[2:]]), axis=0)
    but_last = np.concatenate([values[:1], middle])
    return np.append(but_last, min(values[-1], but_last[-1]))


def reached_m(found: Sequence[Answer]) -> tuple[float, float | None]:
    """How far down the front came: the deepest depth that stepped, and the next one that did not [m].

    The first is 0 where no depth stepped, the second None where the deepest probe did. A depth
    that steps before one above it counts: water runs down cracks and along stakes. A silent probe tells
    neither; where all are silent, or there is none, the answer is 0 and None.

    Args:
        found: what the depths answered, shallowest first [m³/m³ and ms].

    Source: common practice, no source.
    """
    stepped = [k for k, one in enumerate(found) if one.front_ms is not None]
    deepest = stepped[-1] if stepped else -1
    below = [one.depth_m for one in found[deepest + 1 :] if np.isfinite(one.rise_m3_m3)]
    return (found[deepest].depth_m if stepped else 0.0), (below[0] if below else None)


def flow(found: Sequence[Answer], root_depth_m: float, field_capacity_m3_m3: float) -> Flow:
    """Whether to go on watering, by what the depths answered so far [one of four words].

    A probe about two thirds down that stood at field capacity before the water came cannot
    step much: it says stop from the beginning.

    Args:
        found: what the depths answered so far, shallowest first [m³/m³ and ms].
        root_depth_m: depth of the root zone, above 0 [m].
        field_capacity_m3_m3: water that the soil holds against gravity; NaN is not known, and no probe counts as full [m³/m³].

    Raises:
        ValueError: a root depth of zero or less.

    Source: stop when the probe at two thirds of the root depth steps; from memory, common practice, no source.
    """
    if not root_depth_m > 0.0:
        raise ValueError(f"root_depth_m is {root_depth_m}; want more than 0")
    speaking = [one for one in found if np.isfinite(one.rise_m3_m3)]
    if any(one.front_ms is not None and one.depth_m > root_depth_m for one in speaking):
        return Flow.TOO_MUCH
    within = [one for one in speaking if STOP_LEAST_SHARE * root_depth_m <= one.depth_m <= root_depth_m]
    if not within:
        return Flow.NOT_KNOWN
    teller = min(within, key=lambda one: abs(one.depth_m - STOP_SHARE * root_depth_m))
    full = teller.before_m3_m3 >= field_capacity_m3_m3
    return Flow.STOP if full or teller.front_ms is not None else Flow.GO_ON


def _answer(
    depth_m: float, time_ms: NDArray[np.int64], values: Array, before: NDArray[np.bool_], after: NDArray[np.bool_]
) -> Answer:
    known = np.isfinite(values)
    steady = np.full(values.shape, np.nan)
    steady[known] = steadied(values[known])
    past, times, later = steady[before & known], time_ms[after & known], steady[after & known]
    if not past.size or not later.size:
        return Answer(depth_m, np.nan, np.nan, None, drained=False)
    start = float(np.median(past[-min(past.size, 5) :]))
    step = _step_m3_m3(values[before & known])
    all_ms, all_values = np.concatenate([time_ms[before & known][-1:], times]), np.concatenate([[start], later])
    _, trough = _troughs(all_ms, all_values)
    stepped = np.flatnonzero(later - trough >= step - 1e-9)  # a step over a gap in the readings is a step too
    front_ms = int(times[stepped[0]]) if stepped.size else None
    rise = max(0.0, float(later.max()) - start)
    return Answer(depth_m, start, rise, front_ms, drained=front_ms is None and rise >= RISE_SHARE * step)


def _step_m3_m3(values: Array) -> float:
    """What counts as a step of a probe: more than it scatters, by the median of its changes; a digit that flips is no scatter."""
    changes = np.abs(np.diff(values))
    scatter = float(np.median(changes)) / 0.6745 / np.sqrt(2.0) if changes.size else 0.0
    return max(STEP_M3_M3, STEP_SCATTERS * scatter)


def _troughs(times: NDArray[np.int64], values: Array) -> tuple[NDArray[np.int64], Array]:
    """For each reading but the first: where the two hours before it begin, and its lowest there; at least the reading before."""
    here = np.arange(1, times.size, dtype=np.int64)
    since = np.minimum(np.searchsorted(times, times[1:] - STEP_WITHIN_MS), here - 1)
    # reduceat answers for each pair from, to; what lies from each `to` on to the next `from` is left out
    lowest: Array = np.minimum.reduceat(values, np.stack([since, here], axis=1).ravel())[::2] if here.size else values[:0]
    return since, lowest


def _began_ms(
    times: NDArray[np.int64], values: Array, since: NDArray[np.int64], trough: Array, window: int, near_m3_m3: float
) -> int:
    """When the rise that ends a window of two hours began: at the last reading near its lowest, or earlier if it rose before."""
    while True:
        first = int(since[window])
        low = first + int(np.flatnonzero(values[first : window + 1] <= trough[window] + near_m3_m3)[-1])
        if low == 0 or trough[low - 1] > trough[window] - near_m3_m3:
            return int(times[low])
        window = low - 1
