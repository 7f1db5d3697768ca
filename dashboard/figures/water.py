"""Water in the root zone: how much the soil is short of full, against the refill line."""

from __future__ import annotations

import numpy as np

from collector.query import BedHistory
from collector.units import UnitSystem, inches
from dashboard import theme
from dashboard.figures import chart
from dashboard.figures.chart import Figure, Finding, Part, Reader
from dashboard.figures.daily import in_days, is_in_days

WATER_PX, FULL_PX = 3.0, 1.6
TRIANGLE_PX = 12
PLATES = 500
# Of the width: what the litres beside a triangle take on a phone.
LABEL_ROOM = 0.24


def water(history: BedHistory, reader: Reader, refill_mm: float | None) -> Figure:
    """The chart; `refill_mm` is the depletion [mm] at which water is due, None if not known.

    Where the water is not known in the whole span, a chart that says so.
    """
    history = in_days(history)
    known = history.depletion_mm[np.isfinite(history.depletion_mm)]
    if known.size == 0:
        return chart.empty(reader, "The water in the root zone is not known in these days.")
    driest_mm = max(float(known.max()), refill_mm or 0.0)
    bottom_mm = driest_mm * 1.12 + 0.5
    top_mm = -bottom_mm * 0.14  # room for the waterings over the full line
    ink = reader.tokens.ink
    shapes = [*chart.time_lines(history, reader), chart.level(0.0, ink, FULL_PX)]
    notes = [*chart.now_label(history), _name("full", 0.0, reader)]
    data = [_fill(history, reader, bottom_mm)]
    if refill_mm is not None:
        x = [history.from_ms, history.to_ms, history.to_ms, history.from_ms]
        data.append(chart.area([(x, [refill_mm, refill_mm, bottom_mm, bottom_mm])], "too dry", **chart.hatch(reader)))
        data += chart.cool_line(refill_mm, history, reader)
        notes.append(
            chart.plate("refill line", reader, xref="paper", x=0, xanchor="left", xshift=4, y=refill_mm, yanchor="top", yshift=-3)
        )
    width_px = WATER_PX * chart.pen_share(history)
    data.append(chart.line(chart.thinned(history.grid_ms, history.depletion_mm), ink, width_px, "short of full"))
    data += [_waterings(history, reader, top_mm * 0.42), _plates(history, reader, bottom_mm / 2)]
    ticks_mm, texts = _ticks(bottom_mm, reader)
    return {
        "data": data,
        "layout": chart.layout(
            reader,
            margin={"l": 44, "r": 16, "t": 26, "b": 44, "pad": 2},
            xaxis=chart.time_axis(history, reader),
            yaxis=chart.value_axis(bottom_mm, top_mm, ticks_mm, texts),
            shapes=shapes,
            annotations=notes,
        ),
    }


def water_finding(history: BedHistory, reader: Reader, refill_mm: float | None) -> Finding:
    """What the chart shows, by the newest known value."""
    root = theme.depth(history.bed.root_depth_m, reader.units)
    unit = "Inches of water" if reader.units is UnitSystem.US else "Litres"
    area = "" if reader.units is UnitSystem.US else " per square metre"
    means = ", means of 24 hours" if is_in_days(history) else ""
    note = f"{unit} short of full{area}, down to {root}{means}. Triangles: you watered."
    known = np.flatnonzero(np.isfinite(history.depletion_mm))
    if known.size == 0:
        return Finding("The water in the root zone is not known.", note)
    last = int(known[-1])
    if last + 1 < history.depletion_mm.size - 1:
        return Finding(f"Not known since {reader.clock(float(history.grid_ms[last]))}.", note)
    short_mm = float(history.depletion_mm[last])
    if refill_mm is None:
        return Finding(f"The roots are {_amount(short_mm, reader)} short of full.", note)
    if short_mm < refill_mm and _amount(refill_mm - short_mm, reader) == _amount(0.0, reader):
        return Finding("The roots are at the refill line.", note)
    if short_mm < refill_mm:
        return Finding(f"The roots are well, {_amount(refill_mm - short_mm, reader)} from the refill line.", note)
    dry = history.depletion_mm >= refill_mm
    wet_before = np.flatnonzero(~dry[: last + 1] & np.isfinite(history.depletion_mm[: last + 1]))
    if wet_before.size == 0:
        return Finding("The roots were short of water all this time.", note)
    since = float(history.grid_ms[int(wet_before[-1]) + 1])
    return Finding(f"The roots ran short of water {reader.day(since, history.now_ms)}.", note)


def _amount(water_mm: float, reader: Reader) -> str:
    """A depth of water in words: one litre per square metre is one millimetre."""
    if reader.units is UnitSystem.US:
        return theme.water_depth(water_mm, reader.units)
    litres = f"{water_mm:.0f}"
    return f"{litres} litre{'' if litres == '1' else 's'} per m²"


def _name(text: str, level_mm: float, reader: Reader) -> Part:
    place = {"xref": "paper", "x": 0, "xanchor": "left", "xshift": 4, "y": level_mm, "yanchor": "top"}
    return chart.plate(text, reader, **place, yshift=-3)


def _fill(history: BedHistory, reader: Reader, bottom_mm: float) -> Part:
    """The water under the line, one shape for each stretch that is known."""
    shapes = []
    for time, short_mm in chart.stretches(chart.thinned(history.grid_ms, history.depletion_mm)):
        shapes.append(([time[0], *time, time[-1]], [bottom_mm, *short_mm, bottom_mm]))
    return chart.area(shapes, "water", fillcolor=reader.tokens.water_fill)


def _waterings(history: BedHistory, reader: Reader, height_mm: float) -> Part:
    """A triangle for each watering, with its litres where they were told and cover no other."""
    inside = [(at, litres) for at, litres in history.waterings if history.from_ms <= at <= history.to_ms]
    times = [history.from_ms, *(at for at, _ in inside), history.to_ms]
    room_ms = LABEL_ROOM * (history.to_ms - history.from_ms)
    texts, sides, taken_until_ms = [], [], float(history.from_ms)
    for place, (at, litres) in enumerate(inside, start=1):
        fits_right = times[place + 1] - at >= room_ms
        fits_left = at - max(taken_until_ms, times[place - 1]) >= room_ms
        is_told = bool(np.isfinite(litres)) and (fits_right or fits_left)
        texts.append(f" {theme.volume(litres, reader.units)} " if is_told else "")
        sides.append("middle right" if fits_right else "middle left")
        taken_until_ms = at + room_ms if is_told and fits_right else taken_until_ms
    size_px = TRIANGLE_PX * chart.pen_share(history)
    return {
        "type": "scatter",
        "mode": "markers+text",
        "x": [float(at) for at, _ in inside],
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


def _plates(history: BedHistory, reader: Reader, height_mm: float) -> Part:
    """What a tap shows: the moment, and how much the roots are short of full."""
    every = max(1, history.grid_ms.size // PLATES)
    texts = []
    for time, short_mm in zip(history.grid_ms[::every], history.depletion_mm[::every], strict=True):
        words = f"{_amount(float(short_mm), reader)} short of full" if np.isfinite(short_mm) else "not known"
        texts.append(f"<b>{reader.clock(int(time))}</b><br>{words}")
    return chart.tap_plates(history.grid_ms[::every].tolist(), texts, height_mm)
