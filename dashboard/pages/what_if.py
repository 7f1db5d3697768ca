"""What if: what a cloth, another cover, another depth or a watering would change at the cloves in the days ahead."""

from __future__ import annotations

from functools import partial
from typing import Any

import dash
from dash import Input, Output, State, dcc, html
from dash.development.base_component import Component

from collector.errors import QuestionError
from collector.model import Bed
from collector.query import SoilQueries
from dashboard import ids, shell, theme, view_state
from dashboard.figures.chart import Reader
from dashboard.figures.two_courses import if_changed


def register(app: dash.Dash, queries: SoilQueries) -> None:
    """Put the page on the app."""
    dash.register_page("what-if", path=view_state.WHAT_IF, title="Cooldepth: what if", layout=partial(layout, queries))  # type: ignore[no-untyped-call]

    @app.callback(
        Output(ids.WHAT_IF_SAID, "children"),
        Input(ids.WHAT_IF_CHANGE, "value"),
        Input(ids.MODE, "data"),
        State(ids.WHAT_IF_BED, "data"),
        prevent_initial_call=True,
    )
    def say(key: str | None, mode: str, bed_id: str) -> list[Component]:
        return said(queries, bed_id, key, mode)


def layout(queries: SoilQueries, /, bed: str | None = None, change: str | None = None, **_unknown: object) -> Component:
    """The whole page: which bed, what to change, and what that would do."""
    beds = queries.garden().garden.beds
    if not beds:
        return shell.nothing_here("The garden file names no bed.")
    here = next((one for one in beds if one.id == bed), beds[0])
    parts: list[Component] = [html.H1("What if?")]
    if len(beds) > 1:
        parts.append(shell.picks("Which bed", [_pick(one, here) for one in beds]))
    view = queries.what_if(here.id)
    if view is None:
        why = (
            "The days ahead are not foreseen for this bed now. The collector does that each hour, "
            "for a bed with a planting in the garden file and some days of readings."
        )
        return html.Div([*parts, html.P(why)], className="plain what-if")
    keys = [one.key for one in view.changes]
    chosen = change if change in keys else keys[0]
    options: Any = [{"label": one.name, "value": one.key} for one in view.changes]
    control = dcc.RadioItems(options, chosen, id=ids.WHAT_IF_CHANGE, className="choices")
    return html.Div(
        [
            *parts,
            html.P(view.headline),
            html.Div(html.Fieldset([html.Legend("With, from now on:"), control], className="field"), className="form"),
            dcc.Store(id=ids.WHAT_IF_BED, data=here.id),
            html.Div(said(queries, here.id, chosen, "light"), id=ids.WHAT_IF_SAID, role="status"),
        ],
        className="plain what-if",
    )


def said(queries: SoilQueries, bed_id: str, key: str | None, mode: str) -> list[Component]:
    """What a change would do, by its key."""
    try:
        view = queries.what_if(bed_id)
    except QuestionError:
        view = None
    found = None if view is None else next((one for one in view.changes if one.key == key), None)
    if view is None or found is None:
        return [html.P("This is no longer offered. Open this page anew.", className="note")]
    garden = queries.garden().garden
    reader = Reader(mode, garden.units, garden.timezone)
    config: Any = theme.GRAPH_CONFIG  # dash has a type of its own for it
    return [
        html.H2(f"{found.name}."),
        html.P(found.sentence),
        dcc.Graph(figure=if_changed(view, found, reader), config=config, className="graph"),
        html.P(
            f"Means of 24 hours at the cloves: the full line with {_small(found.name)}, the dashed one as things are.",
            className="note",
        ),
        *(html.P(note, className="note") for note in view.notes),
    ]


def _pick(bed: Bed, here: Bed) -> Component:
    return dcc.Link(bed.name, href=view_state.what_if_href(bed.id), className=f"pick{' here' if bed == here else ''}")


def _small(text: str) -> str:
    return text[:1].lower() + text[1:]
