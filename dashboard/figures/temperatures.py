"""Temperatures at every depth against the cool limit."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from collector.query import BedHistory
from dashboard import theme
from dashboard.figures import chart
from dashboard.figures.chart import Figure, Finding, Part, Points, Reader

THIN_PX, CLOVES_PX = 1.7, 4.0
STRIP_PX = (-16, -4)  # the strip of temperature colours, left of the plot
LABEL_MARGIN_PX = 78
LABEL_HEIGHT_PX = 17
# A limit farther from the data than this would press the lines flat; the note then says where it is.
FAR_LIMIT_K = 6.0
PLATES = 500


def temperatures(history: BedHistory, reader: Reader) -> Figure:
    """The chart; where no temperature was heard in the span, a chart that says so."""
    shown = [(probe.depth_m, series.trusted()) for probe, series in history.temperatures]
    lines = [(depth_m, series) for depth_m, series in shown if np.isfinite(series.value).any()]
    known = np.concatenate([series.value for _, series in lines] + [history.cloves_c])
    known = known[np.isfinite(known)]
    if known.size == 0:
        return chart.empty(reader, "No temperature was heard in these days.")
    ink = reader.tokens.ink
    low_c, high_c = _range_c(known, history.bed.cool_limit_c)
    data: list[Part] = []
    labels: list[tuple[float, float, str]] = []
    clove_line = chart.thinned(history.grid_ms, history.cloves_c)
    for depth_m, series in lines:
        points = chart.thinned(series.time_ms, _shown(series.value, reader))
        name = theme.depth(depth_m, reader.units) if depth_m is not None else "depth unknown"
        data.append(chart.line(points, ink, THIN_PX * chart.pen_share(history), name))
        _add_label(labels, points, name)
    limit_c = history.bed.cool_limit_c
    if limit_c is not None:
        data.append(_over_limit(history, limit_c, reader))
    if clove_line[0]:
        points = (clove_line[0], [None if value is None else _number(value, reader) for value in clove_line[1]])
        data.append(chart.line(points, ink, CLOVES_PX * chart.pen_share(history), "cloves"))
        _add_label(labels, points, "<b>cloves</b>")
    data.append(_plates(history, reader, (low_c + high_c) / 2))
    limit_shown = limit_c is not None and low_c <= limit_c <= high_c
    shapes = [*chart.time_lines(history, reader), *_strip(low_c, high_c, limit_c, reader)]
    notes = [*chart.now_label(history), *_labels_at_ends(labels, history, _number(low_c, reader), _number(high_c, reader))]
    if limit_c is not None and high_c > limit_c:
        shapes.insert(0, _sun(max(limit_c, low_c), high_c, reader))
    if limit_c is not None and limit_shown:
        shapes += chart.cool_line(_number(limit_c, reader), reader)
        above = {"x": 0, "xref": "paper", "xanchor": "left", "y": _number(limit_c, reader), "yanchor": "bottom"}
        notes.append({"text": "<b>your limit</b>", "showarrow": False, **above})
    ticks = _ticks(_number(low_c, reader), _number(high_c, reader))
    axis = chart.value_axis(_number(low_c, reader), _number(high_c, reader), ticks, [f"{tick:g}" for tick in ticks])
    axis |= {"ticks": "outside", "ticklen": -STRIP_PX[0] + 2, "tickcolor": chart.INVISIBLE}  # past the strip
    return {
        "data": data,
        "layout": chart.layout(
            reader,
            margin={"l": 46, "r": LABEL_MARGIN_PX, "t": 26, "b": 44, "pad": 0},
            xaxis=chart.time_axis(history, reader),
            yaxis=axis,
            shapes=shapes,
            annotations=notes,
        ),
    }


def temperatures_finding(history: BedHistory, reader: Reader) -> Finding:
    """What the chart shows."""
    limit_c, cloves_c = history.bed.cool_limit_c, history.cloves_c
    depth_m = history.bed.clove_depth_m
    note = f"{theme.temperature_unit(reader.units)} in the soil."
    if depth_m is not None:
        note += f" Thick: the cloves, {theme.depth(depth_m, reader.units)} down."
    if limit_c is None:
        note += " No cool limit is set for this bed."
    else:
        note += f" Your limit, {theme.limit(limit_c, reader.units)}, is for the mean of 24 hours."
    if not np.isfinite(cloves_c).any():
        heading = "The temperature at the cloves is not known." if depth_m is not None else "No planting, so no clove depth yet."
        return Finding(heading, note)
    if limit_c is None:
        low, high = float(np.nanmin(cloves_c)), float(np.nanmax(cloves_c))
        return Finding(f"The cloves were between {_number(low, reader):.1f} and {theme.temperature(high, reader.units)}.", note)
    return Finding(_against_limit(history, limit_c, reader), note)


def _against_limit(history: BedHistory, limit_c: float, reader: Reader) -> str:
    limit = theme.limit(limit_c, reader.units)
    is_known = np.isfinite(history.cloves_c)
    over = is_known & (history.cloves_c > limit_c)
    as_far = "" if is_known.mean() > 0.95 else ", as far as is known"
    if not over.any():
        return f"The cloves stayed under {limit}{as_far}."
    if over[is_known].all():
        return f"The cloves stayed over {limit}{as_far}."
    days = sorted({theme.local_time(int(time), reader.timezone).date() for time in history.grid_ms[over]})
    if len(days) > 1:
        of_days = len({theme.local_time(int(time), reader.timezone).date() for time in history.grid_ms})
        return f"The cloves were over {limit} on {len(days)} of {of_days} days."
    return f"The cloves passed {limit} {reader.day(float(history.grid_ms[over][0]), history.now_ms)}."


def _number(value_c: float, reader: Reader) -> float:
    return theme.temperature_number(value_c, reader.units)


def _shown(value_c: NDArray[np.float64], reader: Reader) -> NDArray[np.float64]:
    """The whole series in the reader's unit."""
    return np.vectorize(theme.temperature_number, otypes=[float])(value_c, reader.units) if value_c.size else value_c


def _range_c(known_c: NDArray[np.float64], limit_c: float | None) -> tuple[float, float]:
    """Data plus half a degree, and the limit where it is not far off."""
    low_c, high_c = float(known_c.min()), float(known_c.max())
    if limit_c is not None and low_c - FAR_LIMIT_K <= limit_c <= high_c + FAR_LIMIT_K:
        low_c, high_c = min(low_c, limit_c), max(high_c, limit_c)
    return low_c - 0.5, high_c + 0.5


def _ticks(low: float, high: float) -> list[float]:
    """Whole degrees, five or six of them."""
    step = next(step for step in (1, 2, 5, 10, 20, 50, 100, 1000) if (high - low) / step <= 6)
    return [float(tick) for tick in range(int(np.ceil(low / step)) * step, int(np.floor(high)) + 1, step)]


def _sun(from_c: float, to_c: float, reader: Reader) -> Part:
    """The ground of what is over the limit."""
    box = {"type": "rect", "xref": "paper", "x0": 0, "x1": 1, "y0": _number(from_c, reader), "y1": _number(to_c, reader)}
    return {**box, "layer": "below", "line": {"width": 0}, "fillcolor": reader.tokens.sun_tint}


def _strip(low_c: float, high_c: float, limit_c: float | None, reader: Reader) -> list[Part]:
    """The temperature colours along the axis, in fine steps that keep the edge at the limit."""
    edges = set(np.linspace(low_c, high_c, 25)) | ({limit_c} if limit_c is not None and low_c < limit_c < high_c else set())
    rising = sorted(float(edge) for edge in edges)
    place = {"type": "rect", "xref": "paper", "xsizemode": "pixel", "xanchor": 0, "x0": STRIP_PX[0], "x1": STRIP_PX[1]}
    return [
        {
            **place,
            "y0": _number(low, reader),
            "y1": _number(high, reader),
            "line": {"width": 1, "color": colour},  # of its own colour, or the ground shows in the joints
            "fillcolor": colour,
        }
        for low, high in pairwise(rising)
        for colour in [theme.temperature_colour((low + high) / 2, limit_c)]
    ]


def _over_limit(history: BedHistory, limit_c: float, reader: Reader) -> Part:
    """Hatching between the clove line and the limit, where the cloves are over it."""
    shapes = []
    limit = _number(limit_c, reader)
    for stretch in chart.unbroken(history.grid_ms, history.cloves_c):
        time, value = history.grid_ms[stretch].astype(np.float64), _shown(history.cloves_c[stretch], reader)
        for first, last in _runs(value > limit):
            left = _crossing(time, value, first - 1, limit) if first > 0 else float(time[first])
            right = _crossing(time, value, last, limit) if last + 1 < time.size else float(time[last])
            inside = slice(first, last + 1)
            shapes.append(([left, *time[inside], right], [limit, *value[inside], limit]))
    return chart.area(shapes, "over your limit", **chart.hatch(reader))


def _runs(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last index of every run of True."""
    edges = np.diff(np.concatenate(([0], mask.astype(np.int8), [0])))
    return [
        (int(first), int(end) - 1) for first, end in zip(np.flatnonzero(edges == 1), np.flatnonzero(edges == -1), strict=True)
    ]


def _crossing(time: NDArray[np.float64], value: NDArray[np.float64], before: int, limit: float) -> float:
    """When the line between point `before` and the next meets the limit."""
    share = (limit - value[before]) / (value[before + 1] - value[before])
    return float(time[before] + share * (time[before + 1] - time[before]))


def _add_label(labels: list[tuple[float, float, str]], points: Points, name: str) -> None:
    x, y = points[0][-1], points[1][-1]
    if x is not None and y is not None:
        labels.append((x, y, name))


def _labels_at_ends(labels: Sequence[tuple[float, float, str]], history: BedHistory, low: float, high: float) -> list[Part]:
    """Each line's depth where the line ends, moved apart where two would touch."""
    apart = (high - low) * LABEL_HEIGHT_PX / (chart.HEIGHT_PX - 70)
    edge_ms = history.to_ms - 0.02 * (history.to_ms - history.from_ms)
    at_edge = sorted((label for label in labels if label[0] >= edge_ms), key=lambda label: label[1])
    heights = _moved_apart([height for _, height, _ in at_edge], apart)
    placed = [(float(history.to_ms), height, name) for height, (_, _, name) in zip(heights, at_edge, strict=True)]
    placed += [label for label in labels if label[0] < edge_ms]
    style = {"showarrow": False, "xanchor": "left", "yanchor": "middle", "xshift": 2}
    return [{"x": at, "y": height, "text": name, **style} for at, height, name in placed]


def _moved_apart(heights: Sequence[float], apart: float) -> list[float]:
    """Rising heights, each at least `apart` from the next, with the least shift of each crowd as a whole."""
    crowds: list[list[float]] = []
    for height in heights:
        crowds.append([height])
        while len(crowds) > 1 and _middle(crowds[-1]) - _middle(crowds[-2]) < apart * (len(crowds[-1]) + len(crowds[-2])) / 2:
            crowds[-2:] = [crowds[-2] + crowds[-1]]
    return [_middle(crowd) + (place - (len(crowd) - 1) / 2) * apart for crowd in crowds for place in range(len(crowd))]


def _middle(heights: Sequence[float]) -> float:
    return sum(heights) / len(heights)


def _plates(history: BedHistory, reader: Reader, height_c: float) -> Part:
    """What a tap shows: the moment, and every temperature then."""
    every = max(1, history.grid_ms.size // PLATES)
    texts = []
    for place in range(0, history.grid_ms.size, every):
        moment = int(history.grid_ms[place])
        rows = [f"<b>{reader.clock(moment)}</b>"]
        if np.isfinite(history.cloves_c[place]):
            rows.append(f"cloves {theme.temperature(float(history.cloves_c[place]), reader.units)}")
        for probe, series in history.temperatures:
            value_c = _near(series.time_ms, series.value, moment)
            if value_c is not None and probe.depth_m is not None:
                rows.append(f"{theme.depth(probe.depth_m, reader.units)} {theme.temperature(value_c, reader.units)}")
        texts.append("<br>".join(rows if len(rows) > 1 else [*rows, "not known"]))
    return chart.tap_plates(history.grid_ms[::every].tolist(), texts, _number(height_c, reader))


def _near(time_ms: NDArray[np.int64], value: NDArray[np.float64], moment_ms: int, patience_ms: int = 30 * 60_000) -> float | None:
    """The newest value at or before a moment, if it is not older than `patience_ms`."""
    place = int(np.searchsorted(time_ms, moment_ms, side="right")) - 1
    if place < 0 or moment_ms - int(time_ms[place]) > patience_ms or not np.isfinite(value[place]):
        return None
    return float(value[place])
