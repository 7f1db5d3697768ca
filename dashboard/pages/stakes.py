"""Stakes: every probe, when it was last heard, what is wrong with it, and who speaks without being known."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import dash
from dash import Input, Output, html
from dash.development.base_component import Component

from collector.model import Garden, Probe, Unclaimed
from collector.query import BedView, Heard, ProbeView, SoilQueries
from collector.units import Quantity, UnitSystem
from dashboard import ids, theme, view_state

QUANTITY_WORDS = {
    Quantity.SOIL_TEMPERATURE: "soil temperature",
    Quantity.SOIL_MOISTURE: "soil moisture",
    Quantity.AIR_TEMPERATURE: "air temperature",
    Quantity.RELATIVE_HUMIDITY: "humidity of the air",
    Quantity.SOLAR_IRRADIANCE: "sunshine",
    Quantity.WIND_SPEED: "wind",
    Quantity.RAIN: "rain",
    Quantity.BATTERY: "battery",
}


def register(app: dash.Dash, queries: SoilQueries) -> None:
    """Put the page on the app."""
    dash.register_page("stakes", path=view_state.STAKES, title="Cooldepth: stakes", layout=partial(layout, queries))  # type: ignore[no-untyped-call]

    @app.callback(Output(ids.STAKES_LIST, "children"), Input(ids.SLOW_TICK, "n_intervals"), prevent_initial_call=True)
    def draw_stakes(_ticks: int) -> list[Component]:
        return stakes_list(queries)


def layout(queries: SoilQueries, /, **_unknown: object) -> Component:
    """The whole page."""
    return html.Div(html.Div(stakes_list(queries), id=ids.STAKES_LIST), className="plain stakes")


def stakes_list(queries: SoilQueries) -> list[Component]:
    """The sentence that sums up, the probes of each bed, and the addresses that no probe has."""
    view = queries.garden()
    parts: list[Component] = [html.H1(heading([probe for bed in view.beds for probe in bed.probes]))]
    parts += [_bed(bed, view.garden, view.now_ms) for bed in view.beds]
    unclaimed = queries.unclaimed()
    return [*parts, _unclaimed(unclaimed, view.garden, view.now_ms)] if unclaimed else parts


def heading(probes: Sequence[ProbeView]) -> str:
    """How the probes are, in a sentence."""
    if not probes:
        return "No probes yet."
    quiet = sum(probe.heard in {Heard.SILENT, Heard.NEVER} for probe in probes)
    behind = sum(probe.heard is Heard.BEHIND for probe in probes)
    faulty = sum(probe.fault is not None and probe.heard in {Heard.FRESH, Heard.LATE} for probe in probes)
    told = [f"{quiet} of {len(probes)} silent"] if quiet else []
    told += [f"{behind} of {len(probes)} catching up"] if behind else []
    told += [f"{faulty} of {len(probes)} with a fault"] if faulty else []
    if told:
        return f"Probes: {', '.join(told)}."
    return "The one probe speaks." if len(probes) == 1 else f"All {len(probes)} probes speak."


def value_words(quantity: Quantity, value: float, units: UnitSystem) -> str:
    """A reading with its unit, to the decimals that such a sensor can keep."""
    match quantity:
        case Quantity.SOIL_TEMPERATURE | Quantity.AIR_TEMPERATURE:
            return theme.temperature(value, units)
        case Quantity.SOIL_MOISTURE:
            return f"{value * 100:.0f} % by volume"
        case Quantity.RELATIVE_HUMIDITY:
            return f"{value:.0f} %"
        case Quantity.SOLAR_IRRADIANCE:
            return f"{value:.0f} W/m²"
        case Quantity.WIND_SPEED:
            return theme.wind(value, units)
        case Quantity.RAIN:
            return theme.water_depth(value, units)
        case Quantity.BATTERY:
            return f"{value:.2f} V"


def _bed(view: BedView, garden: Garden, now_ms: int) -> Component:
    rows = [_probe(probe, garden, now_ms) for probe in view.probes]
    nothing = html.P("The garden file names no probe in this bed.")
    return html.Section([html.H2(view.bed.name), html.Ul(rows, className="rows") if rows else nothing])


def _probe(view: ProbeView, garden: Garden, now_ms: int) -> Component:
    last = view.last
    value = value_words(view.probe.quantity, last.value, garden.units) if last is not None else "nothing"
    shown = value if view.heard in {Heard.FRESH, Heard.LATE} else "not known"  # an old number must not pass for a new one
    name = html.Span(_name(view.probe, garden.units), className="name")
    heard = theme.when_words(last.measured_ms, now_ms, garden.timezone, garden.units) if last is not None else None
    lines: list[Component] = [html.P([name, html.Span(shown, className="number")], className="pair")]
    match view.heard:
        case Heard.FRESH:
            lines.append(html.P(f"Heard {heard}. {view.probe.id}", className="note"))
        case Heard.LATE:
            lines.append(html.P(f"Late: last heard {heard}", className="unknown"))
        case Heard.BEHIND:
            lines.append(html.P(f"Catching up: up to {heard} its readings are in", className="unknown"))
        case Heard.SILENT:
            lines.append(html.P(f"Silent since {heard}, when it said {value}", className="unknown"))
        case Heard.NEVER:
            lines.append(html.P(f"Nothing heard yet from {view.probe.address}", className="unknown"))
    if view.fault is not None:
        lines.append(html.P(html.Strong(view.fault)))
    return html.Li(lines)


def _name(probe: Probe, units: UnitSystem) -> str:
    words = QUANTITY_WORDS[probe.quantity]
    return words.capitalize() if probe.depth_m is None else f"{theme.depth(probe.depth_m, units)} down, {words}"


def _unclaimed(unclaimed: Sequence[Unclaimed], garden: Garden, now_ms: int) -> Component:
    rows = [
        html.Li(
            [
                html.P([html.Span(one.address, className="name"), html.Span(_number(one), className="number")], className="pair"),
                html.P(
                    f"Heard {theme.when_words(one.received_ms, now_ms, garden.timezone, garden.units)} by {one.source}",
                    className="note",
                ),
            ]
        )
        for one in unclaimed
    ]
    advice = "These addresses speak, but no probe of the garden file has them. Their numbers are kept as they came."
    how = 'To claim one, give it to a probe there: address = "…". Warm a thermometer in your hand to find out which it is.'
    return html.Section([html.H2("Not in the garden file"), html.P(advice), html.P(how), html.Ul(rows, className="rows")])


def _number(one: Unclaimed) -> str:
    return f"{one.value:g} {one.unit}" if one.unit else f"{one.value:g}"
