"""The panel: members that forecast the same thing, each weighted by how the whole fared with it of late."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from collector.soil.arrays import Array
from collector.soil.forecast.bands import daily_change_k, half_widths_k
from collector.soil.forecast.inputs import DAY_H
from collector.soil.forecast.lines import Lines, forecasts_c

# A past forecast counts by its first four days, each once it has passed, and 1/e as much after a fortnight. Common practice,
# no source.
_JUDGED_H = 96
_MEMORY_H = 15 * 24.0
# Errors that members do not share, as a share of their mean square, so that no member is thrown out by luck.
_DISTRUST = 0.1
# As much record as counts for nothing yet [days of forecasts], common practice, no source.
_LEAST_RECORD_D = 1.0
# So many days of record are worth as much as the first guess: the weather tells most of what the soil will do, the clock
# little of it. Common practice, no source.
_GUESS_BY_WEATHER_D, _GUESS_BY_CLOCK_D = 4.0, 30.0
_ROUNDS = 200


@dataclass(frozen=True, slots=True, eq=False)
class Panel:
    """The members become one: a forecast as a line in the drives, and its band.

    `free_c` (h) [°C], `response` (m by h) [K per unit of the drive], `half_band_k` (h) [K] of the 80 % band,
    `weights` (one for each member) [ratio].
    """

    free_c: Array
    response: Array
    half_band_k: Array
    weights: Array


def panel_of(
    members: Sequence[Lines],
    ahead: Array,
    outcome_c: Array,
    trust: Array,
    origins: Sequence[int],
    first_guess: Array,
    *,
    by_weather: bool,
) -> Panel:
    """The panel as of the last origin [°C, K].

    Args:
        members: forecasts from the same o origins over h hours with m drives [Lines].
        ahead: drives that came after each origin, o by m by h; those of the last do not matter [units of the drives].
        outcome_c: temperature as it was, n values up to the last origin, NaN is not known [°C].
        trust: hours whose drives are known, n values, 1 for known [ratio].
        origins: rows of the origins, ascending, the last n - 1 [index].
        first_guess: share of each member while there is no record, members values of sum 1 [ratio].
        by_weather: whether the drives are those of the weather, or the clock's alone [yes or no].

    Raises:
        ValueError: no member, a first guess for another number of them, drives or lengths that do not fit, or origins that
            do not ascend to the last hour.

    Source: stacking on past forecasts; Bates & Granger 1969, The combination of forecasts (from memory).
    """
    if not members or first_guess.shape != (len(members),):
        raise ValueError(f"{len(members)} members and a first guess of shape {first_guess.shape}; want one share for each")
    if trust.shape != outcome_c.shape or not len(origins) == ahead.shape[0] > 0 or origins[-1] != outcome_c.size - 1:
        raise ValueError(
            f"outcome_c has shape {outcome_c.shape}, trust {trust.shape}, origins {list(origins)}, ahead {ahead.shape}; want "
            "trust for each hour, and drives for each of one or more origins, the last of which is the last hour"
        )
    forecast_c = np.stack([forecasts_c(lines, ahead) for lines in members])
    hours = forecast_c.shape[2]
    padded = np.full(outcome_c.size + hours, np.nan)
    padded[: outcome_c.size] = np.where(trust > 0.5, outcome_c, np.nan)
    came_c = np.stack([padded[origin + 1 : origin + 1 + hours] for origin in origins])
    guess_d = _GUESS_BY_WEATHER_D if by_weather else _GUESS_BY_CLOCK_D
    can_tell = np.stack([np.isfinite(lines.free_c).all(axis=1) for lines in members])
    weights = _with_first_guess(weights_of(forecast_c - came_c, can_tell, np.array(origins)), can_tell, first_guess, guess_d)
    combined_c = np.einsum("om,moh->oh", weights, np.where(weights.T[:, :, None] > 0, forecast_c, 0.0))
    combined_c[weights.sum(axis=1) == 0] = np.nan  # nobody could tell
    last = weights[-1]
    used = [(share, lines) for share, lines in zip(last, members, strict=True) if share > 0]
    return Panel(
        sum((share * lines.free_c[-1] for share, lines in used), np.zeros(hours)),
        sum((share * lines.response[-1] for share, lines in used), np.zeros(members[0].response.shape[1:])),
        half_widths_k(combined_c - came_c, np.array(origins), daily_change_k(outcome_c), by_weather=by_weather),
        last,
    )


def _with_first_guess(weights: Array, can_tell: NDArray[np.bool_], first_guess: Array, guess_d: float) -> Array:
    """Weights drawn toward the first guess, the more the shorter the record; each origin is a day later than the one before."""
    guess = np.where(can_tell.T, first_guess, 0.0)
    share = guess_d / (guess_d + np.arange(weights.shape[0]))[:, None] * guess.sum(axis=1, keepdims=True)
    drawn: Array = (1.0 - share) * weights + share * guess / np.maximum(guess.sum(axis=1, keepdims=True), 1e-12)
    return drawn


def weights_of(errors_k: Array, can_tell: NDArray[np.bool_], origins: NDArray[np.int64]) -> Array:
    """Weights of the members at each origin [ratio], o by members, from what was known of their errors by then.

    They are those that would have made the past errors of the panel least, none below zero, their sum 1. A member that
    cannot tell from an origin has none there.

    Args:
        errors_k: members by o by h, NaN where a forecast or its outcome is missing [K].
        can_tell: whether a member makes a forecast from an origin, members by o [yes or no].
        origins: rows of the origins, ascending, o values [index].

    Raises:
        ValueError: origins that do not ascend, or another number of them.

    Source: least squares on the simplex by exponentiated gradient, Kivinen & Warmuth 1997 (from memory).
    """
    members, count, hours = errors_k.shape
    if can_tell.shape != (members, count) or origins.shape != (count,) or (np.diff(origins) <= 0).any():
        raise ValueError(f"origins are {origins.tolist()}, can_tell has shape {can_tell.shape}; want {count} ascending, for each")
    days = min(_JUDGED_H, hours) // DAY_H
    by_day = errors_k[:, :, : days * DAY_H].reshape(members, count, days, DAY_H)
    told = np.isfinite(by_day)
    filled = np.where(told, by_day, 0.0).transpose(1, 2, 0, 3)
    valid = told.astype(np.float64).transpose(1, 2, 0, 3)
    passed_h = origins[:, None] - origins
    fresh = np.exp(-np.maximum(passed_h, 0) / _MEMORY_H)[:, :, None] * (passed_h[:, :, None] >= DAY_H * np.arange(1, days + 1))
    squares = np.einsum("npd,pdij->nij", fresh, filled @ filled.transpose(0, 1, 3, 2), optimize=True)
    shared = np.einsum("npd,pdij->nij", fresh, valid @ valid.transpose(0, 1, 3, 2), optimize=True)
    squares /= np.maximum(shared, 1e-9)
    record = np.einsum("nii->ni", shared) / DAY_H
    return _least_squares_on_simplex(squares, record, can_tell.T)


def _least_squares_on_simplex(squares: Array, record_d: Array, can_tell: NDArray[np.bool_]) -> Array:
    """Weights, o by members, that make w' squares w least, begun from what each member alone would earn.

    Without a record the members that can tell share alike.
    """
    usable = can_tell & (record_d >= _LEAST_RECORD_D)
    usable |= can_tell & ~usable.any(axis=1, keepdims=True)
    own = np.where(usable, np.einsum("omm->om", squares), np.nan)
    with np.errstate(invalid="ignore"):
        typical = np.where(usable.any(axis=1), np.nansum(own, axis=1) / np.maximum(usable.sum(axis=1), 1), 0.0) + 1e-6
    scaled = squares / typical[:, None, None] + _DISTRUST * np.eye(squares.shape[1])
    start = np.where(usable, 1.0 / (np.nan_to_num(own) / typical[:, None] + 0.01) ** 2, 0.0)
    weights: Array = start / np.maximum(start.sum(axis=1, keepdims=True), 1e-12)
    for _ in range(_ROUNDS):
        slope = (scaled @ weights[..., None])[..., 0]
        mean = (weights * slope).sum(axis=1, keepdims=True)
        weights = weights * np.exp(-np.clip((slope - mean) / np.maximum(mean, 1e-12), -5.0, 5.0))
        weights /= np.maximum(weights.sum(axis=1, keepdims=True), 1e-12)
    return weights
