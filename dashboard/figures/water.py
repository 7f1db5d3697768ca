"""Water in the root zone: how much the soil is short of full, against the refill line."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from collector.outlook import WaterAhead
from collector.query import BedHistory
from collector.units import UnitSystem, inches
from dashboard import theme
from dashboard.figures import ahead, chart
from dashboard.figures.chart import Figure, Part, Reader, Span
from dashboard.figures.daily import in_days
from dashboard.figures.water_words import amount

WATER_PX, FULL_PX = 3.0, 1.6
TRIANGLE_PX = 12
# Of the width: what the litres beside a triangle take on a phone.
LABEL_ROOM = 0.24
# How far below the refill line the chart goes for what is to come, as a multiple of the line's own depth.
BELOW_REFILL = 1.35
AHEAD_OPACITY = 0.5


def water(history: BedHistory, reader: Reader, refill_mm: float | None) -> Figure:
    """The chart; `refill_mm` is the depletion [mm] at which water is due, None if not known.

    Where the water is not known in the whole span, a chart that says so.
    """
    history = in_days(history)
    known = history.depletion_mm[np.isfinite(history.depletion_mm)]
    if known.size == 0:
        return chart.empty(reader, "The water in the root zone is not known in these days.")
    to_come = ahead.water(history)
    span = ahead.span_of(history, to_come)
    refill = _refill_line(span, refill_mm, to_come)
    bottom_mm = _bottom_mm(float(known.max()), refill, to_come)
    top_mm = -bottom_mm * 0.14  # room for the waterings over the full line
    ink, width_px = reader.tokens.ink, WATER_PX * chart.pen_share(span)
    notes = [*chart.now_label(span), _name("full", 0.0, reader)]
    data = [_fill([(history.grid_ms, history.depletion_mm)], reader, bottom_mm)]
    if to_come is not None:
        data += _to_come(history, to_come, reader, bottom_mm, width_px)
    if refill is not None:
        x, y = refill
        data.append(chart.area([([*x, x[-1], x[0]], [*y, bottom_mm, bottom_mm])], "too dry", **chart.hatch(reader)))
        data += chart.cool_line((list(x), list(y)), reader)
        notes.append(_name("refill line", y[0], reader))
    data.append(chart.line(chart.thinned(history.grid_ms, history.depletion_mm), ink, width_px, "short of full"))
    data += [_waterings(history, span, reader, top_mm * 0.42)]
    if to_come is not None and to_come.refill_ms is not None and span.now_ms < to_come.refill_ms <= span.to_ms:
        triangle, words = _watering_to_come(history, span, to_come, to_come.refill_ms, reader, top_mm * 0.42)
        data.append(triangle)
        notes += [words] if chart.pen_share(span) == 1 else []  # in a long span they would cover other waterings
    data.append(_plates(history, to_come, reader, bottom_mm / 2))
    ticks_mm, texts = _ticks(bottom_mm, reader)
    return {
        "data": data,
        "layout": chart.layout(
            reader,
            margin={"l": 44, "r": 16, "t": 26, "b": 44, "pad": 2},
            xaxis=chart.time_axis(span, reader),
            yaxis=chart.value_axis(bottom_mm, top_mm, ticks_mm, texts),
            shapes=[*chart.time_lines(span, reader), chart.level(0.0, ink, FULL_PX)],
            annotations=notes,
        ),
    }


def _refill_line(span: Span, refill_mm: float | None, to_come: WaterAhead | None) -> tuple[list[int], list[float]] | None:
    """Where water is due over the whole axis: as it is now for what was, and as it would be for what is to come."""
    known = np.isfinite(to_come.refill_mm) if to_come is not None else np.empty(0, dtype=bool)
    if refill_mm is None and not known.any():
        return None
    x, y = [], []
    if to_come is not None and known.any():
        x, y = to_come.time_ms[known].tolist(), to_come.refill_mm[known].round(2).tolist()
    now_mm = refill_mm if refill_mm is not None else y[0]
    begin = [span.from_ms, span.now_ms if x else span.to_ms]
    return [*begin, *x], [now_mm, now_mm, *y]


def _bottom_mm(driest_mm: float, refill: tuple[list[int], list[float]] | None, to_come: WaterAhead | None) -> float:
    """The floor of the chart: room for what was and for the refill line; what is to come may run out of it."""
    line_mm = max(refill[1]) if refill is not None else 0.0
    bottom_mm = max(driest_mm, line_mm)
    if to_come is not None:
        dry_mm = float(np.nanmax(to_come.depletion_mm, initial=0.0))
        bottom_mm = max(bottom_mm, min(dry_mm, BELOW_REFILL * line_mm) if line_mm else dry_mm)
    return bottom_mm * 1.12 + 0.5


def _to_come(history: BedHistory, to_come: WaterAhead, reader: Reader, bottom_mm: float, width_px: float) -> list[Part]:
    """What the roots would be short of if nobody waters: water at half its strength, the band, the line dashed."""
    known = (history.grid_ms, history.depletion_mm)
    short, low, high = (
        ahead.joined((to_come.time_ms, values_mm), known, history.now_ms)
        for values_mm in (to_come.depletion_mm, to_come.low_mm, to_come.high_mm)
    )
    return [
        _fill([short], reader, bottom_mm) | {"opacity": AHEAD_OPACITY, "name": "water ahead"},
        ahead.band(low, high, reader, "4 times in 5"),
        ahead.dashed(chart.thinned(*short), reader.tokens.ink, width_px, "short of full ahead"),
    ]


def _name(text: str, level_mm: float, reader: Reader) -> Part:
    place = {"xref": "paper", "x": 0, "xanchor": "left", "xshift": 4, "y": level_mm, "yanchor": "top"}
    return chart.plate(text, reader, **place, yshift=-3)


def _fill(courses: Sequence[ahead.Course], reader: Reader, bottom_mm: float) -> Part:
    """The water under the line, one shape for each stretch that is known."""
    shapes = []
    for time_ms, short_mm in courses:
        for time, short in chart.stretches(chart.thinned(time_ms, short_mm)):
            shapes.append(([time[0], *time, time[-1]], [bottom_mm, *short, bottom_mm]))
    return chart.area(shapes, "water", fillcolor=reader.tokens.water_fill)


def _watering_to_come(
    history: BedHistory, span: Span, to_come: WaterAhead, at_ms: int, reader: Reader, height_mm: float
) -> tuple[Part, Part]:
    """An outlined triangle where the refill line would be reached, and what to give then."""
    litres = litres_at_refill(history, to_come)
    when = reader.moment(at_ms, history.now_ms)
    words = f"would reach the refill line<br>{when}" if litres is None else f"{theme.volume(litres, reader.units)} by<br>{when}"
    style = {
        "symbol": "triangle-down-open",
        "size": TRIANGLE_PX * chart.pen_share(span),
        "color": reader.tokens.ink,
        "line": {"width": 2},
    }
    triangle = {
        "type": "scatter",
        "mode": "markers",
        "x": [at_ms],
        "y": [height_mm],
        "marker": style,
        "hoverinfo": "skip",
        "cliponaxis": False,
        "name": "watering to come",
    }
    is_early = (at_ms - span.from_ms) / (span.to_ms - span.from_ms) < 1 - LABEL_ROOM
    side = {"xanchor": "left", "xshift": 9} if is_early else {"xanchor": "right", "xshift": -9}
    label = {"text": words, "x": at_ms, "y": height_mm, "yanchor": "top", "yshift": 8, "align": "left", "showarrow": False}
    return triangle, label | side


def litres_at_refill(history: BedHistory, to_come: WaterAhead) -> float | None:
    """What the bed is short of [L] when it reaches the refill line, with what the hose loses; None where its area is not told."""
    place = int(np.searchsorted(to_come.time_ms, to_come.refill_ms or 0))
    if place >= to_come.time_ms.size:
        return None
    litres = float(to_come.refill_mm[place]) * history.bed.area_m2 / history.bed.watering_efficiency
    return litres if np.isfinite(litres) else None


def _waterings(history: BedHistory, span: Span, reader: Reader, height_mm: float) -> Part:
    """A triangle for each watering, with its litres where they were told and cover no other."""
    inside = [(at, litres) for at, litres in history.waterings if history.from_ms <= at <= history.to_ms]
    times = [span.from_ms, *(at for at, _ in inside), history.to_ms]
    room_ms = LABEL_ROOM * (span.to_ms - span.from_ms)
    texts, sides, taken_until_ms = [], [], float(history.from_ms)
    for place, (at, litres) in enumerate(inside, start=1):
        fits_right = times[place + 1] - at >= room_ms
        fits_left = at - max(taken_until_ms, times[place - 1]) >= room_ms
        is_told = bool(np.isfinite(litres)) and (fits_right or fits_left)
        texts.append(f" {theme.volume(litres, reader.units)} " if is_told else "")
        sides.append("middle right" if fits_right else "middle left")
        taken_until_ms = at + room_ms if is_told and fits_right else taken_until_ms
    size_px = TRIANGLE_PX * chart.pen_share(span)
    return {
        "type": "scatter",
        "mode": "markers+text",
        "x": [at for at, _ in inside],
        "y": [height_mm] * len(inside),
        "text": texts,
        "textposition": sides or "middle right",
        "marker": {"symbol": "triangle-down", "size": size_px, "color": reader.tokens.ink},
        "hoverinfo": "skip",
        "cliponaxis": False,
        "name": "waterings",
    }


def _ticks(bottom_mm: float, reader: Reader) -> tuple[list[float], list[str]]:
    """Round amounts in the reader's unit, and where they lie [mm]."""
    per_mm = inches(0.001) if reader.units is UnitSystem.US else 1.0
    deepest = bottom_mm * per_mm
    step = next(step for step in (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0) if deepest / step <= 5 or step == 100.0)
    amounts = np.arange(0.0, deepest, step)
    return [float(amount / per_mm) for amount in amounts], [f"{amount:g}" for amount in np.round(amounts, 1)]


def _plates(history: BedHistory, to_come: WaterAhead | None, reader: Reader, height_mm: float) -> Part:
    """What a tap shows: the moment, and how much the roots are short of full."""
    every = chart.plates_apart(history.grid_ms.size)
    times, texts = history.grid_ms[::every].tolist(), []
    for time, short_mm in zip(times, history.depletion_mm[::every].tolist(), strict=True):
        words = f"{amount(short_mm, reader)} short of full" if np.isfinite(short_mm) else "not known"
        texts.append(f"<b>{reader.clock(time)}</b><br>{words}")
    if to_come is not None:
        every = chart.plates_apart(to_come.time_ms.size)
        ahead_ms = to_come.time_ms[::every].tolist()
        times += ahead_ms
        for time, short_mm in zip(ahead_ms, to_come.depletion_mm[::every].tolist(), strict=True):
            words = f"would be {amount(short_mm, reader)}<br>short of full" if np.isfinite(short_mm) else "not known"
            texts.append(f"<b>{reader.clock(time)}</b><br>{words}")
    return chart.tap_plates(times, texts, height_mm)
