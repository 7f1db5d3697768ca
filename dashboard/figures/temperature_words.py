"""What the chart of temperatures shows, in words: how the cloves stood to the limit, and how they would."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from collector.outlook import TemperatureAhead
from collector.query import BedHistory
from dashboard import theme
from dashboard.figures import ahead
from dashboard.figures.chart import Finding, Reader
from dashboard.figures.clove_course import cloth_words
from dashboard.figures.daily import DAY_MS, LEAST_SHARE_KNOWN, as_far_as_known, is_in_days

# What the limit is for, as the calls call it.
_DAYS_MEAN = "The day's mean at the cloves"


def temperatures_finding(history: BedHistory, reader: Reader) -> Finding:
    """What the chart shows."""
    limit_c, cloves_c = history.bed.cool_limit_c, history.cloves_c
    depth_m = history.bed.clove_depth_m
    to_come = ahead.temperature(history)
    if to_come is not None and not np.isfinite(to_come.cloves_c).any():
        to_come = None
    note = _note(history, to_come, reader)
    if not np.isfinite(cloves_c).any():
        heading = "The temperature at the cloves is not known." if depth_m is not None else "No planting, so no clove depth yet."
        return Finding(heading, note)
    if limit_c is None:
        low, high = theme.temperature_number(float(np.nanmin(cloves_c)), reader.units), float(np.nanmax(cloves_c))
        heading = f"The cloves were between {low:.1f} and {theme.temperature(high, reader.units)}"
        if to_come is not None:
            peak = theme.temperature(float(np.nanmax(to_come.cloves_c)), reader.units)
            heading += f", and would peak at {peak} {reader.day(_peak_ms(to_come), history.now_ms)}"
        return Finding(f"{heading}.", note)
    if to_come is not None and np.isfinite(to_come.mean_c).any():
        return Finding(_against_limit_ahead(history, to_come, limit_c, reader), note)
    return Finding(_against_limit(history, limit_c, reader), note)


def _note(history: BedHistory, to_come: TemperatureAhead | None, reader: Reader) -> str:
    depth_m, limit_c = history.bed.clove_depth_m, history.bed.cool_limit_c
    parts = [f"{theme.temperature_unit(reader.units)} in the soil{', means of 24 hours' if is_in_days(history) else ''}."]
    if history.swings and (top_m := history.swings[0].probe.depth_m) is not None:
        parts.append(f"The veil: least and greatest of each day {theme.depth(top_m, reader.units)} down.")
    if depth_m is not None:
        thick = f"Thick: the cloves, {theme.depth(depth_m, reader.units)} down"
        if to_come is not None:
            thick += "; dashed if nothing is done"
            thick += "" if to_come.with_cloth_c is None else f", hollow {cloth_words(to_come)}"
        parts.append(f"{thick}.")
    if to_come is not None:
        parts.append("The band holds 4 times in 5.")
    if limit_c is None:
        parts.append("No cool limit is set for this bed.")
    else:
        parts.append(f"Your limit, {theme.limit(limit_c, reader.units)}, is for the mean of 24 hours.")
    if history.deeds:
        parts.append("At the foot: ▾ cloth laid, ▴ taken off, ◆ fed.")
    if to_come is not None:
        parts.append(ahead.whose_weather(history))
    elif depth_m is not None and history.temperatures:
        parts.append(ahead.why_not(history))
    return " ".join(part for part in parts if part)


def _against_limit(history: BedHistory, limit_c: float, reader: Reader) -> str:
    """The past alone: hours by the line as it is drawn, days by the mean of 24 hours that the limit is for."""
    limit = theme.limit(limit_c, reader.units)
    is_known = np.isfinite(history.cloves_c)
    as_far = as_far_as_known(is_known)
    if not (is_known & (history.cloves_c > limit_c)).any():
        return f"The cloves stayed under {limit}{as_far}."
    time_ms, mean_c = means_of_a_day_c(history.grid_ms, history.cloves_c)
    known = np.isfinite(mean_c)
    if not known.any():
        return f"The cloves passed {limit} for some hours; no day is known well enough for its mean."
    over = known & (mean_c > limit_c)
    if not over.any():
        return f"The cloves passed {limit} for some hours, but not on the mean of a day{as_far}."
    if over[known].all():
        return f"{_DAYS_MEAN} stayed over {limit}{as_far}."
    days, of_days = (
        len({theme.local_time(int(time), reader.timezone).date() for time in time_ms[which]}) for which in (over, known)
    )
    if days > 1:
        return f"{_DAYS_MEAN} was over {limit} on {days} of {of_days} days{as_far}."
    return f"{_DAYS_MEAN} passed {limit} {reader.day(float(time_ms[over][0]), history.now_ms)}{as_far}."


def _against_limit_ahead(history: BedHistory, to_come: TemperatureAhead, limit_c: float, reader: Reader) -> str:
    """Past and days ahead, by the mean of 24 hours, as the rule goes."""
    known = np.isfinite(to_come.mean_c)
    time_ms, over = to_come.time_ms[known], to_come.mean_c[known] > limit_c
    limit, for_days = theme.limit(limit_c, reader.units), ahead.for_days(history, to_come)
    turn = np.flatnonzero(over != over[0])
    when = reader.day(float(time_ms[turn[0]]), history.now_ms) if turn.size else ""
    if over[0]:
        then = f" and would be under it again {when}" if turn.size else f", and would stay so {for_days}"
        said = f"{_over_since(history, limit_c, limit, reader)}{then}."
        return said + _cloth(history, to_come, limit_c, when, reader, cools=True)
    if turn.size:
        return f"{_DAYS_MEAN} would pass {limit} {when}." + _cloth(history, to_come, limit_c, when, reader, cools=False)
    if np.nanmax(to_come.cloves_c) > limit_c:
        return f"The cloves would pass {limit} for some hours, but not on the mean of a day."
    if not (history.cloves_c > limit_c).any():
        return f"The cloves stayed under {limit}, and would {for_days}."
    return f"The cloves would stay under {limit} {for_days}."


def _over_since(history: BedHistory, limit_c: float, limit: str, reader: Reader) -> str:
    time_ms, mean_c = means_of_a_day_c(history.grid_ms, history.cloves_c)
    under = np.flatnonzero(mean_c <= limit_c)
    if under.size == 0:
        return f"{_DAYS_MEAN} is over {limit}"
    since = float(time_ms[min(int(under[-1]) + 1, time_ms.size - 1)])
    since_day = reader.day(since, history.now_ms).removeprefix("on ")
    return f"{_DAYS_MEAN} has been over {limit} since {'this morning' if since_day == 'today' else since_day}"


def _cloth(history: BedHistory, to_come: TemperatureAhead, limit_c: float, when: str, reader: Reader, *, cools: bool) -> str:
    """What the grower's cloth would make of it; empty where it would change no day."""
    mean_c = to_come.with_cloth_mean_c
    if mean_c is None or not np.isfinite(mean_c).any():
        return ""
    known = np.isfinite(mean_c)
    over = mean_c[known] > limit_c
    with_cloth = cloth_words(to_come).replace("with", "With", 1)
    turn = np.flatnonzero(~over if cools else over)
    if turn.size == 0:
        return "" if cools else f" {with_cloth} it would not."
    day = reader.day(float(to_come.time_ms[known][turn[0]]), history.now_ms)
    if day == when:
        return ""
    return f" {with_cloth} {'it would be under it' if cools else 'only'} {day}."


def _peak_ms(to_come: TemperatureAhead) -> float:
    return float(to_come.time_ms[int(np.nanargmax(to_come.cloves_c))])


def means_of_a_day_c(time_ms: NDArray[np.int64], value_c: NDArray[np.float64]) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """The mean of 24 h up to each time of an even grid [°C], from the first full day on; NaN where too little is known."""
    step_ms = int(time_ms[1] - time_ms[0]) if time_ms.size > 1 else DAY_MS
    count = max(1, DAY_MS // step_ms)
    if time_ms.size < count:
        return time_ms[:0], value_c[:0]
    known = np.isfinite(value_c)
    window = np.ones(count)
    how_many = np.convolve(known, window, mode="valid")
    total = np.convolve(np.where(known, value_c, 0.0), window, mode="valid")
    mean_c = np.where(how_many >= LEAST_SHARE_KNOWN * count, total / np.maximum(how_many, 1.0), np.nan)
    return time_ms[count - 1 :], mean_c
