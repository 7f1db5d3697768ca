"""Two courses of the cloves, one over the other, against the limit that both have: two seasons, or a change and none. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from collector.query import Comparison, IfChanged, WhatIfView
from dashboard import theme
from dashboard.figures import chart
from dashboard.figures.chart import Figure, Reader, Span
from dashboard.theme import temperature_number as number

DAY_MS = 86_400_000
_FULL_PX, _DASHED_PX = 3.0, 2.0
_ROOM = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """A name, and its temperatures [°C], NaN where not known."""

    name: str
    value_c: NDArray[np.float64]


def two_seasons(found: Comparison, reader: Reader) -> Figure:
    """The first season as a full line, the second as a dashed one, over the days of the first."""
    if not (np.isfinite(found.first_c).any() or np.isfinite(found.second_c).any()):
        return chart.empty(reader, "No day of either is known at the cloves.")
    days = [theme.day_words(at_ms, reader.timezone) for at_ms in found.at_ms.tolist()]
    full, dashed = Course(found.first, found.first_c), Course(found.second, found.second_c)
    span = Span(int(found.at_ms[0]) - DAY_MS // 2, int(found.at_ms[-1]) + DAY_MS // 2, 0)
    return _figure(span, found.at_ms, full, dashed, found.limit_c, days, reader)


def if_changed(view: WhatIfView, changed: IfChanged, reader: Reader) -> Figure:
    """The change as a full line, things as they are as a dashed one, over the days ahead."""
    hours = [reader.clock(at_ms) for at_ms in view.time_ms.tolist()]
    full, dashed = Course(changed.name, changed.mean_c), Course("As things are", view.mean_c)
    span = Span(int(view.time_ms[0]), int(view.time_ms[-1]), 0)
    return _figure(span, view.time_ms, full, dashed, view.limit_c, hours, reader)


def _figure(
    span: Span,
    time_ms: NDArray[np.int64],
    full: Course,
    dashed: Course,
    limit_c: float | None,
    moments: Sequence[str],
    reader: Reader,
) -> Figure:
    units = reader.units
    values = np.concatenate([full.value_c, dashed.value_c, [] if limit_c is None else [limit_c]])
    ends = [number(float(end_c), units) for end_c in (np.nanmin(values), np.nanmax(values))]
    low, high = ends[0] - _ROOM, ends[1] + _ROOM
    lines = [] if limit_c is None else chart.cool_line(([span.from_ms, span.to_ms], [number(limit_c, units)] * 2), reader)
    for course, pen in ((dashed, {"width": _DASHED_PX, "dash": "6px,4px"}), (full, {"width": _FULL_PX})):
        shown = np.array([number(value_c, units) for value_c in course.value_c.tolist()])
        points = chart.thinned(time_ms, shown)
        lines.append(
            {**chart.line(points, reader.tokens.ink, _FULL_PX, course.name), "line": {"color": reader.tokens.ink, **pen}}
        )
    ticks = _round_values(low, high)
    return {
        "data": [*lines, chart.tap_plates(time_ms.tolist(), _told(full, dashed, moments, reader), high)],
        "layout": chart.layout(
            reader,
            margin={"l": 46, "r": 8, "t": 26, "b": 44, "pad": 0},
            xaxis=chart.time_axis(span, reader),
            yaxis=chart.value_axis(low, high, ticks, [f"{value:g} {theme.temperature_unit(units)}" for value in ticks]),
            shapes=chart.time_lines(span, reader),
            annotations=_limit_label(limit_c, reader),
        ),
    }


def _limit_label(limit_c: float | None, reader: Reader) -> list[dict[str, Any]]:
    if limit_c is None:
        return []
    above = {"x": 0, "xref": "paper", "xanchor": "left", "y": number(limit_c, reader.units), "yanchor": "bottom"}
    return [chart.plate("your limit", reader, **above)]


def _round_values(low: float, high: float) -> list[float]:
    """What the axis names between its ends: every 5 degrees, or closer where that would be one alone."""
    step = next((step for step in (5.0, 2.0, 1.0) if high // step - low // step >= 2), 1.0)
    return [float(value) for value in np.arange(np.ceil(low / step) * step, high, step)]


def _told(full: Course, dashed: Course, moments: Sequence[str], reader: Reader) -> list[str]:
    """What a tap shows at each moment."""
    texts = []
    for place, moment in enumerate(moments):
        rows = [f"<b>{moment}</b>"]
        for course in (full, dashed):
            value_c = float(course.value_c[place])
            rows.append(f"{course.name}: {theme.temperature(value_c, reader.units) if np.isfinite(value_c) else 'not known'}")
        texts.append("<br>".join(rows))
    return texts
