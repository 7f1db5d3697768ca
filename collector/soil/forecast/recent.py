"""The last days once more: the two forecasts that anybody can make, the second begun from how the soil is now."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from collector.soil.arrays import Array
from collector.soil.forecast.inputs import DAY_H
from collector.soil.forecast.lines import Lines

# How far the last hours are from those days at that hour, and how long the soil keeps that. Found on measured soils: with
# these, the mean of the last day and of the last week is at no lead behind the better naive forecast (see the tests).
_LAST_H = 3
_FADE_H = 400.0


def recent(filled_c: Array, origins: Sequence[int], hours: int, drives: int, days: int) -> Lines:
    """Forecasts that the next days are like the mean of the last ones [°C], at each hour of the day, but at today's level.

    Where there are fewer whole days, their mean counts.

    Args:
        filled_c: temperature up to the last origin, n values without gaps, NaN before the first that is known [°C].
        origins: rows after which the forecasts begin, o of them [index].
        hours: how far they reach [h].
        drives: how many drives there are, which it does not heed [count].
        days: how many last days, 1 or more [d].

    Raises:
        ValueError: no last day, or an origin outside the values.

    Source: persistence, the usual yardstick of forecasts; the level and how it fades are common practice, no source.
    """
    if days < 1 or not all(0 <= origin < filled_c.size for origin in origins):
        raise ValueError(f"days is {days}, origins are {list(origins)}; want 1 or more, and rows of the {filled_c.size} values")
    free_c = np.full((len(origins), hours), np.nan)
    first = int(np.isfinite(filled_c).argmax())
    fading = np.exp(-np.arange(1, hours + 1) / _FADE_H)
    for place, origin in enumerate(origins):
        whole = min(days, (origin + 1 - first) // DAY_H)
        if whole > 0:
            last_c = filled_c[origin + 1 - whole * DAY_H : origin + 1]
            day_c = last_c.reshape(whole, DAY_H).mean(axis=0)
            above_k = float((last_c[-_LAST_H:] - day_c[-_LAST_H:]).mean())
            free_c[place] = np.resize(day_c, hours) + above_k * fading
    return Lines(free_c, np.zeros((len(origins), drives, hours)))
