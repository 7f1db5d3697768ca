"""Calibrating a probe where it stands: what is true there now, kept with one tap; what holds, and taking it back."""

from __future__ import annotations

from typing import Any

import dash
from dash import ALL, Input, Output, State, ctx, dcc, html
from dash.development.base_component import Component

from collector.errors import QuestionError
from collector.model import Garden, Probe
from collector.query import Calibration, GardenView, SoilQueries
from dashboard import ids, theme
from dashboard.components.by_eye import KINDS, probe_choices, understood
from dashboard.components.probe_words import name_of
from dashboard.components.probe_words import value as value_words

JOIN = "join"


def register(app: dash.Dash, queries: SoilQueries) -> None:
    """The taps that keep one, and that take one back."""

    @app.callback(
        Output(ids.TRUE_SAID, "children"),
        Output(ids.TRUE_VALUE, "value"),
        Output(ids.TRUE_LIST, "children"),
        Input(ids.TRUE_KEEP, "n_clicks"),
        Input(ids.take_back(ALL), "n_clicks"),
        State(ids.TRUE_PROBE, "value"),
        State(ids.TRUE_VALUE, "value"),
        State(ids.TRUE_NOTE, "value"),
        State(ids.TRUE_JOIN, "value"),
        prevent_initial_call=True,
    )
    def keep(
        _taps: int, backs: list[int | None], probe_id: str | None, text: str | None, note: str | None, join: list[str] | None
    ) -> tuple[Any, Any, Any]:
        tapped = ctx.triggered_id
        if isinstance(tapped, dict):
            if not any(backs):  # a button that has just appeared reports too
                raise dash.exceptions.PreventUpdate
            return heed_back(queries, int(tapped["number"]))
        return heed(queries, probe_id, text, note or "", JOIN in (join or []))


def section(queries: SoilQueries, view: GardenView) -> list[Component]:
    """The form and what holds; nothing where there is no probe to calibrate."""
    garden = view.garden
    probes = [probe for probe in garden.probes if probe.quantity in KINDS]
    if not probes:
        return []
    spoken: dict[str, Any] = {"inputMode": "decimal"}
    unit = f"{theme.temperature_unit(garden.units)}, or % by volume"
    ice = theme.temperature(0.0, garden.units)
    return [
        html.Details(
            [
                html.Summary("Calibrate a probe", className="word-tap"),
                html.Div(
                    [
                        html.P(
                            f"Stir the thermometer in melting ice for ten minutes: {ice} is true there. A moisture probe, in a "
                            "pot of your dry soil, then in one as wet as it holds. What it sent before stays as it was.",
                            className="note",
                        ),
                        dcc.RadioItems(probe_choices(probes, garden), probes[0].id, id=ids.TRUE_PROBE, className="choices tall"),
                        html.Label([f"True there now, {unit}", dcc.Input(id=ids.TRUE_VALUE, type="text", value="", **spoken)]),
                        html.Label(["How it was found", dcc.Input(id=ids.TRUE_NOTE, type="text", value="")]),
                        dcc.Checklist(
                            [{"label": "Keep the points before it too", "value": JOIN}],
                            [],
                            id=ids.TRUE_JOIN,
                            className="choices tall",
                        ),
                        html.Button("Calibrate from now on", id=ids.TRUE_KEEP, className="tap"),
                        html.P(id=ids.TRUE_SAID, role="status"),
                        html.Div(holding(queries, view), id=ids.TRUE_LIST),
                    ],
                    className="form by-eye",
                ),
            ]
        )
    ]


def holding(queries: SoilQueries, view: GardenView) -> list[Component]:
    """The calibrations that hold, the newest first, each with a way back."""
    rows = [_row(probe, one, view.garden, view.now_ms) for probe, one in queries.calibrating.holding()]
    return [html.Ul(rows, className="rows")] if rows else [html.P("No calibration holds.", className="note")]


def _row(probe: Probe, one: Calibration, garden: Garden, now_ms: int) -> Component:
    since = "always" if one.from_ms == 0 else f"since {theme.when_words(one.from_ms, now_ms, garden.timezone, garden.units)}"
    note = f" {one.note}" if one.note else ""
    return html.Li(
        [
            html.P([html.Span(_where(probe, garden), className="name"), html.Span(since, className="number")], className="pair"),
            html.P(f"{curve_words(probe, one, garden)}.{note}", className="note"),
            html.Button("Take it back", id=ids.take_back(one.number), className="word-tap"),
        ]
    )


def curve_words(probe: Probe, one: Calibration, garden: Garden) -> str:
    """ "What said 0.4 °C is 0 °C": a curve through points; of another kind, its name."""
    curve = one.curve
    if not curve.points:
        return f"By the curve {curve.kind.value}"
    usual = curve.takes in ("Cel", "/")

    def words(number: float) -> str:
        return value_words(probe.quantity, number, garden.units)

    points = [f"{words(sent) if usual else f'{sent:g} {curve.takes}'} is {words(true)}" for sent, true in curve.points]
    return f"What said {', '.join(points)}"


def heed(queries: SoilQueries, probe_id: str | None, text: str | None, note: str, join: bool) -> tuple[Any, Any, Any]:
    """What is said, the empty field and the list, once it is kept; else why not."""
    view = queries.garden()
    garden = view.garden
    try:
        probe, number = understood(garden, probe_id, text, "What is true there?")
        one = queries.calibrating.true_now(probe.id, number, note.strip(), join=join)
    except QuestionError as error:
        return str(error), dash.no_update, dash.no_update
    return f"Kept. {_where(probe, garden)}: {curve_words(probe, one, garden)}, from now on.", "", holding(queries, view)


def heed_back(queries: SoilQueries, number: int) -> tuple[Any, Any, Any]:
    """Take one back, and say so."""
    try:
        one = queries.calibrating.take_back(number)
    except QuestionError as error:
        return str(error), dash.no_update, dash.no_update
    told = f"Taken back. What {one.probe_id} has said since then is worked out anew within minutes."
    return told, dash.no_update, holding(queries, queries.garden())


def _where(probe: Probe, garden: Garden) -> str:
    bed = garden.bed(probe.bed_id)
    return f"{probe.bed_id if bed is None else bed.name}: {name_of(probe, garden.units)}"
