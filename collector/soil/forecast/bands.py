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
# So many past forecasts are worth as much as the guess made before there were any. Common practice, no source.
_FIRST_FEW = 2.0
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


def half_widths_k(errors_k: Array, origins: NDArray[np.int64], daily_change_k: float) -> Array:
    """Half the width of the 80 % band at each lead [K], h values that never fall with the lead.

    Args:
        errors_k: of past forecasts, o by h, NaN is not known [K].
        origins: rows of their origins, ascending, the last is now, o values [index].
        daily_change_k: root mean square change from one day to the next [K].

    Source: weighted empirical quantile of the absolute errors; widened for a short record, common practice, no source.
    """
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
        count = of_origin.sum() ** 2 / max(float((of_origin**2).sum()), 1e-12)
        own_k = _quantile(alike[told], weight[told], SHARE_INSIDE) if told.any() else 0.0
        # before there is a record: as wrong as one who says that tomorrow is like today
        guess_k = 1.28 * daily_change_k * min(1.0 + anchor / 72.0, 2.5) / 1.5
        doubt = (_FIRST_FEW / (count + _FIRST_FEW)) ** 2
        widths.append(np.sqrt((1.0 - doubt) * own_k**2 + doubt * guess_k**2))
    lead = np.arange(1, hours + 1)
    widths_k: Array = np.maximum.accumulate(np.maximum(np.interp(lead, anchors, widths), LEAST_HALF_BAND_K))
    return widths_k


def _quantile(values: Array, weights: Array, share: float) -> float:
    order = np.argsort(values)
    reached = np.cumsum(weights[order])
    return float(values[order][min(int(np.searchsorted(reached, min(share, 1.0) * reached[-1])), values.size - 1)])
