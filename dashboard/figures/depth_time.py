"""The whole profile over time: depth downward, colour for temperature, and the cool line as tongues of heat."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from collector.query import BedHistory
from dashboard import theme
from dashboard.figures import chart
from dashboard.figures.chart import Figure, Finding, Part, Reader
from dashboard.figures.daily import in_days

MOST_COLUMNS = 450
LEAST_SHARE_KNOWN = 0.95


def depth_time(history: BedHistory, reader: Reader) -> Figure:
    """The picture; where no profile is known in the span, a chart that says so. What is not known stays unpainted."""
    history = in_days(history)
    time_ms, profile_c = _columns(history)
    if not np.isfinite(profile_c).any():
        return chart.empty(reader, "The temperature of the soil is not known in these days.")
    known_m = history.grid_depths_m[np.isfinite(profile_c).any(axis=0)]
    top_m, bottom_m = min(0.0, float(known_m[0])), float(known_m[-1])
    limit_c = history.bed.cool_limit_c
    field = {"x": time_ms.tolist(), "y": history.grid_depths_m.tolist(), "z": _as_rows(profile_c)}
    low_c, high_c = theme.scale_range_c(limit_c)
    colours = {"colorscale": theme.plotly_colour_scale(limit_c), "zmin": low_c, "zmax": high_c, "showscale": False}
    data: list[Part] = [{"type": "heatmap", **field, **colours, "zsmooth": False, "hoverinfo": "skip", "name": "soil"}]
    if limit_c is not None:
        at_limit = {"coloring": "none", "start": limit_c, "end": limit_c, "size": 1}
        for colour, width in ((theme.PALE, chart.CASING_WIDTH_PX), (theme.PEN, chart.LIMIT_WIDTH_PX)):
            style = {"line": {"color": colour, "width": width, "smoothing": 0.6}, "contours": at_limit, "showscale": False}
            data.append({"type": "contour", **field, **style, "hoverinfo": "skip", "name": "cool line"})
    data.append(_plates(history, time_ms, profile_c, reader, (top_m + bottom_m) / 2))
    return {
        "data": data,
        "layout": chart.layout(
            reader,
            margin={"l": 0, "r": 0, "t": 26, "b": 44, "pad": 0},
            xaxis=chart.time_axis(history, reader),
            yaxis={**chart.value_axis(bottom_m, top_m, [], []), "visible": False},
            shapes=[*_levels(history, top_m), *[mark | {"layer": "above"} for mark in chart.time_lines(history, reader)]],
            annotations=[*chart.now_label(history), *_names(history, reader, top_m, bottom_m)],
        ),
    }


def depth_time_finding(history: BedHistory, reader: Reader) -> Finding:
    """What the picture shows."""
    limit_c, cloves_m = history.bed.cool_limit_c, history.bed.clove_depth_m
    is_known = np.isfinite(history.profile_c)
    if not is_known.any():
        return Finding("The temperature of the soil is not known.", "Nothing is painted where nothing is known.")
    if limit_c is None:
        return Finding("The soil, at every depth.", "Colours lie around 18 °C, since no cool limit is set for this bed.")
    limit = theme.limit(limit_c, reader.units)
    note = f"The whole profile. The line is your limit, {limit}: over it the soil is warmer, under it cooler."
    deepest_m = deepest_over_m(history.profile_c, history.grid_depths_m, limit_c)
    as_far = "" if is_known.any(axis=1).mean() > LEAST_SHARE_KNOWN else ", as far as is known"
    if not np.isfinite(deepest_m).any():
        return Finding(f"All the soil stayed under {limit}{as_far}.", note)
    place = int(np.nanargmax(deepest_m))
    reach_m, day = float(deepest_m[place]), reader.day(float(history.grid_ms[place]), history.now_ms)
    if cloves_m is None:
        return Finding(f"The cool line sank to {theme.depth(reach_m, reader.units)} {day}.", note)
    if reach_m > cloves_m:
        passed = int(np.argmax(np.nan_to_num(deepest_m, nan=-np.inf) > cloves_m))
        return Finding(f"The cool line passed the cloves {reader.day(float(history.grid_ms[passed]), history.now_ms)}.", note)
    cloves = theme.depth_number(cloves_m, reader.units)
    return Finding(f"The cool line sank to {theme.depth(reach_m, reader.units)} {day}; the cloves lie at {cloves:g}.", note)


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


def _columns(history: BedHistory) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Not more columns than a phone has points: means of neighbours, and nothing where one of them is not known."""
    every = max(1, -(-history.grid_ms.size // MOST_COLUMNS))
    whole = history.grid_ms.size // every * every
    time_ms = history.grid_ms[:whole].reshape(-1, every)
    profile_c = history.profile_c[:whole].reshape(-1, every, history.profile_c.shape[1])
    return time_ms[:, every // 2], profile_c.mean(axis=1)


def _as_rows(profile_c: NDArray[np.float64]) -> list[list[float | None]]:
    """Depth by time, as Plotly wants it; what is not known is None."""
    return [[round(float(value), 2) if np.isfinite(value) else None for value in row] for row in profile_c.T]


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


def _plates(
    history: BedHistory, time_ms: NDArray[np.int64], profile_c: NDArray[np.float64], reader: Reader, height_m: float
) -> Part:
    """What a tap shows: the moment, the temperature at the cloves, and how deep the warmth goes."""
    limit_c, cloves_m, depths_m = history.bed.cool_limit_c, history.bed.clove_depth_m, history.grid_depths_m
    deepest_m = deepest_over_m(profile_c, depths_m, limit_c) if limit_c is not None else np.full(time_ms.size, np.nan)
    texts = []
    for moment, column, reach_m in zip(time_ms, profile_c, deepest_m, strict=True):
        rows = [f"<b>{reader.clock(int(moment))}</b>"]
        if cloves_m is not None:
            at_cloves_c = float(np.interp(cloves_m, depths_m, column))
            if np.isfinite(at_cloves_c):
                rows.append(f"cloves {theme.temperature(at_cloves_c, reader.units)}")
        if np.isfinite(reach_m):
            rows.append(f"warm down to {theme.depth(float(reach_m), reader.units)}")
        if not np.isfinite(column).any():
            rows.append("not known")
        texts.append("<br>".join(rows))
    return chart.tap_plates(time_ms.tolist(), texts, height_m)
