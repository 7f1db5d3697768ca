"""The last days once more: the two forecasts that anybody can make, and that a better one has to beat."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from collector.soil.arrays import Array
from collector.soil.forecast.inputs import DAY_H
from collector.soil.forecast.lines import Lines


def recent(filled_c: Array, origins: Sequence[int], hours: int, drives: int, days: int) -> Lines:
    """Forecasts that the next days are the mean of the last ones [°C], at each hour of the day.

    Args:
        filled_c: temperature up to the last origin, n values without gaps [°C].
        origins: rows after which the forecasts begin, o of them [index].
        hours: how far they reach [h].
        drives: how many drives there are, which it does not heed [count].
        days: how many last days [d].

    Source: persistence, the usual yardstick of forecasts.
    """
    free_c = np.full((len(origins), hours), np.nan)
    for place, origin in enumerate(origins):
        whole = min(days, (origin + 1) // DAY_H)
        if whole == days:
            free_c[place] = np.resize(filled_c[origin + 1 - whole * DAY_H : origin + 1].reshape(whole, DAY_H).mean(axis=0), hours)
    return Lines(free_c, np.zeros((len(origins), drives, hours)))
