"""Which thermometer of a stake drifts, by how their means of days went together in the months before.

Two things are learned of a bed from a past that a drift of a month has not reached yet: where between its neighbours
each depth lies, and how the deepest follows the one above it late and flattened. What of the last days does not
fit either is held against every probe in turn: were it off by some kelvin, is this what would be seen? A drift is
told where one probe explains it well, and clearly better than any other.

With four probes such checks are three, and what they cannot see is a drift that all probes share.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from collector.soil.arrays import Array, within

# The past that is learned from ends so many days ago, is so long, and has at least so many days of which all is known.
GAP_DAYS, LEARNS_DAYS, _LEAST_DAYS = 32, 120, 25
# What of so many last days does not fit counts, if so many of them are known.
_LAST_DAYS, _LEAST_LAST_DAYS = 12, 6
# Ridge regression, towards what a straight line in depth and a filter of heat would have.
_RIDGE_K2 = 2.0
_LAGS_DAYS = (1, 5)
_FILTER_DAYS = (3.0, 8.0, 20.0, 50.0)
_FILTER_PRIOR = (-1.0, -1.0, -0.5, -0.2)
# A drift comes in over some weeks: how old it is by its mean, for what the filters have taken up of it.
_DRIFT_AGE_DAYS = 15.0
# Weather to come is not the weather learned from: how much larger than then the misfit may be, and what it is at least.
_WIDER_VARIANCE, _DEEPEST_TIMES, _LEAST_MISFIT_K = 1.2, 1.3, 0.05
# Before anything is seen a drift is as likely as not within this.
_USUAL_DRIFT_K = 1.0
# Told from: so large, so much likelier than none, and than that of any other probe (natural logarithm of
# the odds).
_LEAST_K, _LOG_ODDS, _LOG_ODDS_BEFORE_OTHERS = 0.5, 1.0, 0.2
# Near freezing, ice that forms and melts holds one depth and not another.
_FROST_C = 0.5


@dataclass(frozen=True, slots=True)
class _Check:
    """Something that the probes of a stake say in two ways: a target and features of each day, and the prior of its weights.

    `levels` turns learned weights into what a drift of 1 K of each probe would add to the misfit.
    """

    target_k: Array
    features_k: Array
    prior: Array
    levels: tuple[Array, Array]


def drifting(depth_m: Sequence[float], day_means_c: Array) -> NDArray[np.bool_]:
    """Days by probes on which a probe is told to drift, of each day at most one [true or false].

    Args:
        depth_m: of each of p thermometers, shallowest first [m].
        day_means_c: n days by p probes, the mean of each day, NaN where it is not known [°C].

    Raises:
        ValueError: a depth outside 0 to 2 m, depths that do not grow, or a table that does not fit them.

    Source: residuals of regressions held against each probe's signature, after Isermann 2006, Fault-Diagnosis Systems, ch. 10
    (from memory); lengths and thresholds were chosen on measured soils, no source.
    """
    depths_m = np.asarray(depth_m, dtype=np.float64)
    within("depth_m", depths_m, 0.0, 2.0, "m")
    if day_means_c.ndim != 2 or day_means_c.shape[1] != depths_m.size:
        raise ValueError(f"day_means_c has the shape {day_means_c.shape}; want days by {depths_m.size} probes")
    if np.any(np.diff(depths_m) < 0):
        raise ValueError("depth_m does not grow; want the shallowest thermometer first")
    found = np.zeros(day_means_c.shape, dtype=bool)
    if depths_m.size < 3 or np.any(np.diff(depths_m) == 0):
        return found
    thawed_c = np.where(np.any(np.nan_to_num(day_means_c, nan=99.0) <= _FROST_C, axis=1, keepdims=True), np.nan, day_means_c)
    checks = [*(_between(depths_m, thawed_c, place) for place in range(1, depths_m.size - 1)), _follows(thawed_c)]
    for day in range(GAP_DAYS + _LEAST_DAYS, day_means_c.shape[0]):
        probe = _told(checks, depths_m.size, day)
        if probe is not None:
            found[day, probe] = True
    return _with_the_day_before(found)


def _between(depths_m: Array, means_c: Array, place: int) -> _Check:
    """A depth lies between its neighbours, nearer to the nearer, and by their changes."""
    above, below = means_c[:, place - 1], means_c[:, place + 1]
    changes = [one - _before(one, days) for days in _LAGS_DAYS for one in (above, below)]
    share = (depths_m[place + 1] - depths_m[place]) / (depths_m[place + 1] - depths_m[place - 1])
    none, of_first = np.zeros(depths_m.size), np.zeros((1 + len(changes), depths_m.size))
    none[place], none[place + 1] = 1.0, -1.0
    of_first[0, place - 1], of_first[0, place + 1] = -1.0, 1.0
    prior = np.array([share, *([0.0] * len(changes))])
    return _Check(means_c[:, place] - below, np.column_stack([above - below, *changes]), prior, (none, of_first))


def _follows(means_c: Array) -> _Check:
    """The deepest follows the one above it, late and flattened."""
    above = means_c[:, -2]
    slower = [above, *(_filtered(above, days) for days in _FILTER_DAYS)]
    features = np.column_stack([fast - slow for fast, slow in pairwise(slower)])
    taken = [1.0, *(1.0 - np.exp(-_DRIFT_AGE_DAYS / days) for days in _FILTER_DAYS)]
    none, of_each = np.zeros(means_c.shape[1]), np.zeros((len(_FILTER_DAYS), means_c.shape[1]))
    none[-1], none[-2] = 1.0, -1.0
    of_each[:, -2] = [slow - fast for fast, slow in pairwise(taken)]
    return _Check(means_c[:, -1] - above, features, np.array(_FILTER_PRIOR), (none, of_each))


def _told(checks: Sequence[_Check], probes: int, day: int) -> int | None:
    """The probe that drifts on a day, by the days up to it; None where none is told."""
    past = slice(max(0, day - GAP_DAYS - LEARNS_DAYS), day - GAP_DAYS)
    last = slice(day + 1 - _LAST_DAYS, day + 1)
    known = np.all([np.isfinite(one.target_k[past]) & np.isfinite(one.features_k[past]).all(axis=1) for one in checks], axis=0)
    if known.sum() < _LEAST_DAYS:
        return None
    signature, misfit_k, past_k = np.empty((len(checks), probes)), np.empty(len(checks)), np.empty((len(checks), known.sum()))
    for place, one in enumerate(checks):
        weights, offset_k = _learned(one.features_k[past][known], one.target_k[past][known], one.prior)
        past_k[place] = one.target_k[past][known] - one.features_k[past][known] @ weights - offset_k
        now_k = one.target_k[last] - one.features_k[last] @ weights - offset_k
        if np.isfinite(now_k).sum() < _LEAST_LAST_DAYS:
            return None
        misfit_k[place] = np.nanmedian(now_k)
        signature[place] = one.levels[0] + weights @ one.levels[1]
    past_k[-1] *= _DEEPEST_TIMES
    usual_k2 = _WIDER_VARIANCE * past_k @ past_k.T / past_k.shape[1] + _LEAST_MISFIT_K**2 * np.eye(len(checks))
    size_k, log_odds = _explained(signature, misfit_k, np.linalg.inv(usual_k2))
    best = int(np.argmax(log_odds))
    others = np.delete(log_odds, best)
    clear = log_odds[best] > max(_LOG_ODDS, float(others.max()) + _LOG_ODDS_BEFORE_OTHERS)
    return best if clear and abs(size_k[best]) > _LEAST_K else None


def _learned(features_k: Array, target_k: Array, prior: Array) -> tuple[Array, float]:
    """Weights and offset by ridge regression towards a prior."""
    middle_k, middle_target_k = features_k.mean(axis=0), float(target_k.mean())
    around_k = features_k - middle_k
    left_k = target_k - middle_target_k - around_k @ prior
    weights: Array = prior + np.linalg.solve(around_k.T @ around_k + _RIDGE_K2 * np.eye(prior.size), around_k.T @ left_k)
    return weights, middle_target_k - float(middle_k @ weights)


def _explained(signature: Array, misfit_k: Array, precision_k2: Array) -> tuple[Array, Array]:
    """Of each probe the drift that explains the misfit best [K], and the logarithm of the odds that it is so rather than none.

    With a normal prior of the drift, both have a closed form.
    """
    weight = np.einsum("cp,cd,dp->p", signature, precision_k2, signature)
    pull = signature.T @ precision_k2 @ misfit_k
    narrow = weight + 1.0 / _USUAL_DRIFT_K**2
    return pull / narrow, 0.5 * pull**2 / narrow - 0.5 * np.log1p(_USUAL_DRIFT_K**2 * weight)


def _before(values: Array, days: int) -> Array:
    return np.concatenate([np.full(days, np.nan), values[:-days]]) if days < values.size else np.full(values.size, np.nan)


def _filtered(values: Array, days: float) -> Array:
    """A first-order filter; over days that are not known it stands still."""
    filtered = np.empty_like(values)
    level = np.nan
    for place, value in enumerate(values.tolist()):
        if np.isnan(level):
            level = value
        elif not np.isnan(value):
            level += (value - level) / days
        filtered[place] = level
    return filtered


def _with_the_day_before(found: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Only days before which it was told too: one odd day is weather."""
    both: NDArray[np.bool_] = found & np.vstack([np.zeros((1, found.shape[1]), dtype=bool), found[:-1]])
    return both
