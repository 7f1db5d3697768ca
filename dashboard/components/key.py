"""The key of the picture: which colour is which temperature, and how full a pore is."""

from __future__ import annotations

from dash import html
from dash.development.base_component import Component

from collector.query import BedView
from collector.units import UnitSystem
from dashboard import theme
from dashboard.components.cut_view import UNSPOKEN

_FROM_K, _TO_K, _STEP_K = -8, 12, 4


def key(view: BedView, units: UnitSystem) -> Component:
    """Both keys of a bed, in its own limit and the grower's units."""
    return html.Div([colours(view.bed.cool_limit_c, units), pores(view)], className="key", **UNSPOKEN)


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
            marks.append(html.Span(f"{theme.temperature_number(centre_c + distance_k, units):.0f}", style=place))
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
