"""The cloves in the days ahead with one thing changed, beside how they would be without. Pure."""

from __future__ import annotations

import numpy as np

from collector.query import IfChanged, WhatIfView
from dashboard import theme
from dashboard.figures import chart
from dashboard.figures.chart import Figure, Reader, Span
from dashboard.figures.two_courses import dashed, room_c, round_values_c


def if_changed(view: WhatIfView, changed: IfChanged, reader: Reader) -> Figure:
    """The change as a full line, things as they are as a dashed one, against the bed's limit."""
    limits_c = [] if view.limit_c is None else [view.limit_c]
    low_c, high_c = room_c(np.concatenate([view.mean_c, changed.mean_c, limits_c]))
    span = Span(int(view.time_ms[0]), int(view.time_ms[-1]), 0)
    values = round_values_c(low_c, high_c)
    full, other = ((view.time_ms.tolist(), np.round(course, 2).tolist()) for course in (changed.mean_c, view.mean_c))
    texts = [
        f"<b>{reader.clock(at_ms)}</b><br>{changed.name}: {theme.temperature(with_c, reader.units)}"
        f"<br>as things are: {theme.temperature(without_c, reader.units)}"
        for at_ms, with_c, without_c in zip(view.time_ms.tolist(), changed.mean_c.tolist(), view.mean_c.tolist(), strict=True)
    ]
    return {
        "data": [
            *([] if view.limit_c is None else chart.cool_line(([span.from_ms, span.to_ms], [view.limit_c] * 2), reader)),
            {**chart.line(other, reader.tokens.ink, 2.0, "as things are"), "line": dashed(reader)},
            chart.line(full, reader.tokens.ink, 3.0, changed.name),
            chart.tap_plates(view.time_ms.tolist(), texts, high_c),
        ],
        "layout": chart.layout(
            reader,
            xaxis=chart.time_axis(span, reader),
            yaxis=chart.value_axis(low_c, high_c, values, [theme.limit(value, reader.units) for value in values]),
            shapes=chart.time_lines(span, reader),
        ),
    }
