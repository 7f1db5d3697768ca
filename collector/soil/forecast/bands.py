"""How wide the 80 % band is: what the panel's own past forecasts were off by, at about the same lead."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from collector.soil.arrays import Array
from collector.soil.forecast.inputs import DAY_H

SHARE_INSIDE = 0.8
# Errors of forecasts as far ahead to within so many hours count together: a band has no use for the hour of the day.
_ALIKE_H = 12
_FIRST_LEADS_H = (2, 6)  # the first hours are surer than their day
# An error counts 1/e as much after so long. Common practice, no source.
_MEMORY_H = 20 * 24.0
# So many independent errors are worth as much as the guess made before there were any. Common practice, no source.
_FIRST_FEW = 2.0
# That guess, for a day ahead, as a share of the change from one day to the next; it grows as a random walk does. And how
# many errors one past forecast is worth: with the weather known, what is left comes and goes within hours; without it, all
# of a forecast is off by one spell of weather. Chosen so that the band of a young record holds on measured soils (see the
# tests).
_GUESS_BY_WEATHER, _GUESS_BY_CLOCK = 0.6, 1.5
_ERRORS_A_FORECAST_BY_WEATHER, _ERRORS_A_FORECAST_BY_CLOCK = 4.0, 1.0
# Half a step of a DS18B20 at its coarsest setting of 9 bit, 0.5 °C (Maxim DS18B20 data sheet, p. 4, Table 2, from memory).
LEAST_HALF_BAND_K = 0.25


def daily_change_k(temperature_c: Array) -> float:
    """Root mean square change from one day to the next [K], 2 where there is not yet a day to compare.

    Args:
        temperature_c: hourly, n values, NaN is missing [°C].

    Source: by definition; the 2 K are common practice, no source.
    """
    change_k = temperature_c[DAY_H:] - temperature_c[:-DAY_H] if temperature_c.size > DAY_H else np.empty(0)
    change_k = change_k[np.isfinite(change_k)]
    return float(np.sqrt((change_k**2).mean())) if change_k.size >= DAY_H else 2.0


def half_widths_k(errors_k: Array, origins: NDArray[np.int64], daily_change_k: float, *, by_weather: bool) -> Array:
    """Half the width of the 80 % band at each lead [K], h values that never fall with the lead.

    Args:
        errors_k: of past forecasts, o by h, NaN is not known [K].
        origins: rows of their origins, ascending, the last is now, o values [index].
        daily_change_k: root mean square change from one day to the next [K].
        by_weather: whether the forecasts knew the weather ahead [yes or no].

    Raises:
        ValueError: origins that do not ascend, another number of them than of forecasts, or a change that is below 0 or NaN.

    Source: weighted empirical quantile of the absolute errors, at the rank of split conformal prediction, (n + 1) 80 % of n,
    Vovk et al. 2005 (from memory); widened for a short record, common practice, no source.
    """
    if not origins.size or origins.shape != errors_k.shape[:1] or (np.diff(origins) <= 0).any() or not daily_change_k >= 0.0:
        raise ValueError(
            f"errors_k has shape {errors_k.shape}, origins {origins.tolist()}, daily_change_k is {daily_change_k}; "
            "want a row for each of one or more ascending origins, and a change of 0 or more"
        )
    hours = errors_k.shape[1]
    fresh = np.exp(-(origins[-1] - origins) / _MEMORY_H)
    anchors = np.unique(np.concatenate([_FIRST_LEADS_H, np.arange(_ALIKE_H, hours, _ALIKE_H), [hours]]))
    widths = []
    for anchor in anchors:
        reach = min(anchor, _ALIKE_H)
        alike = np.abs(errors_k[:, anchor - reach : anchor + reach])
        told = np.isfinite(alike)
        weight = np.where(told, fresh[:, None], 0.0)
        of_origin = weight.sum(axis=1)
        forecasts = of_origin.sum() ** 2 / max(float((of_origin**2).sum()), 1e-12)
        errors = forecasts * (_ERRORS_A_FORECAST_BY_WEATHER if by_weather else _ERRORS_A_FORECAST_BY_CLOCK)
        share = SHARE_INSIDE * (errors + 1.0) / max(errors, 1e-12)
        own_k = _quantile(alike[told], weight[told], share) if told.any() else 0.0
        first_day_k = 1.28 * daily_change_k * (_GUESS_BY_WEATHER if by_weather else _GUESS_BY_CLOCK)
        guess_k = first_day_k * np.sqrt(anchor / DAY_H)
        doubt = (_FIRST_FEW / (errors + _FIRST_FEW)) ** 2
        widths.append(np.sqrt((1.0 - doubt) * own_k**2 + doubt * guess_k**2))
    lead = np.arange(1, hours + 1)
    widths_k: Array = np.maximum.accumulate(np.maximum(np.interp(lead, anchors, widths), LEAST_HALF_BAND_K))
    return widths_k


def _quantile(values: Array, weights: Array, share: float) -> float:
    order = np.argsort(values)
    reached = np.cumsum(weights[order])
    return float(values[order][min(int(np.searchsorted(reached, min(share, 1.0) * reached[-1])), values.size - 1)])
