"""Temperatures at every depth against the cool limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from collector.journal import Deed
from collector.model import Series
from collector.query import BedHistory, Swing
from dashboard import theme
from dashboard.figures import ahead, chart
from dashboard.figures.chart import Figure, Part, Points, Reader, Span
from dashboard.figures.clove_course import CloveCourse
from dashboard.figures.daily import in_days

THIN_PX, CLOVES_PX = 1.7, 4.0
STRIP_PX = (-16, -4)  # the strip of temperature colours, left of the plot
LABEL_MARGIN_PX = 78
LABEL_HEIGHT_PX = 17
# What the grower did that the temperatures show: a sign, and a word for it.
SIGNS = {Deed.CLOTH_LAID: ("▾", "cloth laid"), Deed.CLOTH_OFF: ("▴", "cloth off"), Deed.FED: ("◆", "fed")}
DEEDS = {deed: f"{sign} {word}" for deed, (sign, word) in SIGNS.items()}
# A limit farther from the data than this would press the lines flat; the note then says where it is.
FAR_LIMIT_K = 6.0
PLATE_PATIENCE_MS = 30 * 60_000
_BESIDE = {"showarrow": False, "xanchor": "left", "yanchor": "middle", "xshift": 2}  # of a label at the end of a line


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
    to_come = CloveCourse.of(history)
    lines = _lines(history, reader, outer_only=to_come is not None)
    if not lines:
        return chart.empty(reader, "No temperature was heard in these days.")
    span = ahead.span_of(history, None if to_come is None else to_come.part)
    low_c, high_c = _range_c(history, to_come)
    low, high = _number(low_c, reader), _number(high_c, reader)
    ticks = _ticks(low, high)
    past_the_strip = {"ticks": "outside", "ticklen": 2 - STRIP_PX[0], "tickcolor": chart.INVISIBLE}
    ink, share = reader.tokens.ink, chart.pen_share(span)
    limit_c = history.bed.cool_limit_c
    return {
        "data": [
            *_limit_lines(history, to_come, span, reader, low_c, high_c),
            *([] if to_come is None else _to_come(to_come, reader, share)),
            *(_swing(swing, reader) for swing in history.swings),
            *(chart.line(line.points, ink, line.width_px * share, line.name) for line in lines),
            _plates(history, to_come, reader, (low + high) / 2),
        ],
        "layout": chart.layout(
            reader,
            margin={"l": 46, "r": LABEL_MARGIN_PX, "t": 26, "b": 44, "pad": 0},
            xaxis=chart.time_axis(span, reader),
            yaxis=chart.value_axis(low, high, ticks, [f"{tick:g}" for tick in ticks]) | past_the_strip,
            shapes=[
                *_sun(limit_c, low_c, high_c, reader),
                *chart.time_lines(span, reader),
                *_strip(low_c, high_c, limit_c, reader),
            ],
            annotations=[
                *chart.now_label(span),
                *_limit_label(limit_c, low_c, high_c, reader),
                *_labels(lines, to_come, span, reader, low, high),
                *_deeds(history, span, reader),
            ],
        ),
    }


def _deeds(history: BedHistory, span: Span, reader: Reader) -> list[Part]:
    """Along the foot of the chart when the cloth was laid and taken off, and when the bed was fed: words where there is room."""
    words = DEEDS if chart.pen_share(span) == 1 else {deed: sign for deed, (sign, _) in SIGNS.items()}
    foot = {"yref": "paper", "y": 0.0, "yanchor": "bottom", "xanchor": "center"}
    return [
        chart.plate(words[deed], reader, x=at_ms, **foot)
        for at_ms, deed in history.deeds
        if deed in words and span.from_ms <= at_ms <= span.to_ms
    ]


def _number(value_c: float, reader: Reader) -> float:
    return theme.temperature_number(value_c, reader.units)


def _numbers(value_c: NDArray[np.float64], reader: Reader) -> NDArray[np.float64]:
    """The whole series in the reader's unit."""
    return np.vectorize(theme.temperature_number, otypes=[float])(value_c, reader.units) if value_c.size else value_c


def _lines(history: BedHistory, reader: Reader, *, outer_only: bool) -> list[Line]:
    """What was heard at each depth, or where time runs on only at the shallowest and the deepest; the cloves on top of it."""
    lines = []
    for probe, heard in history.temperatures:
        series = heard.trusted()
        name = theme.depth(probe.depth_m, reader.units) if probe.depth_m is not None else "depth unknown"
        lines.append(Line(name, chart.thinned(series.time_ms, _numbers(series.value, reader)), THIN_PX, name))
    lines = [line for line in lines if line.points[0]]
    if outer_only and len(lines) > 2:
        lines = [lines[0], lines[-1]]
    cloves = chart.thinned(history.grid_ms, _numbers(history.cloves_c, reader))
    return [*lines, Line("cloves", cloves, CLOVES_PX, "<b>cloves</b>")] if cloves[0] else lines


def _to_come(to_come: CloveCourse, reader: Reader, share: float) -> list[Part]:
    """The cloves in the days ahead: the band, hollow with the cloth, dashed without."""
    low, high, cloves = (
        (to_come.time_ms, _numbers(values_c, reader)) for values_c in (to_come.low_c, to_come.high_c, to_come.cloves_c)
    )
    parts = [ahead.band(low, high, reader, "4 times in 5")]
    if to_come.with_cloth_c is not None:
        with_cloth = chart.thinned(to_come.time_ms, _numbers(to_come.with_cloth_c, reader))
        parts += ahead.hollow(with_cloth, reader, "with the cloth", share)
    return [*parts, ahead.dashed(chart.thinned(*cloves), reader.tokens.ink, CLOVES_PX * share, "cloves ahead")]


def _swing(swing: Swing, reader: Reader) -> Part:
    """How cold and how warm each day was where the means of days are drawn, at the shallowest thermometer."""
    low, high = ((swing.time_ms, _numbers(values_c, reader)) for values_c in (swing.least, swing.most))
    return ahead.band(low, high, reader, "least and greatest of each day")


def _range_c(history: BedHistory, to_come: CloveCourse | None) -> tuple[float, float]:
    """Data, past and to come, plus half a degree, and the limit where it is not far off."""
    values_c = np.concatenate(
        [
            history.cloves_c,
            *(series.trusted().value for _, series in history.temperatures),
            *(values_c for swing in history.swings for values_c in (swing.least, swing.most)),
            *(() if to_come is None else to_come.all_c),
        ]
    )
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


def _limit_lines(
    history: BedHistory, to_come: CloveCourse | None, span: Span, reader: Reader, low_c: float, high_c: float
) -> list[Part]:
    """The limit as the cool line, and hatching where the cloves are over it."""
    limit_c = history.bed.cool_limit_c
    if limit_c is None or not low_c <= limit_c <= high_c:
        return []
    limit = _number(limit_c, reader)
    courses = [(history.grid_ms, history.cloves_c)]
    if to_come is not None:
        courses.append((to_come.time_ms, to_come.cloves_c))
    return [_over_limit(courses, limit, reader), *chart.cool_line(([span.from_ms, span.to_ms], [limit, limit]), reader)]


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


def _over_limit(courses: Sequence[ahead.Course], limit: float, reader: Reader) -> Part:
    """Hatching between the clove lines [°C over time] and the limit in the reader's unit, where the cloves are over it."""
    shapes = []
    for time_ms, cloves_c in courses:
        for stretch in chart.unbroken(time_ms, cloves_c):
            time, value = time_ms[stretch].astype(np.float64), _numbers(cloves_c[stretch], reader)
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


def _labels(
    lines: Sequence[Line], to_come: CloveCourse | None, span: Span, reader: Reader, low: float, high: float
) -> list[Part]:
    """The names of the lines: at their ends, or where time runs on after these, on them."""
    return _labels_at_ends(lines, span, low, high) if to_come is None else _labels_ahead(lines, to_come, reader, low, high)


def _labels_at_ends(lines: Sequence[Line], span: Span, low: float, high: float) -> list[Part]:
    """Each line's depth where the line ends, moved apart where two would touch."""
    apart = _apart(LABEL_HEIGHT_PX, low, high)
    edge_ms = span.to_ms - 0.02 * (span.to_ms - span.from_ms)
    labels = [(x, y, line.label) for line in lines for x, y in [chart.last_point(line.points)]]
    at_edge = sorted((label for label in labels if label[0] >= edge_ms), key=lambda label: label[1])
    heights = _moved_apart([height for _, height, _ in at_edge], apart)
    placed = [(float(span.to_ms), height, name) for height, (_, _, name) in zip(heights, at_edge, strict=True)]
    earlier = sorted((label for label in labels if label[0] < edge_ms), key=lambda label: label[1])
    heights = _moved_apart([height for _, height, _ in earlier], apart)
    placed += [(at, height, name) for height, (at, _, name) in zip(heights, earlier, strict=True)]
    return [{"x": at, "y": height, "text": name, **_BESIDE} for at, height, name in placed]


def _labels_ahead(lines: Sequence[Line], to_come: CloveCourse, reader: Reader, low: float, high: float) -> list[Part]:
    """The cloves' names where their courses end, and each thermometer's depth on its line in the past."""
    ends = [("<b>cloves</b>", to_come.cloves_c)]
    if to_come.with_cloth_c is not None:
        ends.append((to_come.cloth_words.replace("the ", "the<br>"), to_come.with_cloth_c))
    labels = []
    for words, values_c in ends:
        known = np.flatnonzero(np.isfinite(values_c))
        if known.size:
            labels.append((_number(float(values_c[known[-1]]), reader), words))
    labels.sort()
    heights = _moved_apart([height for height, _ in labels], _apart(1.5 * LABEL_HEIGHT_PX, low, high))
    at_ends = [
        {"x": int(to_come.time_ms[-1]), "y": height, "text": words, "align": "left", **_BESIDE}
        for height, (_, words) in zip(heights, labels, strict=True)
    ]
    thermometers = [line for line in lines if line.name != "cloves"]
    return at_ends + [_label_on(line, at_top=line is thermometers[0]) for line in thermometers]


def _label_on(line: Line, *, at_top: bool) -> Part:
    """A name over the highest point of a line, or under its lowest."""
    known = [(y, x) for x, y in zip(*line.points, strict=True) if y is not None]
    begin, end = line.points[0][0], line.points[0][-1]
    assert begin is not None
    assert end is not None
    height, at = max(known) if at_top else min(known)
    assert at is not None
    share = (at - begin) / max(end - begin, 1)
    side = "left" if share < 0.2 else "right" if share > 0.8 else "center"
    place = {"x": at, "y": height, "xanchor": side, "yanchor": "bottom" if at_top else "top"}
    return {"text": line.label, "showarrow": False, **place}


def _apart(px: float, low: float, high: float) -> float:
    """So many pixels of the chart's height, as a difference of values."""
    return (high - low) * px / (chart.HEIGHT_PX - 70)


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


def _plates(history: BedHistory, to_come: CloveCourse | None, reader: Reader, height: float) -> Part:
    """What a tap shows: the moment, and every temperature then."""
    every = chart.plates_apart(history.grid_ms.size)
    heard = [(probe.depth_m, series.trusted()) for probe, series in history.temperatures if probe.depth_m is not None]
    times, texts = history.grid_ms[::every].tolist(), []
    for moment, cloves_c in zip(times, history.cloves_c[::every], strict=True):
        rows = [f"<b>{reader.clock(moment)}</b>"]
        if np.isfinite(cloves_c):
            rows.append(f"cloves {theme.temperature(float(cloves_c), reader.units)}")
        for depth_m, series in heard:
            value_c = _near(series, moment)
            if value_c is not None:
                rows.append(f"{theme.depth(depth_m, reader.units)} {theme.temperature(value_c, reader.units)}")
        texts.append("<br>".join(rows if len(rows) > 1 else [*rows, "not known"]))
    if to_come is not None:
        every = chart.plates_apart(to_come.part.time_ms.size)
        times += to_come.part.time_ms[::every].tolist()
        texts += to_come.in_words(reader)[::every]
    return chart.tap_plates(times, texts, height)


def _near(series: Series, moment_ms: int) -> float | None:
    """The newest value at or before a moment, if it is not too old to stand for it."""
    place = int(np.searchsorted(series.time_ms, moment_ms, side="right")) - 1
    if place < 0 or moment_ms - int(series.time_ms[place]) > PLATE_PATIENCE_MS or not np.isfinite(series.value[place]):
        return None
    return float(series.value[place])
