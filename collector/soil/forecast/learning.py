"""Learning how much of each feature of a bank the soil shows, from the readings of the last days.

The readings are fitted by ridge regression that forgets, with errors that last: an error of the
fit fades with a time constant, and only what is new in it counts as information. What is left of
the error at the origin fades in the same way in the forecast. Where there is little to learn from yet,
the features count for what was expected of them.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from collector.soil.arrays import Array
from collector.soil.forecast.banks import Bank
from collector.soil.forecast.inputs import DAY_H
from collector.soil.forecast.lines import Lines

# Weight of a reading falls to 1/e over so many days, a member for each: a soil that dries or a canopy that grows is followed
# by the long memory, one that was mown or watered by the short one. Common practice, no source.
MEMORIES_D = (3.0, 12.0)
# How an error of the fit lasts [h], a member for each. Common practice, no source.
FADES_H = (6.0, 24.0, 200.0)
# Ridge as a share of the features' own mean square once the memory is full, more before; and the fewest readings that say
# anything, and the least [d] that their weights count for in that. Common practice, no source.
_STIFFNESS = 0.003
_LEAST_READINGS = 24
_LEAST_DAYS = 0.5
# The error at the origin is the mean of so many last readings.
_LAST_READINGS = 3


def learned(
    bank: Bank,
    target_c: Array,
    trust: Array,
    origins: Sequence[int],
    fade_h: float,
    memory_d: float,
    expected: Array,
) -> Lines:
    """Forecasts of the target [°C] that each origin's past has taught, those with too little past NaN.

    Only what lies at or before an origin goes into its forecast, but for the scale of the features.

    Args:
        bank: features of n hours, p of them [Bank].
        target_c: temperature to forecast, n values, NaN where there was no reading [°C].
        trust: weight of each hour, n values from 0 to 1 [ratio].
        origins: rows after which the forecasts of the bank begin, ascending [index].
        fade_h: time constant in which an error of the fit fades [h].
        memory_d: time constant in which a reading is forgotten [d].
        expected: how much of each feature the soil shows before anything is learned, p values [K per unit of the feature].

    Raises:
        ValueError: arrays of other lengths than the bank's, or origins that do not ascend or are not as many.

    Source: generalised least squares with first-order autoregressive errors and exponential forgetting; textbook statistics.
    """
    (n, p), rows = bank.features.shape, np.asarray(origins)
    if target_c.shape != (n,) or trust.shape != (n,) or expected.shape != (p,):
        raise ValueError(
            f"target_c has shape {target_c.shape}, trust {trust.shape}, expected {expected.shape}; want {n} hours, {p} features"
        )
    if not rows.size or rows.size != bank.free.shape[1] or (np.diff(rows) <= 0).any() or rows[0] < 0 or rows[-1] >= n:
        raise ValueError(f"origins are {rows.tolist()}; want {bank.free.shape[1]} rows of the {n} hours, ascending")
    hours, m = bank.free.shape[2], bank.response.shape[1]
    lines = Lines(np.full((len(origins), hours), np.nan), np.zeros((len(origins), m, hours)))
    at = np.flatnonzero(np.isfinite(target_c))
    if at.size < _LEAST_READINGS:
        return lines
    centre, scale = bank.features.mean(axis=0), bank.features.std(axis=0) + 1e-6
    scaled = np.column_stack([(bank.features - centre) / scale, np.ones(target_c.size)])[at]
    middle_c = float(target_c[at].mean())
    above_c = target_c[at] - middle_c
    gap_h = np.diff(at).astype(np.float64)
    lasts = np.exp(-gap_h / fade_h)
    new = scaled[1:] - lasts[:, None] * scaled[:-1]
    new_c = above_c[1:] - lasts * above_c[:-1]
    # the longer the gap, the more of the error is new; the weight of a gap of one hour is 1
    weight = trust[at[1:]] * (1.0 - np.exp(-2.0 / fade_h)) / (1.0 - lasts**2)
    squares, products, days = np.zeros((p + 1, p + 1)), np.zeros(p + 1), 0.0
    before_readings = np.append(expected * scale, 0.0)
    memory_h = DAY_H * memory_d
    first, before = 0, origins[0]
    fading = np.exp(-np.arange(1, hours + 1) / fade_h)
    for place, origin in enumerate(origins):
        end = max(int(np.searchsorted(at[1:], origin, side="right")), first)
        kept = np.exp(-(origin - before) / memory_h)
        recent = weight[first:end] * np.exp(-(origin - at[1:][first:end]) / memory_h)
        squares = kept * squares + (new[first:end] * recent[:, None]).T @ new[first:end]
        products = kept * products + new[first:end].T @ (recent * new_c[first:end])
        days = kept * days + float(recent.sum()) / DAY_H
        first, before = end, origin
        if end + 1 < _LEAST_READINGS:
            continue
        young = memory_d / np.clip(days, _LEAST_DAYS, memory_d)
        ridge = np.full(p + 1, young * _STIFFNESS * np.trace(squares[:p, :p]) / p + 1e-9)
        ridge[p] *= 1e-4  # the level itself is hardly held back
        found = np.linalg.solve(squares + np.diag(ridge), products + ridge * before_readings)
        shares = found[:p] / scale
        last = slice(max(0, end + 1 - _LAST_READINGS), end + 1)
        error_c = (above_c[last] - scaled[last] @ found).mean() * np.exp(-(origin - at[end]) / fade_h)
        level_c = middle_c + found[p] - shares @ centre
        lines.free_c[place] = level_c + np.tensordot(shares, bank.free[:, place], 1) + error_c * fading
        lines.response[place] = np.tensordot(shares, bank.response, 1)
    return lines
