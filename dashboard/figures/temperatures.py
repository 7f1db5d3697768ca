"""Temperatures at every depth against the cool limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from collector.model import Series
from collector.query import BedHistory
from dashboard import theme
from dashboard.figures import chart
from dashboard.figures.chart import Figure, Finding, Part, Points, Reader
from dashboard.figures.daily import in_days, is_in_days

THIN_PX, CLOVES_PX = 1.7, 4.0
STRIP_PX = (-16, -4)  # the strip of temperature colours, left of the plot
LABEL_MARGIN_PX = 78
LABEL_HEIGHT_PX = 17
# A limit farther from the data than this would press the lines flat; the note then says where it is.
FAR_LIMIT_K = 6.0
PLATES = 500
PLATE_PATIENCE_MS = 30 * 60_000


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the chart, in the reader's unit, and the words at its end."""

    name: str
    points: Points
    width_px: float
    label: str


def temperatures(history: BedHistory, reader: Reader) -> Figure:
    """The chart; where no temperature was heard in the span, a chart that says so."""
    history = in_days(history)
    lines = _lines(history, reader)
    if not lines:
        return chart.empty(reader, "No temperature was heard in these days.")
    low_c, high_c = _range_c(history)
    low, high = _number(low_c, reader), _number(high_c, reader)
    ticks = _ticks(low, high)
    past_the_strip = {"ticks": "outside", "ticklen": 2 - STRIP_PX[0], "tickcolor": chart.INVISIBLE}
    ink, share = reader.tokens.ink, chart.pen_share(history)
    return {
        "data": [
            *_limit_lines(history, reader, low_c, high_c),
            *(chart.line(line.points, ink, line.width_px * share, line.name) for line in lines),
            _plates(history, reader, (low + high) / 2),
        ],
        "layout": chart.layout(
            reader,
            margin={"l": 46, "r": LABEL_MARGIN_PX, "t": 26, "b": 44, "pad": 0},
            xaxis=chart.time_axis(history, reader),
            yaxis=chart.value_axis(low, high, ticks, [f"{tick:g}" for tick in ticks]) | past_the_strip,
            shapes=[
                *_sun(history.bed.cool_limit_c, low_c, high_c, reader),
                *chart.time_lines(history, reader),
                *_strip(low_c, high_c, history.bed.cool_limit_c, reader),
            ],
            annotations=[
                *chart.now_label(history),
                *_limit_label(history.bed.cool_limit_c, low_c, high_c, reader),
                *_labels_at_ends(lines, history, low, high),
            ],
        ),
    }


def temperatures_finding(history: BedHistory, reader: Reader) -> Finding:
    """What the chart shows."""
    limit_c, cloves_c = history.bed.cool_limit_c, history.cloves_c
    depth_m = history.bed.clove_depth_m
    note = f"{theme.temperature_unit(reader.units)} in the soil{', means of 24 hours' if is_in_days(history) else ''}."
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


def _numbers(value_c: NDArray[np.float64], reader: Reader) -> NDArray[np.float64]:
    """The whole series in the reader's unit."""
    return np.vectorize(theme.temperature_number, otypes=[float])(value_c, reader.units) if value_c.size else value_c


def _lines(history: BedHistory, reader: Reader) -> list[Line]:
    """What was heard at each depth, and the cloves on top of it."""
    lines = []
    for probe, heard in history.temperatures:
        series = heard.trusted()
        name = theme.depth(probe.depth_m, reader.units) if probe.depth_m is not None else "depth unknown"
        lines.append(Line(name, chart.thinned(series.time_ms, _numbers(series.value, reader)), THIN_PX, name))
    cloves = chart.thinned(history.grid_ms, _numbers(history.cloves_c, reader))
    lines.append(Line("cloves", cloves, CLOVES_PX, "<b>cloves</b>"))
    return [line for line in lines if line.points[0]]


def _range_c(history: BedHistory) -> tuple[float, float]:
    """Data plus half a degree, and the limit where it is not far off."""
    values_c = np.concatenate([history.cloves_c, *(series.trusted().value for _, series in history.temperatures)])
    low_c, high_c = float(np.nanmin(values_c)), float(np.nanmax(values_c))
    limit_c = history.bed.cool_limit_c
    if limit_c is not None and low_c - FAR_LIMIT_K <= limit_c <= high_c + FAR_LIMIT_K:
        low_c, high_c = min(low_c, limit_c), max(high_c, limit_c)
    return low_c - 0.5, high_c + 0.5


def _ticks(low: float, high: float) -> list[float]:
    """Whole degrees, five or six of them."""
    step = next(step for step in (1, 2, 5, 10, 20, 50, 100, 1000) if (high - low) / step <= 6)
    return [float(tick) for tick in range(int(np.ceil(low / step)) * step, int(np.floor(high)) + 1, step)]


def _sun(limit_c: float | None, low_c: float, high_c: float, reader: Reader) -> list[Part]:
    """The ground of what is over the limit."""
    if limit_c is None or limit_c >= high_c:
        return []
    ends = {"y0": _number(max(limit_c, low_c), reader), "y1": _number(high_c, reader)}
    box = {"type": "rect", "xref": "paper", "x0": 0, "x1": 1, **ends}
    return [{**box, "layer": "below", "line": {"width": 0}, "fillcolor": reader.tokens.sun_tint}]


def _limit_lines(history: BedHistory, reader: Reader, low_c: float, high_c: float) -> list[Part]:
    """The limit as the cool line, and hatching where the cloves are over it."""
    limit_c = history.bed.cool_limit_c
    if limit_c is None or not low_c <= limit_c <= high_c:
        return []
    return [_over_limit(history, limit_c, reader), *chart.cool_line(_number(limit_c, reader), history, reader)]


def _limit_label(limit_c: float | None, low_c: float, high_c: float, reader: Reader) -> list[Part]:
    if limit_c is None or not low_c <= limit_c <= high_c:
        return []
    above = {"x": 0, "xref": "paper", "xanchor": "left", "y": _number(limit_c, reader), "yanchor": "bottom"}
    return [chart.plate("your limit", reader, **above) | {"bgcolor": reader.tokens.sun_tint, "borderpad": 1}]


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
        time, value = history.grid_ms[stretch].astype(np.float64), _numbers(history.cloves_c[stretch], reader)
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


def _labels_at_ends(lines: Sequence[Line], history: BedHistory, low: float, high: float) -> list[Part]:
    """Each line's depth where the line ends, moved apart where two would touch."""
    apart = (high - low) * LABEL_HEIGHT_PX / (chart.HEIGHT_PX - 70)
    edge_ms = history.to_ms - 0.02 * (history.to_ms - history.from_ms)
    labels = [(x, y, line.label) for line in lines for x, y in [chart.last_point(line.points)]]
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


def _plates(history: BedHistory, reader: Reader, height: float) -> Part:
    """What a tap shows: the moment, and every temperature then."""
    every = max(1, history.grid_ms.size // PLATES)
    heard = [(probe.depth_m, series.trusted()) for probe, series in history.temperatures if probe.depth_m is not None]
    texts = []
    for place in range(0, history.grid_ms.size, every):
        moment = int(history.grid_ms[place])
        rows = [f"<b>{reader.clock(moment)}</b>"]
        if np.isfinite(history.cloves_c[place]):
            rows.append(f"cloves {theme.temperature(float(history.cloves_c[place]), reader.units)}")
        for depth_m, series in heard:
            value_c = _near(series, moment)
            if value_c is not None:
                rows.append(f"{theme.depth(depth_m, reader.units)} {theme.temperature(value_c, reader.units)}")
        texts.append("<br>".join(rows if len(rows) > 1 else [*rows, "not known"]))
    return chart.tap_plates(history.grid_ms[::every].tolist(), texts, height)


def _near(series: Series, moment_ms: int) -> float | None:
    """The newest value at or before a moment, if it is not too old to stand for it."""
    place = int(np.searchsorted(series.time_ms, moment_ms, side="right")) - 1
    if place < 0 or moment_ms - int(series.time_ms[place]) > PLATE_PATIENCE_MS or not np.isfinite(series.value[place]):
        return None
    return float(series.value[place])
