"""The key of the picture: which colour is which temperature, how full a pore is, and what of it is worked out."""

from __future__ import annotations

from dash import html
from dash.development.base_component import Component

from collector.query import BedView
from collector.units import Quantity, UnitSystem
from dashboard import theme
from dashboard.components.cut_view import OVER_FULL_WORDS, UNSPOKEN, probe_value

_FROM_K, _TO_K, _STEP_K = -8, 12, 4


def key(view: BedView, units: UnitSystem) -> Component:
    """Both keys of a bed, in its own limit and the grower's units."""
    notes = " ".join([*worked_out(view, units), *fullness(view, units)])
    parts: list[Component] = [colours(view.bed.cool_limit_c, units), pores(view)]
    return html.Div([*parts, *([html.P(notes, className="note")] if notes else [])], className="key", **UNSPOKEN)


def worked_out(view: BedView, units: UnitSystem) -> list[str]:
    """Where the colours lie outside what thermometers tell."""
    temperature, first_m = view.state.temperature, 0.0
    if temperature is None or view.air_c is None:
        return []
    while temperature.at(first_m) is None and first_m < temperature.depths_m[0]:
        first_m += 0.01
    where = f"Above {theme.depth(first_m, units)}" if first_m > 0 else "In the covers" if view.bed.covers else ""
    return [f"{where} colours are worked out from the air."] if where else []


def fullness(view: BedView, units: UnitSystem) -> list[str]:
    """What "full" is said of, and where the soil is fuller than that."""
    full = {
        each.probe.depth_m: probe_value(each, view, units)
        for each in view.probes
        if each.probe.quantity is Quantity.SOIL_MOISTURE
    }
    told = ["Full counts only water that roots can take."] if any(full.values()) else []
    over = sorted(depth_m for depth_m, value in full.items() if value == OVER_FULL_WORDS and depth_m is not None)
    return told + [f"At {theme.depth(depth_m, units)} the soil is over-full and drains." for depth_m in over]


def colours(limit_c: float | None, units: UnitSystem) -> Component:
    """A bar of the temperature colours; the limit stands across it."""
    centre_c = theme.scale_centre_c(limit_c)
    span_k = _TO_K - _FROM_K
    stops = ", ".join(f"{colour} {(at_c - centre_c - _FROM_K) / span_k:.2%}" for at_c, colour in theme.temperature_stops(limit_c))
    marks: list[Component] = []
    for distance_k in range(_FROM_K, _TO_K + 1, _STEP_K):
        place = {"left": f"{(distance_k - _FROM_K) / span_k:.0%}"}
        if distance_k == 0 and limit_c is not None:
            marks.append(html.B(f"{theme.limit(limit_c, units)}, limit", style=place))
        else:
            mark = f"{theme.temperature_number(centre_c + distance_k, units):.1f}".removesuffix(".0")
            marks.append(html.Span(mark, style=place))
    edge = [html.Span(className="edge", style={"left": f"{-_FROM_K / span_k:.0%}"})] if limit_c is not None else []
    bar = html.Div(edge, className="bar-of-colours", style={"backgroundImage": f"linear-gradient(90deg, {stops})"})
    return html.Div([bar, html.Div(marks, className="marks")], className="colours")


def pores(view: BedView) -> Component:
    """Three pores: at wilting, at the refill point where it is known, and full."""
    refill = [] if view.state.water is None else [_pore("refill", 1 - view.state.water.p)]
    return html.Div(
        [html.Span("Water in pores", className="note"), _pore("wilting", 0), *refill, _pore("full", 1)], className="pores-key"
    )


def _pore(word: str, share: float) -> Component:
    return html.Span([html.Span(html.Span(className="inside", style={"--full": f"{share:.0%}"}), className="pore-shape"), word])
