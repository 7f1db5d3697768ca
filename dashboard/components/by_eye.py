"""A reading that was taken by eye: whose, what it said, kept with one tap."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import dash
from dash import Input, Output, State, dcc, html
from dash.development.base_component import Component

from collector.errors import QuestionError
from collector.model import Flag, Garden, Probe
from collector.query import SoilQueries
from collector.units import Quantity, UnitSystem
from dashboard import ids, theme
from dashboard.components.probe_words import name_of
from dashboard.components.probe_words import value as value_words

# What can be read by eye, and held against what is true.
KINDS = (Quantity.SOIL_TEMPERATURE, Quantity.SOIL_MOISTURE, Quantity.AIR_TEMPERATURE)


def register(app: dash.Dash, queries: SoilQueries) -> None:
    """The tap that keeps it."""

    @app.callback(
        Output(ids.BY_EYE_SAID, "children"),
        Output(ids.BY_EYE_VALUE, "value"),
        Input(ids.BY_EYE_KEEP, "n_clicks"),
        State(ids.BY_EYE_PROBE, "value"),
        State(ids.BY_EYE_VALUE, "value"),
        prevent_initial_call=True,
    )
    def keep(_taps: int, probe_id: str | None, text: str | None) -> tuple[str, Any]:
        return heed(queries, probe_id, text)


def section(garden: Garden) -> list[Component]:
    """The form; nothing where there is no probe to enter a reading for."""
    probes = [probe for probe in garden.probes if probe.quantity in KINDS]
    if not probes:
        return []
    spoken: dict[str, Any] = {"inputMode": "decimal"}
    unit = f"{theme.temperature_unit(garden.units)}, or % by volume"
    return [
        html.Details(
            [
                html.Summary("Enter a reading that you took by eye", className="word-tap"),
                html.Div(
                    [
                        dcc.RadioItems(
                            probe_choices(probes, garden), probes[0].id, id=ids.BY_EYE_PROBE, className="choices tall"
                        ),
                        html.Label([f"It says, {unit}", dcc.Input(id=ids.BY_EYE_VALUE, type="text", value="", **spoken)]),
                        html.Button("Keep it", id=ids.BY_EYE_KEEP, className="tap"),
                        html.P(id=ids.BY_EYE_SAID, role="status"),
                    ],
                    className="form by-eye",
                ),
            ]
        )
    ]


def probe_choices(probes: Sequence[Probe], garden: Garden) -> list[dict[str, str]]:
    """Probes to choose from, by bed and place."""
    names = {bed.id: bed.name for bed in garden.beds}
    return [{"label": f"{names[probe.bed_id]}: {name_of(probe, garden.units)}", "value": probe.id} for probe in probes]


def heed(queries: SoilQueries, probe_id: str | None, text: str | None) -> tuple[str, Any]:
    """What is said, and the empty field, once it is kept; else why not."""
    garden = queries.garden().garden
    try:
        probe, number = understood(garden, probe_id, text, "What does it say?")
        kept = queries.by_hand.enter(probe.id, number)
    except QuestionError as error:
        return str(error), dash.no_update
    odd = " It is odd, and marked as such: is it the right probe?" if kept.flags & ~Flag.AS_TOLD else ""
    return f"Kept: {name_of(probe, garden.units)}, {value_words(probe.quantity, kept.value, garden.units)}.{odd}", ""


def understood(garden: Garden, probe_id: str | None, text: str | None, asked: str) -> tuple[Probe, float]:
    """The probe that was chosen, and the number that was typed for it, in the unit inside. Raises QuestionError."""
    probe = next((one for one in garden.probes if one.id == probe_id), None)
    try:
        number = float((text or "").strip().replace(",", "."))
    except ValueError:
        raise QuestionError(f"{asked} Want a number, got {text or 'nothing'}.") from None
    if probe is None:
        raise QuestionError("This probe is no longer in the garden file. Load the page again.")
    return probe, _inside(number, probe.quantity, garden.units)


def _inside(number: float, quantity: Quantity, units: UnitSystem) -> float:
    """The number in the unit inside, out of the one that the grower reads."""
    if quantity is Quantity.SOIL_MOISTURE:
        return number / 100
    return round((number - 32) / 1.8, 6) if units is UnitSystem.US else number
