"""The slider under a cut: back through what was, and on through what is expected."""

from __future__ import annotations

import dash
from dash import ClientsideFunction, Input, Output, dcc, html
from dash.development.base_component import Component

from collector.query import BedView, GardenView
from dashboard import ids, theme

HOUR_MS = 3_600_000
# So far back it goes, in steps of an hour; forward as far as is foreseen.
BACK_H = 72


def slider(view: BedView, garden: GardenView) -> Component:
    """The slider with what it shows said beside it."""
    foreseen_h = last_h(view, garden.now_ms)
    use = "Slide for what was" + (" and what is expected." if foreseen_h else ".")
    names = {"rail": ids.HOURS_OFF_RAIL, "slider": ids.HOURS_OFF_SLIDER, "store": ids.HOURS_OFF}
    rail = html.Div(id=ids.HOURS_OFF_RAIL, className="rail", style={"--now": f"{BACK_H / (BACK_H + foreseen_h):.2%}"})
    said = html.Output(said_of(0, garden), id=ids.HOURS_OFF_SAID)
    label = html.Label([html.B(said), html.Span(use, className="note")], htmlFor=ids.HOURS_OFF_SLIDER)
    stores = [
        dcc.Store(id=ids.HOURS_OFF, data=0),
        dcc.Store(id=ids.HOURS_OFF_REACH, data={"first": -BACK_H, "last": foreseen_h, **names}),
    ]
    return html.Div([label, rail, *stores], className="through-time")


def register(app: dash.Dash) -> None:
    """The script that lays the slider into its place."""
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction("through_time", "lay"),
        Output(ids.HOURS_OFF_RAIL, "data-laid"),
        Input(ids.HOURS_OFF_REACH, "data"),
    )


def last_h(view: BedView, now_ms: int) -> int:
    """Hours from now to the last that is foreseen; none where nothing is."""
    outlook = view.state.outlook
    if outlook is None or outlook.temperature is None:
        return 0
    return max((int(outlook.temperature.time_ms[-1]) - now_ms) // HOUR_MS, 0)


def said_of(hours: int, garden: GardenView) -> str:
    """Which moment the cut shows, in words."""
    if hours == 0:
        return "The bed now"
    now_ms, words = garden.now_ms, garden.garden
    when = theme.when_words(now_ms + hours * HOUR_MS, now_ms, words.timezone, words.units)
    when = when[0].upper() + when[1:]
    return f"{when}, as it was" if hours < 0 else f"{when}, expected if nothing is done"


def hours_of(value: object) -> int:
    """What the slider says, as whole hours from now."""
    if not isinstance(value, (int, float)):
        raise dash.exceptions.PreventUpdate
    return round(value)
