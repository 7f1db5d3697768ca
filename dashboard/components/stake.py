"""The stake on the picture of a bed: each probe at its depth, and beside it a label with what it says."""

from __future__ import annotations

from dash import html
from dash.development.base_component import Component

from collector.query import BedView, GardenView, Heard, ProbeView
from collector.units import Quantity
from dashboard.components.cut_view import probe_value
from dashboard.figures.cut_frame import Frame

_APART_PX = 33.0


def stake(view: BedView, frame: Frame, garden: GardenView) -> list[Component]:
    """The stake, its probes and their labels, hung on the right edge of the picture; nothing where no probe is buried."""
    buried = sorted(
        (each for each in view.probes if each.probe.depth_m is not None and each.probe.quantity in _SHAPES),
        key=lambda each: (each.probe.depth_m or 0.0, each.probe.quantity is Quantity.SOIL_MOISTURE, each.probe.id),
    )
    if not buried:
        return []
    marks: list[Component] = [html.Span(className="stake", style=_span(frame, buried))]
    heights = label_heights([frame.y(each.probe.depth_m or 0.0) for each in buried], frame.height_px)
    for each, label_y in zip(buried, heights, strict=True):
        y = frame.y(each.probe.depth_m or 0.0)
        marks.append(html.Span(className=_SHAPES[each.probe.quantity], style={"top": f"{y:.1f}px"}))
        if not view.expected:
            marks.append(_label(each, view, garden, label_y))
    return marks


def label_heights(wanted_px: list[float], floor_px: float) -> list[float]:
    """Where labels go [px] so that none covers another: as near to where they want to be as that allows."""
    placed: list[float] = []
    for y in wanted_px:
        placed.append(max(y, placed[-1] + _APART_PX) if placed else y)
    limit = floor_px - _APART_PX / 2
    for k in reversed(range(len(placed))):
        placed[k] = min(placed[k], limit)
        limit = placed[k] - _APART_PX
    return placed


_SHAPES = {Quantity.SOIL_TEMPERATURE: "dot", Quantity.SOIL_MOISTURE: "prongs"}


def _span(frame: Frame, buried: list[ProbeView]) -> dict[str, str]:
    top = 30.0
    deepest = max(frame.y(each.probe.depth_m or 0.0) for each in buried)
    return {"top": f"{top:.0f}px", "height": f"{deepest + 14 - top:.0f}px"}


def _label(each: ProbeView, view: BedView, garden: GardenView, y: float) -> Component:
    value = probe_value(each, view, garden.garden.units)
    style = {"top": f"{y:.1f}px"}
    if value is None:
        is_faulty, is_behind = each.last is not None and not each.last.trusted, each.heard is Heard.BEHIND
        words = "faulty" if is_faulty else "not heard" if each.last is None else "not yet" if is_behind else "silent"
        return html.Span(words, className="tag probe dotted", style=style)
    kind = " small" if each.probe.quantity is Quantity.SOIL_MOISTURE else ""
    return html.Span(value, className=f"tag probe{kind}", style=style)
