"""Addresses that no probe has: what they say now, a tap for each place that they may be given to, and which is in the hand."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import dash
from dash import ALL, Input, Output, State, ctx, dcc, html
from dash.development.base_component import Component

from collector.errors import QuestionError
from collector.model import Bed, Garden, Unclaimed
from collector.query import IN_SOIL, Moved, SoilQueries, Spot, may_be
from collector.units import UNIT_RULES, Quantity, UnitSystem
from dashboard import ids, theme, view_state
from dashboard.components import live
from dashboard.components.probe_words import name_of, what_words
from dashboard.components.probe_words import value as value_words

_CENTIMETRE_M, _INCH_M = 0.01, 0.0254


def register(app: dash.Dash, queries: SoilQueries) -> None:
    """Taps that claim, and the reading in the hand that moves live."""

    @app.callback(
        Output(ids.STRANGERS, "children"),
        Output(ids.stranger_now(ALL), "children"),
        Output(ids.STRANGERS_SEEN, "data"),
        Input(ids.TICK, "n_intervals"),
        State(ids.STRANGERS_SEEN, "data"),
        prevent_initial_call=True,
    )
    def keep_up(_ticks: int, seen: dict[str, str]) -> tuple[Any, ...]:
        return update(queries, seen, [output["id"] for output in ctx.outputs_list[1]])

    @app.callback(
        Output(ids.CLAIMED, "href"),
        Output(ids.CLAIM_SAID, "children"),
        Input(ids.claim(ALL, ALL, ALL, ALL), "n_clicks"),
        State(ids.claim_depth(ALL), "value"),
        State(ids.claim_depth(ALL), "id"),
        prevent_initial_call=True,
    )
    def claim(_taps: object, depths: list[str | None], of: list[dict[str, str]]) -> tuple[Any, Any]:
        typed = {one["address"]: depth for one, depth in zip(of, depths, strict=True)}
        return heed(queries, ctx.triggered_id, ctx.triggered[0]["value"], typed)

    @app.callback(
        Output(ids.HAND, "children"),
        Output(ids.HAND_SINCE, "data"),
        Input(ids.TICK, "n_intervals"),
        Input(ids.HAND_BEGIN, "n_clicks"),
        Input(ids.HAND_END, "n_clicks"),
        State(ids.HAND_SINCE, "data"),
        prevent_initial_call=True,
    )
    def hold(_ticks: int, _begin: int | None, _end: int | None, since_ms: int | None) -> tuple[Any, Any]:
        view = queries.garden()
        if ctx.triggered_id == ids.HAND_BEGIN:
            since_ms = view.now_ms
        elif ctx.triggered_id == ids.HAND_END:
            since_ms = None
        elif since_ms is None:
            raise dash.exceptions.PreventUpdate
        return hand(queries, view.garden, view.now_ms, since_ms), since_ms


def update(queries: SoilQueries, seen: dict[str, str], shown: Sequence[dict[str, Any]]) -> tuple[Any, ...]:
    """What a page that shows `seen` must change: all of it where addresses came or went, else the numbers that moved."""
    view = queries.garden()
    found = queries.claims.strangers()
    fresh = pieces(found, view.garden, view.now_ms)
    now_seen = live.prints(fresh)
    if now_seen == seen:
        raise dash.exceptions.PreventUpdate
    if now_seen["all"] != seen.get("all"):
        return strangers(queries, found, view.garden, view.now_ms), [dash.no_update] * len(shown), now_seen
    return dash.no_update, live.changed(fresh, seen, shown), now_seen


def pieces(found: Sequence[Unclaimed], garden: Garden, now_ms: int) -> dict[str, Any]:
    """Everything that can change, by name."""
    numbers = {live.name(ids.stranger_now(one.address)): _now(one, garden, now_ms) for one in found}
    return {"all": [one.address for one in found], **numbers}


def heed(queries: SoilQueries, tapped: Any, taps: object, typed: dict[str, str | None]) -> tuple[Any, Any]:
    """Does what a tapped place says; a button that has just appeared also reports, with no tap: that is nothing."""
    if not taps or not isinstance(tapped, dict):
        raise dash.exceptions.PreventUpdate
    units = queries.garden().garden.units
    try:
        at = tapped["at"]
        depth_m = _typed_m(typed.get(tapped["address"]), units) if at == "typed" else float(at) if at else None
        asked = (tapped["address"], tapped["bed"], Quantity(tapped["what"]), depth_m)
    except (KeyError, ValueError, TypeError):  # no button of ours says this
        return dash.no_update, [html.P("This tap was not understood. Load the page again.", className="strip trouble")]
    except QuestionError as error:
        return _told(error)
    try:
        probe = queries.claims.claim(*asked)
    except QuestionError as error:
        return _told(error)
    return view_state.claimed_href(probe.id), dash.no_update


def _told(error: QuestionError) -> tuple[Any, Any]:
    """Why it cannot be: its first line as a sentence, what the garden file would not take under it."""
    first, *rest = str(error).split("\n")
    return dash.no_update, [html.P(first, className="strip trouble"), *([html.Pre("\n".join(rest))] if rest else [])]


def _typed_m(text: str | None, units: UnitSystem) -> float:
    """A depth that was typed, in the grower's unit [m]. Raises QuestionError."""
    unit = theme.depth_unit(units)
    try:
        return round(float((text or "").strip().replace(",", ".")) * (_INCH_M if units is UnitSystem.US else _CENTIMETRE_M), 4)
    except ValueError:
        raise QuestionError(f"How deep? Want a number of {unit} below the soil, got {text or 'nothing'}.") from None


# ---------------------------------------------------------------- what is shown


def section(queries: SoilQueries, garden: Garden, now_ms: int) -> list[Component]:
    """All of it, for the page."""
    found = queries.claims.strangers()
    return [
        html.Div(id=ids.CLAIM_SAID, role="status"),
        html.Div(strangers(queries, found, garden, now_ms), id=ids.STRANGERS),
        html.Section([html.H2("Which one is in your hand?"), html.Div(hand(queries, garden, now_ms, None), id=ids.HAND)]),
        dcc.Store(id=ids.STRANGERS_SEEN, data=live.prints(pieces(found, garden, now_ms))),
        dcc.Store(id=ids.HAND_SINCE),
        dcc.Location(id=ids.CLAIMED, refresh=True),
    ]


def strangers(queries: SoilQueries, found: Sequence[Unclaimed], garden: Garden, now_ms: int) -> list[Component]:
    """The addresses, each with the places that it may be given to; nothing where there are none."""
    if not found:
        return []
    rows = [
        html.Li(
            [
                html.Div(_now(one, garden, now_ms), id=ids.stranger_now(one.address)),
                html.Details(
                    [html.Summary("Claim it", className="word-tap"), html.Div(_places(queries, one, garden), className="places")]
                ),
            ],
            id=view_state.anchor(one.address),
        )
        for one in found
    ]
    advice = "These addresses speak, but no probe of the garden file has them. Their numbers are kept, and count from the first "
    return [
        html.Section(
            [html.H2("Not claimed yet"), html.P(advice + "as soon as you say where they are."), html.Ul(rows, className="rows")]
        )
    ]


def _now(one: Unclaimed, garden: Garden, now_ms: int) -> list[Component]:
    when = theme.when_words(one.received_ms, now_ms, garden.timezone, garden.units)
    return [
        html.P(
            [html.Span(one.address, className="name"), html.Span(_number(one, garden.units), className="number")],
            className="pair",
        ),
        html.P(f"Heard {when} by {one.source}", className="note"),
    ]


def _number(one: Unclaimed, units: UnitSystem) -> str:
    """In the grower's unit where the unit tells what it is, else as it came."""
    kinds = may_be(one.unit)
    if one.unit and kinds:
        factor, offset = UNIT_RULES[kinds[0]].accepts[one.unit]
        return value_words(kinds[0], factor * one.value + offset, units)
    return f"{one.value:g} {one.unit}" if one.unit else f"{one.value:g}"


def _places(queries: SoilQueries, one: Unclaimed, garden: Garden) -> list[Component]:
    kinds = may_be(one.unit)
    if not kinds:
        told = f"It speaks in {one.unit or 'no unit'}, which nothing that is measured here has. Let it send a unit of SenML."
        return [html.P(told)]
    parts: list[Component] = []
    for bed in garden.beds:
        parts += [html.H3(bed.name), *_places_in(queries, one, bed, garden, kinds)]
    in_soil = [kind for kind in kinds if kind in IN_SOIL]
    return parts + (_elsewhere(one, garden, in_soil[0]) if in_soil else [])


def _places_in(queries: SoilQueries, one: Unclaimed, bed: Bed, garden: Garden, kinds: Sequence[Quantity]) -> list[Component]:
    spots = queries.claims.free_spots(bed, kinds)
    rows = [[_spot(one, bed, spot, garden), html.Span(spot.why, className="note")] for spot in spots]
    in_air = [kind for kind in kinds if kind not in IN_SOIL]
    rows += [[_button(one, bed, kind, "", what_words(kind).capitalize())] for kind in in_air]
    return [html.P(row, className="spot") for row in rows]


def _elsewhere(one: Unclaimed, garden: Garden, kind: Quantity) -> list[Component]:
    """At a depth that none of the places has."""
    spoken: dict[str, Any] = {"inputMode": "decimal"}
    field = dcc.Input(id=ids.claim_depth(one.address), type="text", value="", **spoken)
    label = html.Label([f"Another depth, {theme.depth_unit(garden.units)}", field], className="another-depth")
    buttons = [_button(one, bed, kind, "typed", f"There in the {bed.name}") for bed in garden.beds]
    return [html.H3("Elsewhere"), html.P([label, *buttons], className="spot")]


def _spot(one: Unclaimed, bed: Bed, spot: Spot, garden: Garden) -> Component:
    words = f"{theme.depth(spot.depth_m, garden.units)} down, {what_words(spot.quantity)}"
    return _button(one, bed, spot.quantity, f"{spot.depth_m:g}", words)


def _button(one: Unclaimed, bed: Bed, kind: Quantity, at: str, words: str) -> Component:
    return html.Button(words, id=ids.claim(one.address, bed.id, kind.value, at), className="tap")


def hand(queries: SoilQueries, garden: Garden, now_ms: int, since_ms: int | None) -> list[Component]:
    """How each thermometer has moved since the hand closed, the one that is in it first."""
    if since_ms is None:
        how = "Tap here, close your hand around one thermometer, and see which one moves. It takes as long as it takes to speak."
        return [html.P(how), html.Button("I hold one now", id=ids.HAND_BEGIN, className="tap"), _hidden(ids.HAND_END)]
    moved, found = queries.claims.in_hand(since_ms)
    since = theme.when_words(since_ms, now_ms, garden.timezone, garden.units)
    if found is not None:
        whose = "not claimed yet" if found.probe is None else f"{_bed_name(garden, found.probe.bed_id)}"
        said = html.P([html.Strong(f"It is {_called(found, garden)}"), f", {whose}."])
        to_claim = [html.P(html.A("Claim it", href=f"#{view_state.anchor(found.address)}", className="plain-link"))]
        told = [said, *(to_claim if found.probe is None else [])]
    else:
        told = [html.P(f"Since {since} none has moved much further than the others. Keep holding.", role="status")]
    most_k = max((abs(one.moved_k) for one in moved), default=0.0) or 1.0
    rows = [_held(one, garden, now_ms, most_k) for one in moved]
    stop = html.Button("Let go", id=ids.HAND_END, className="tap")
    nothing = [html.P("No thermometer has spoken in the last quarter of an hour.")] if not rows else []
    return [*told, *nothing, html.Ul(rows, className="rows"), stop, _hidden(ids.HAND_BEGIN)]


def _hidden(name: str) -> Component:
    """A button that is not there now; the callback that listens to it needs it."""
    return html.Button(id=name, hidden=True)


def _bed_name(garden: Garden, bed_id: str) -> str:
    bed = garden.bed(bed_id)
    return bed_id if bed is None else bed.name


def _called(one: Moved, garden: Garden) -> str:
    return one.address if one.probe is None else f"{one.probe.id}, {name_of(one.probe, garden.units)}"


def _held(one: Moved, garden: Garden, now_ms: int, most_k: float) -> Component:
    by = theme.temperature_difference(one.moved_k, garden.units)
    sign = "" if by.startswith("-") else "+"
    when = theme.when_words(one.last_ms, now_ms, garden.timezone, garden.units)
    numbers = f"{sign}{by} {theme.temperature_unit(garden.units)}"
    said = (
        f"{theme.temperature(one.last_c, garden.units)} at {when}" if one.words else f"has not spoken since; {when} was the last"
    )
    return html.Li(
        [
            html.P([html.Span(_called(one, garden), className="name"), html.Span(numbers, className="number")], className="pair"),
            html.Span(className="moved", style={"--moved": f"{100 * abs(one.moved_k) / most_k:.0f}%"}),
            html.P(said, className="note"),
        ]
    )
