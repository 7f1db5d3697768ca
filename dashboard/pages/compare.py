"""Compare: two beds, or one bed in two seasons, beside each other, with how sure each difference is."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any

import dash
from dash import Input, Output, dcc, html
from dash.development.base_component import Component

from collector.errors import QuestionError
from collector.query import Choice, Comparison, SoilQueries
from dashboard import ids, shell, theme, view_state
from dashboard.figures.chart import Reader
from dashboard.figures.two_courses import two_seasons


def register(app: dash.Dash, queries: SoilQueries) -> None:
    """Put the page on the app."""
    dash.register_page("compare", path=view_state.COMPARE, title="Cooldepth: compare", layout=partial(layout, queries))  # type: ignore[no-untyped-call]

    @app.callback(
        Output(ids.COMPARED, "children"),
        Input(ids.COMPARE_FIRST, "value"),
        Input(ids.COMPARE_SECOND, "value"),
        Input(ids.MODE, "data"),
        prevent_initial_call=True,
    )
    def compare(first: str | None, second: str | None, mode: str) -> list[Component]:
        return compared(queries, first, second, mode)


def layout(queries: SoilQueries, /, first: str | None = None, second: str | None = None, **_unknown: object) -> Component:
    """The whole page: the two to compare, and how they differ."""
    choices = queries.seasons.choices()
    if len(choices) < 2:
        return shell.nothing_here(
            "There is one season of one bed so far. A second bed, or next year's planting, can be compared with it."
        )
    keys = [one.key for one in choices]
    left = first if first in keys else keys[0]
    right = second if second in keys else _other(choices, left)
    picks = html.Div(
        [_pick(ids.COMPARE_FIRST, "How was", choices, left), _pick(ids.COMPARE_SECOND, "beside", choices, right)],
        className="form",
    )
    found = html.Div(compared(queries, left, right, "light"), id=ids.COMPARED, role="status")
    return html.Div([html.H1("Which did better?"), picks, found], className="plain compare")


def compared(queries: SoilQueries, first: str | None, second: str | None, mode: str) -> list[Component]:
    """How two seasons differ, by their keys; a sentence where that cannot be said."""
    if not first or not second or first == second:
        return [html.P("Pick two different ones.", className="note")]
    try:
        found = queries.seasons.compare(first, second)
    except QuestionError:
        return [html.P("One of these is no longer in the garden file. Open this page anew.", className="note")]
    garden = queries.garden().garden
    rows = [html.Tr([html.Th(name, scope="row"), html.Td(told)]) for name, told in found.rows]
    return [
        html.H2(found.headline),
        _graph(found, Reader(mode, garden.units, garden.timezone)),
        html.P(f"The full line is {found.first}, the dashed one {found.second}: means of days at the cloves.", className="note"),
        html.Table(html.Tbody(rows), className="beside"),
        *(html.P(note, className="note") for note in found.notes),
    ]


def _graph(found: Comparison, reader: Reader) -> Component:
    config: Any = theme.GRAPH_CONFIG  # dash has a type of its own for it
    return dcc.Graph(figure=two_seasons(found, reader), config=config, className="graph")


def _pick(name: str, label: str, choices: Sequence[Choice], value: str) -> Component:
    options: Any = [{"label": one.name, "value": one.key} for one in choices]
    control = dcc.RadioItems(options, value, id=name, className="choices tall")
    return html.Fieldset([html.Legend(label), control], className="field")


def _other(choices: Sequence[Choice], first: str) -> str:
    """The newest of another bed, else the one before it: what a grower compares most."""
    return next(one.key for one in reversed(choices) if one.key != first)
