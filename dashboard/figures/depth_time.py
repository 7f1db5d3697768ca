"""The whole profile over time: depth downward, colour for temperature, and the cool line as tongues of heat.

Two pictures of one ground: what was, up to now, and what is to come. On a phone they join at
now; on a desk the cut stands between them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from collector.query import BedHistory
from dashboard import theme
from dashboard.figures import ahead, chart
from dashboard.figures.chart import Figure, Part, Reader, Span
from dashboard.figures.daily import in_days
from dashboard.figures.level_lines import level_lines

# What is painted; between these Plotly finds the temperature first and then its colour, so the edge at the limit stays sharp.
MOST_COLUMNS, EVERY_DEPTH = 240, 2
REACH_M = 0.05  # a thermometer tells of so much soil above and below it, as in the estimate of what was
ROOM_FOR_A_PLATE, PLATE_AT = 0.45, 0.5  # of the width; and of the way from the cloves to the floor


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """A profile through time: `profile_c` is n times by d depths [°C], NaN where not known."""

    time_ms: NDArray[np.int64]
    depths_m: NDArray[np.float64]
    profile_c: NDArray[np.float64]


def ground_before(history: BedHistory) -> Ground:
    """What was, a long span in means of 24 hours."""
    told = in_days(history)
    return Ground(told.grid_ms, told.grid_depths_m, told.profile_c)


def ground_ahead(history: BedHistory) -> Ground | None:
    """What is to come, on the depths of what was and run on from it; None where nothing is expected in the days shown."""
    part = ahead.temperature(history)
    if part is None or part.depths_m.size == 0:
        return None
    depths_m = history.grid_depths_m
    within = (depths_m > part.depths_m[0] - REACH_M - 1e-6) & (depths_m < part.depths_m[-1] + REACH_M + 1e-6)
    profile_c = np.full((part.time_ms.size, depths_m.size), np.nan)
    for place, known_c in enumerate(part.profile_c):
        profile_c[place, within] = np.interp(depths_m[within], part.depths_m, known_c)
    columns = [
        ahead.joined((part.time_ms, column_c), (history.grid_ms, known_c), history.now_ms)
        for column_c, known_c in zip(profile_c.T, history.profile_c.T, strict=True)
    ]
    time_ms = max((times for times, _ in columns), key=lambda times: times.size)
    return Ground(time_ms, depths_m, np.column_stack([_as_long(values, time_ms.size) for _, values in columns]))


def _as_long(values: NDArray[np.float64], size: int) -> NDArray[np.float64]:
    """A column that found nothing to join begins with NaN where the others begin with what is known."""
    return np.concatenate([np.full(size - values.size, np.nan), values])


# ---------------------------------------------------------------- the two pictures


def depth_time(history: BedHistory, reader: Reader) -> Figure:
    """What was; where no profile is known in the span, a chart that says so. What is not known stays unpainted."""
    ground = ground_before(history)
    if not np.isfinite(ground.profile_c).any():
        return chart.empty(reader, "The temperature of the soil is not known in these days.")
    figure = _picture(history, ground, ahead.span_of(history, None), reader)
    top_m, bottom_m = _ends_m(ground)
    figure["layout"]["annotations"] += _names(history, reader, top_m, bottom_m)
    return figure


def depth_time_ahead(history: BedHistory, reader: Reader) -> Figure | None:
    """What is to come; None where nothing is expected."""
    ground = ground_ahead(history)
    if ground is None or not np.isfinite(ground.profile_c).any():
        return None
    span = Span(history.now_ms, int(ground.time_ms[-1]), history.now_ms)
    figure = _picture(history, ground, span, reader, to_come=True)
    _mark_passing(history, ground, span, reader, figure)
    return figure


def _picture(history: BedHistory, ground: Ground, span: Span, reader: Reader, *, to_come: bool = False) -> Figure:
    top_m, bottom_m = _ends_m(ground)
    limit_c = history.bed.cool_limit_c
    data = [_field(ground, limit_c)]
    if limit_c is not None:
        data += [*_over_the_cloves(history, ground, limit_c, reader), *_cool_line(ground, limit_c, to_come=to_come)]
    data.append(_plates(history, ground, reader, (top_m + bottom_m) / 2, to_come=to_come))
    title = {"text": "<b>if nothing is done</b>", "showarrow": False, "borderpad": 1, "xshift": 6}
    place = {"xref": "paper", "x": 0, "xanchor": "left", "yref": "paper", "y": 1, "yanchor": "bottom"}
    return {
        "data": data,
        "layout": chart.layout(
            reader,
            margin={"l": 0, "r": 0, "t": 26, "b": 44, "pad": 0},
            xaxis=chart.time_axis(span, reader),
            yaxis={**chart.value_axis(bottom_m, top_m, [], []), "visible": False},
            shapes=[*_levels(history, top_m), *[mark | {"layer": "above"} for mark in chart.time_lines(span, reader)]],
            annotations=[{**title, **place}] if to_come else chart.now_label(span),
        ),
    }


def _ends_m(ground: Ground) -> tuple[float, float]:
    known_m = ground.depths_m[np.isfinite(ground.profile_c).any(axis=0)]
    return min(0.0, float(known_m[0])), float(known_m[-1])


def deepest_over_m(profile_c: NDArray[np.float64], depths_m: NDArray[np.float64], limit_c: float) -> NDArray[np.float64]:
    """The depth [m] down to which the soil is over the limit, at each time; NaN where none is, or nothing is known.

    Between two depths of the grid it lies where the straight line between their temperatures meets the limit.
    """
    answer = np.full(profile_c.shape[0], np.nan)
    for row, column in enumerate(profile_c):
        over = np.flatnonzero(column > limit_c)
        if over.size == 0:
            continue
        last = int(over[-1])
        answer[row] = depths_m[last]
        if last + 1 < column.size and np.isfinite(column[last + 1]):
            share = (column[last] - limit_c) / (column[last] - column[last + 1])
            answer[row] += share * (depths_m[last + 1] - depths_m[last])
    return answer


# ---------------------------------------------------------------- what they are made of


def _field(ground: Ground, limit_c: float | None) -> Part:
    """The colours. In whole tenths of a degree, which travel lighter than numbers with a point."""
    every = max(1, -(-ground.time_ms.size // MOST_COLUMNS))
    first = ground.time_ms.size % every  # so that the newest is among those shown
    time_ms = ground.time_ms[first:].reshape(-1, every)
    means_c = ground.profile_c[first:].reshape(-1, every, ground.depths_m.size).mean(axis=1)  # nothing where one is not known
    low_c, high_c = theme.scale_range_c(limit_c)
    return {
        "type": "heatmap",
        "x": time_ms[:, every // 2].tolist(),
        "y": np.round(ground.depths_m[::EVERY_DEPTH], 4).tolist(),
        "z": [[round(10 * value) if np.isfinite(value) else None for value in row] for row in means_c.T[::EVERY_DEPTH]],
        "colorscale": theme.plotly_colour_scale(limit_c),
        "zmin": 10 * low_c,
        "zmax": 10 * high_c,
        "zsmooth": "best",
        "showscale": False,
        "hoverinfo": "skip",
        "name": "soil",
    }


def _cool_line(ground: Ground, limit_c: float, *, to_come: bool) -> list[Part]:
    """The line in its casing, dashed where it is to come."""
    points = level_lines(ground.time_ms, ground.depths_m, ground.profile_c.T, limit_c)
    casing = chart.line(points, theme.PALE, chart.CASING_WIDTH_PX, "cool line")
    drawn = ahead.dashed if to_come else chart.line
    return [casing, drawn(points, theme.PEN, chart.LIMIT_WIDTH_PX, "cool line")]


def _over_the_cloves(history: BedHistory, ground: Ground, limit_c: float, reader: Reader) -> list[Part]:
    """Hatching between the cloves and the cool line, where that is below them."""
    cloves_m = history.bed.clove_depth_m
    if cloves_m is None:
        return []
    reach_m = deepest_over_m(ground.profile_c, ground.depths_m, limit_c)
    passed = np.nan_to_num(reach_m, nan=-np.inf) > cloves_m
    shapes = []
    for stretch in np.split(np.arange(passed.size), np.flatnonzero(np.diff(passed)) + 1):
        if stretch.size and passed[stretch[0]]:
            times = ground.time_ms[stretch].tolist()
            shapes.append(([times[0], *times, times[-1]], [cloves_m, *reach_m[stretch].tolist(), cloves_m]))
    pen = chart.hatch(reader)
    pen["fillpattern"]["fgcolor"] = theme.PEN
    return [chart.area(shapes, "warm below the cloves", **pen)]


def _levels(history: BedHistory, top_m: float) -> list[Part]:
    """The edges of soil and covers, and the cloves as a thin double line."""
    levels = [chart.level(0.0, theme.PEN, 3)] if top_m < 0 else []
    height_m = 0.0
    for cover in history.bed.covers:
        height_m -= cover.thickness_m
        if height_m > top_m:
            levels.append(chart.level(height_m, theme.PEN, 1.2))
    if history.bed.clove_depth_m is not None:
        levels += [chart.level(history.bed.clove_depth_m, colour, width) for colour, width in ((theme.PEN, 4), (theme.PALE, 2))]
    return levels


def _names(history: BedHistory, reader: Reader, top_m: float, bottom_m: float) -> list[Part]:
    """Plates: each cover, the cloves, and how deep the picture goes."""
    left = {"xref": "paper", "x": 0, "xanchor": "left", "xshift": 6}
    plates = []
    height_m = 0.0
    for cover in history.bed.covers:
        middle_m = height_m - cover.thickness_m / 2
        height_m -= cover.thickness_m
        if middle_m > top_m:
            plates.append(chart.plate(cover.material, reader, y=middle_m, **left))
    if history.bed.clove_depth_m is not None:
        text = f"cloves, {theme.depth(history.bed.clove_depth_m, reader.units)}"
        plates.append(chart.plate(text, reader, y=history.bed.clove_depth_m, yanchor="bottom", yshift=4, **left))
    deepest = chart.plate(theme.depth(bottom_m, reader.units), reader, y=bottom_m, yanchor="bottom", yshift=2, **left)
    return [*plates, deepest]


def _mark_passing(history: BedHistory, ground: Ground, span: Span, reader: Reader, figure: Figure) -> None:
    """A dot where the cool line first reaches the cloves, and on its stem the time; nothing where it lies below them now."""
    limit_c, cloves_m = history.bed.cool_limit_c, history.bed.clove_depth_m
    if limit_c is None or cloves_m is None:
        return
    passed = deepest_over_m(ground.profile_c, ground.depths_m, limit_c) > cloves_m
    if not passed.any() or passed[0]:
        return
    at_ms = int(ground.time_ms[int(np.argmax(passed))])
    plate_m = cloves_m + PLATE_AT * (_ends_m(ground)[1] - cloves_m)
    dot = {"symbol": "circle", "size": 11, "color": theme.PEN, "line": {"color": theme.PALE, "width": 2}}
    place = {"type": "scatter", "mode": "markers", "x": [at_ms], "y": [cloves_m], "hoverinfo": "skip", "cliponaxis": False}
    figure["data"].append({**place, "marker": dot, "name": "reaches the cloves"})
    stem = {"type": "line", "x0": at_ms, "x1": at_ms, "y0": cloves_m, "y1": plate_m, "line": {"color": theme.PEN, "width": 2}}
    figure["layout"]["shapes"].append({**stem, "layer": "above"})
    is_early = (at_ms - span.from_ms) / (span.to_ms - span.from_ms) < ROOM_FOR_A_PLATE
    words, side = f"reaches the cloves<br>{reader.clock(at_ms)}", "left" if is_early else "right"
    shift_px = -8 if is_early else 8
    plate = {"x": at_ms, "xanchor": side, "xshift": shift_px, "y": plate_m, "yanchor": "top", "align": "left"}
    figure["layout"]["annotations"].append(chart.plate(words, reader, **plate))


def _plates(history: BedHistory, ground: Ground, reader: Reader, height_m: float, *, to_come: bool) -> Part:
    """What a tap shows: the moment, the temperature at the cloves, and how deep the warmth goes."""
    limit_c, cloves_m = history.bed.cool_limit_c, history.bed.clove_depth_m
    every = chart.plates_apart(ground.time_ms.size)
    times, profile_c = ground.time_ms[::every], ground.profile_c[::every]
    deepest_m = deepest_over_m(profile_c, ground.depths_m, limit_c) if limit_c is not None else np.full(times.size, np.nan)
    would_be = "would be " if to_come else ""
    texts = []
    for moment, column, reach_m in zip(times.tolist(), profile_c, deepest_m, strict=True):
        rows = [f"<b>{reader.clock(moment)}</b>"]
        if cloves_m is not None:
            at_cloves_c = float(np.interp(cloves_m, ground.depths_m, column))
            if np.isfinite(at_cloves_c):
                rows.append(f"cloves {would_be}{theme.temperature(at_cloves_c, reader.units)}")
        if np.isfinite(reach_m):
            rows.append(f"{would_be}warm down to {theme.depth(float(reach_m), reader.units)}")
        if not np.isfinite(column).any():
            rows.append("not known")
        texts.append("<br>".join(rows))
    return chart.tap_plates(times.tolist(), texts, height_m)
