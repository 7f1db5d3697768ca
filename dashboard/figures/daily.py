"""Long spans told in means of 24 hours: the daily wave would fill a phone's width with ink."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from collector.model import Series
from collector.query import LONGEST_IN_FULL_DAYS as LONGEST_IN_FULL_DAYS  # the other charts take it from here
from collector.query import BedHistory

DAY_MS = 86_400_000
LEAST_SHARE_OF_SPAN = 0.95  # of a span's values, for what is said of it without reserve
LEAST_SHARE_KNOWN = 0.75  # of a day's values, as for the 24 h mean that the rules go by


def is_in_days(history: BedHistory) -> bool:
    """True where the span is so long that `in_days` takes means."""
    return history.to_ms - history.from_ms > LONGEST_IN_FULL_DAYS * DAY_MS


def as_far_as_known(is_known: NDArray[np.bool_]) -> str:
    """The reservation of a finding over times of which some are not known; empty where nearly all are."""
    return "" if is_known.mean() > LEAST_SHARE_OF_SPAN else ", as far as is known"


def in_days(history: BedHistory) -> BedHistory:
    """The same history, a long one as means of 24 hours; a day known for less than three quarters is not known."""
    if not is_in_days(history):
        return history
    count = -(-(history.to_ms - history.from_ms) // DAY_MS)
    middles_ms = history.from_ms + DAY_MS * np.arange(count, dtype=np.int64) + DAY_MS // 2

    def means(time_ms: NDArray[np.int64], value: NDArray[np.float64]) -> NDArray[np.float64]:
        day = np.clip((time_ms - history.from_ms) // DAY_MS, 0, count - 1)
        known = np.isfinite(value)
        all_of_day = np.bincount(day, minlength=count)
        known_of_day = np.bincount(day[known], minlength=count)
        total = np.bincount(day[known], weights=value[known], minlength=count)
        is_enough = (known_of_day > 0) & (known_of_day >= LEAST_SHARE_KNOWN * all_of_day)
        return np.where(is_enough, total / np.maximum(known_of_day, 1), np.nan)

    def daily(series: Series) -> Series:
        return Series(series.probe_id, middles_ms, means(series.time_ms, series.value), np.zeros(count, dtype=np.int64))

    columns = [means(history.grid_ms, column) for column in history.profile_c.T]
    return replace(
        history,
        temperatures=tuple((probe, daily(series.trusted())) for probe, series in history.temperatures),
        moistures=tuple((probe, daily(series.trusted())) for probe, series in history.moistures),
        grid_ms=middles_ms,
        cloves_c=means(history.grid_ms, history.cloves_c),
        profile_c=np.array(columns).reshape(-1, count).T,
        depletion_mm=means(history.grid_ms, history.depletion_mm),
    )
