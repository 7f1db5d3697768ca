"""Two seasons' daily means at the cloves, one over the other, against the limit that both have. Pure."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from collector.query import Comparison
from dashboard import theme
from dashboard.figures import chart
from dashboard.figures.chart import Figure, Reader, Span

DAY_MS = 86_400_000
_ROOM_K = 1.0
_FIRST_PX, _SECOND_PX = 3.0, 2.0


def two_courses(found: Comparison, reader: Reader) -> Figure:
    """The first as a full line, the second as a dashed one, each with its name at its end.

    The axis has the days of the first; where no day of either is known, the chart says so.
    """
    known_c = [course[np.isfinite(course)] for course in (found.first_c, found.second_c)]
    if not any(course.size for course in known_c):
        return chart.empty(reader, "No day of either is known at the cloves.")
    ends_c = np.concatenate([*known_c, [] if found.limit_c is None else [found.limit_c]])
    low_c, high_c = room_c(ends_c)
    span = Span(int(found.at_ms[0]) - DAY_MS // 2, int(found.at_ms[-1]) + DAY_MS // 2, 0)
    first, second = (chart.thinned(found.at_ms, course) for course in (found.first_c, found.second_c))
    lines = [
        *([] if found.limit_c is None else chart.cool_line(([span.from_ms, span.to_ms], [found.limit_c] * 2), reader)),
        {**chart.line(second, reader.tokens.ink, _SECOND_PX, found.second), "line": dashed(reader)},
        chart.line(first, reader.tokens.ink, _FIRST_PX, found.first),
    ]
    values = round_values_c(low_c, high_c)
    return {
        "data": [*lines, chart.tap_plates(found.at_ms.tolist(), _in_words(found, reader), high_c)],
        "layout": chart.layout(
            reader,
            xaxis=chart.time_axis(span, reader),
            yaxis=chart.value_axis(low_c, high_c, values, [theme.limit(value, reader.units) for value in values]),
            shapes=chart.time_lines(span, reader),
        ),
    }


def dashed(reader: Reader) -> dict[str, Any]:
    """The pen of the line that the other is compared with."""
    return {"color": reader.tokens.ink, "width": _SECOND_PX, "dash": "6px,4px"}


def room_c(values_c: NDArray[np.float64]) -> tuple[float, float]:
    """The ends of an axis with some room around these [°C]."""
    return float(values_c.min()) - _ROOM_K, float(values_c.max()) + _ROOM_K


def round_values_c(low_c: float, high_c: float) -> list[float]:
    """What the axis names between its ends [°C]: every 5 °C, or fewer where that would be one alone."""
    step = next((step for step in (5.0, 2.0, 1.0) if high_c // step - low_c // step >= 2), 1.0)
    return [float(value) for value in np.arange(np.ceil(low_c / step) * step, high_c, step)]


def _in_words(found: Comparison, reader: Reader) -> list[str]:
    """What a tap shows on each day."""
    told = []
    for at_ms, first_c, second_c in zip(found.at_ms.tolist(), found.first_c.tolist(), found.second_c.tolist(), strict=True):
        rows = [f"<b>{theme.day_words(at_ms, reader.timezone)}</b>"]
        for name, value_c in ((found.first, first_c), (found.second, second_c)):
            rows.append(f"{name}: {theme.temperature(value_c, reader.units) if np.isfinite(value_c) else 'not known'}")
        told.append("<br>".join(rows))
    return told
