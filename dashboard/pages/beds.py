"""Beds: every bed in a line or two, the most pressing first."""

from __future__ import annotations

from functools import partial

import dash
from dash import Input, Output, dcc, html
from dash.development.base_component import Component

from collector.calls import Due
from collector.model import Garden
from collector.query import BedView, Heard, SoilQueries
from dashboard import ids, theme, view_state
from dashboard.components import calls
from dashboard.components.bed_heading import measured


def register(app: dash.Dash, queries: SoilQueries) -> None:
    """Put the page on the app."""
    dash.register_page("beds", path=view_state.BEDS, title="Cooldepth: beds", layout=partial(layout, queries))  # type: ignore[no-untyped-call]

    @app.callback(Output(ids.BEDS_LIST, "children"), Input(ids.SLOW_TICK, "n_intervals"), prevent_initial_call=True)
    def draw_beds(_ticks: int) -> list[Component]:
        return beds_list(queries)


def layout(queries: SoilQueries, /, **_unknown: object) -> Component:
    """The whole page."""
    return html.Div(html.Div(beds_list(queries), id=ids.BEDS_LIST), className="plain")


def beds_list(queries: SoilQueries) -> list[Component]:
    """The sentence that sums up, and a row for each bed."""
    view = queries.garden()
    if not view.beds:
        return [html.H1("No bed yet."), html.P("The garden file names no bed. Add one, and start the collector again.")]
    asking = sum(any(call.call.due is Due.DUE for call in bed.calls) for bed in view.beds)
    heading = f"{len(view.beds)} {'bed' if len(view.beds) == 1 else 'beds'}, {asking or 'none'} with something due."
    return [html.H1(heading), html.Ul([_row(bed, view.garden, view.now_ms) for bed in view.beds], className="rows")]


def _row(view: BedView, garden: Garden, now_ms: int) -> Component:
    clove = view.state.clove
    number = f"cloves {theme.temperature(clove.value, garden.units) if clove is not None else 'not known'}"
    number = number if measured(view) else "not measured"
    link = dcc.Link([html.H2(view.bed.name), html.Span(number, className="number")], href=view_state.bed_href(view.bed.id))
    lines: list[Component] = [
        html.P([html.B(f"{call.flag}."), f" {call.sentence}"])
        if call.call.due is Due.DONE
        else html.P([html.B(call.flag), f": {call.heading}."])
        for call in view.calls
    ]
    if view.fine is not None:
        lines.append(calls.fine(view.fine))
    if view.cool_line is not None:
        lines.append(html.P(view.cool_line.capitalize() + ".", className="note"))
    return html.Li([link, *lines, *([html.P(_heard(view, garden, now_ms), className="note")] if measured(view) else [])])


def _heard(view: BedView, garden: Garden, now_ms: int) -> str:
    if view.behind is not None:
        return view.behind
    if view.heard is Heard.NEVER or view.heard_ms is None:
        return "Nothing heard yet."
    return f"Last heard {theme.when_words(view.heard_ms, now_ms, garden.timezone, garden.units)}."
