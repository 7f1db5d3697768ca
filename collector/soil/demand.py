"""What a bed is thought to drink, step by step, where the weather tells little: and the small arithmetic of steps and days."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from collector.soil.arrays import Array
from collector.soil.evapotranspiration import hargreaves_mm_d
from collector.soil.radiation import extraterrestrial_mj_m2_span, solar_hour_angle_rad

DAY_MS = 86_400_000
HOUR_MS = 3_600_000
# Share of a day's steps that must be known for its highest and lowest temperature to be.
DAY_KNOWN = 0.75
# A day of which no temperature is known counts as one between these [°C]: mild and sunny. Common practice, no source.
UNKNOWN_HIGHEST_C, UNKNOWN_LOWEST_C = 25.0, 14.0
# A gain below this wets leaves and straw only: FAO-56 leaves rain below 0.2 ETo out, about 1 mm (Allen et al. 1998, ch. 8).
GAIN_LEAST_MM = 1.0
# The usual demand of a step, where none is told: the mean of so many last days without rain, looked for so far back, since
# it is asked for dry days ahead [d]. Common practice, no source.
USUAL_D, USUAL_WITHIN_D = 7, 14
# The reference where nothing at all tells of it [mm/d]; a spring day in a warm climate. Common practice, no source.
UNTOLD_MM_D = 3.0


def reference_by_air_mm(time_ms: NDArray[np.int64], latitude_deg: float, longitude_deg: float, air_c: Array) -> Array:
    """Reference evapotranspiration of each step [mm], n values, by air temperature and the height of the sun.

    A step has the share of its day that the sun above the atmosphere has. Where the day around it is not known, a mild
    day stands in for it, so that with no temperature at all the height of the sun is left: enough for `dry_down.fit`,
    which learns the rest from the bed.

    Args:
        time_ms: ends of the steps, evenly spaced, at most a day apart, n of them [ms since 1970-01-01 UTC].
        latitude_deg: latitude, -90 to 90 [°].
        longitude_deg: longitude, east positive [°].
        air_c: mean air temperature of each step, n values, NaN is not known; steps of a day tell no extremes [°C].

    Raises:
        ValueError: times that do not ascend evenly, another number of temperatures, or a latitude beyond the poles.

    Source: Allen et al. 1998, FAO-56, eq. 28 and 52; the extremes over the 24 h around each step: common practice, no source.
    """
    step_ms = even_step_ms(time_ms)
    if air_c.shape != time_ms.shape or not -90.0 <= latitude_deg <= 90.0:
        raise ValueError(
            f"{air_c.size} temperatures for {time_ms.size} times at latitude {latitude_deg}; want as many, -90 to 90"
        )
    ra_mj_m2 = _extraterrestrial_mj_m2(time_ms, step_ms, latitude_deg, longitude_deg)
    steps_a_day = round(DAY_MS / step_ms)
    highest_c, lowest_c = np.full(time_ms.size, UNKNOWN_HIGHEST_C), np.full(time_ms.size, UNKNOWN_LOWEST_C)
    if steps_a_day > 1:
        around = np.lib.stride_tricks.sliding_window_view(np.pad(air_c, steps_a_day // 2, constant_values=np.nan), steps_a_day)
        around = around[: time_ms.size]
        told = np.isfinite(around).mean(axis=1) >= DAY_KNOWN
        highest_c[told], lowest_c[told] = np.nanmax(around[told], axis=1), np.nanmin(around[told], axis=1)
    return np.maximum(hargreaves_mm_d(ra_mj_m2, highest_c, lowest_c), 0.0)


def even_step_ms(time_ms: NDArray[np.int64]) -> int:
    """Length of the steps of a grid [ms].

    Args:
        time_ms: ends of the steps [ms since 1970-01-01 UTC].

    Raises:
        ValueError: fewer than two times, times that do not ascend evenly, or steps of which no whole number makes a day.

    Source: by definition.
    """
    steps_ms = np.diff(time_ms)
    if time_ms.ndim != 1 or time_ms.size < 2 or (steps_ms != steps_ms[0]).any() or steps_ms[0] <= 0 or DAY_MS % steps_ms[0]:
        raise ValueError(
            f"time_ms of {time_ms.size} times: want two or more, ascending, evenly spaced by a part of a day; "
            "put the readings on such a grid first, with NaN where there are none"
        )
    return int(steps_ms[0])


def amounts_mm(amount_mm: Array, time_ms: NDArray[np.int64], name: str) -> Array:
    """The amounts of the steps [mm], n values, where they are possible.

    Args:
        amount_mm: amounts, NaN is not known [mm].
        time_ms: ends of the steps, n of them [ms].
        name: what to call them in the error [words].

    Raises:
        ValueError: another number of them, or one that is negative or infinite.

    Source: by definition.
    """
    amounts: Array = np.asarray(amount_mm, dtype=np.float64)
    if amounts.shape != time_ms.shape:
        raise ValueError(f"{name} has shape {amounts.shape}; want {time_ms.shape}, one value for each step")
    if (amounts < 0.0).any() or np.isinf(amounts).any():
        raise ValueError(f"{name} holds {amounts[(amounts < 0.0) | np.isinf(amounts)][0]}; want 0 or more, NaN where not known")
    return amounts


def filled_by_day_mm(amounts_mm: Array, steps_a_day: int) -> Array:
    """Amounts with their gaps filled [mm], n values: by the mean of that step of the other days, UNTOLD_MM_D where none is known.

    Args:
        amounts_mm: amounts of the steps, n values, NaN is not known [mm].
        steps_a_day: how many steps a day has, 1 or more [count].

    Raises:
        ValueError: a day of no steps.

    Source: common practice, no source.
    """
    _check_steps(steps_a_day)
    if not np.isfinite(amounts_mm).any():
        return np.full(amounts_mm.size, UNTOLD_MM_D / steps_a_day)
    filled, overall_mm = amounts_mm.copy(), float(np.nanmean(amounts_mm))
    for k in range(steps_a_day):
        column = amounts_mm[k::steps_a_day]
        known = np.isfinite(column)
        filled[k::steps_a_day] = np.where(known, column, column[known].mean() if known.any() else overall_mm)
    return filled


def usual_day_mm(amounts_mm: Array, gains_mm: Array, steps_a_day: int) -> Array:
    """The mean of the last dry days at each of the coming steps of a day [mm]; of all the last days where none was dry.

    An amount that is NaN makes its step of the day NaN; a day with a gain that is NaN is not known to be dry.

    Args:
        amounts_mm: amounts of the steps up to now, n values, one or more [mm].
        gains_mm: rain and watering of the same steps, n values [mm].
        steps_a_day: how many steps a day has, 1 or more [count].

    Raises:
        ValueError: no step, another number of gains than of amounts, or a day of no steps.

    Source: common practice, no source.
    """
    _check_steps(steps_a_day)
    if not amounts_mm.size or gains_mm.shape != amounts_mm.shape:
        raise ValueError(f"{amounts_mm.size} amounts, {gains_mm.size} gains; want as many of both, one or more")
    days = min(USUAL_WITHIN_D, amounts_mm.size // steps_a_day)
    if days == 0:
        return np.full(steps_a_day, float(amounts_mm.mean()))
    newest = slice(amounts_mm.size - days * steps_a_day, None)
    dry = gains_mm[newest].reshape(days, steps_a_day).sum(axis=1) < GAIN_LEAST_MM
    rows = amounts_mm[newest].reshape(days, steps_a_day)
    usual: Array = (rows[dry] if dry.any() else rows)[-USUAL_D:].mean(axis=0)
    return usual


def daily_mm(amounts_mm: Array, steps_a_day: int) -> Array:
    """Amount in the day around each step [mm/d], n values. NaN makes the day around it NaN.

    Args:
        amounts_mm: amounts of the steps, n values [mm].
        steps_a_day: how many steps a day has, 1 or more [count].

    Raises:
        ValueError: a day of no steps.

    Source: by definition; at both ends, of the part of the day that there is.
    """
    _check_steps(steps_a_day)
    if steps_a_day == 1 or not amounts_mm.size:
        return amounts_mm
    window = np.ones(min(steps_a_day, amounts_mm.size))
    count = np.convolve(np.ones(amounts_mm.size), window, mode="same")
    around: Array = np.convolve(amounts_mm, window, mode="same") / count * steps_a_day
    return around


def _check_steps(steps_a_day: int) -> None:
    if steps_a_day < 1:
        raise ValueError(f"steps_a_day is {steps_a_day}; want 1 or more")


def _extraterrestrial_mj_m2(time_ms: NDArray[np.int64], step_ms: int, latitude_deg: float, longitude_deg: float) -> Array:
    """Radiation above the atmosphere in each step, summed over quarters of an hour: sunrise may fall into it."""
    parts = max(1, round(step_ms / (HOUR_MS // 4)))
    middles_ms = time_ms[:, None] - step_ms + (np.arange(parts) + 0.5) * (step_ms / parts)
    days = middles_ms / DAY_MS
    year_starts = middles_ms.astype("datetime64[ms]").astype("datetime64[Y]").astype("datetime64[D]").astype(np.float64)
    day_of_year = np.floor(days) - year_starts + 1.0
    hour_angle_rad = solar_hour_angle_rad((days % 1.0) * 24.0, longitude_deg, day_of_year)
    spans = extraterrestrial_mj_m2_span(latitude_deg, day_of_year, hour_angle_rad, step_ms / parts / HOUR_MS)
    total: Array = spans.sum(axis=1)
    return total
