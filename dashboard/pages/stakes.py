"""Stakes: every probe, when it was last heard, what is wrong with it, and who speaks without being known."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import dash
from dash import Input, Output, dcc, html
from dash.development.base_component import Component

from collector.model import Garden, Probe
from collector.query import BedView, GardenView, Heard, ProbeView, SoilQueries, mounting
from dashboard import ids, theme, view_state
from dashboard.components import by_eye, claiming, truing
from dashboard.components.probe_words import name_of, value


def register(app: dash.Dash, queries: SoilQueries) -> None:
    """Put the page on the app."""
    dash.register_page("stakes", path=view_state.STAKES, title="Cooldepth: stakes", layout=partial(layout, queries))  # type: ignore[no-untyped-call]

    @app.callback(Output(ids.STAKES_LIST, "children"), Input(ids.SLOW_TICK, "n_intervals"), prevent_initial_call=True)
    def draw_stakes(_ticks: int) -> list[Component]:
        return stakes_list(queries.garden())

    claiming.register(app, queries)
    by_eye.register(app, queries)
    truing.register(app, queries)


def layout(queries: SoilQueries, /, claimed: str | None = None, **_unknown: object) -> Component:
    """The whole page; after a claim it says what was claimed."""
    view = queries.garden()
    probe = next((one for one in view.garden.probes if one.id == claimed), None)
    said = [] if probe is None else [html.P(_claimed(probe, view.garden), className="strip", role="status")]
    return html.Div(
        [
            *said,
            html.Div(stakes_list(view), id=ids.STAKES_LIST),
            *claiming.section(queries, view.garden, view.now_ms),
            *by_eye.section(view.garden),
            *truing.section(queries, view),
        ],
        className="plain stakes",
    )


def _claimed(probe: Probe, garden: Garden) -> str:
    bed = garden.bed(probe.bed_id)
    where = "" if bed is None else f"{bed.name}, "
    return f"Claimed. {where}{name_of(probe, garden.units)}: that is {probe.address}. The garden file has it as {probe.id}."


def stakes_list(view: GardenView) -> list[Component]:
    """The sentence that sums up, and the probes of each bed."""
    parts: list[Component] = [html.H1(heading([probe for bed in view.beds for probe in bed.probes]))]
    return parts + [_bed(bed, view.garden, view.now_ms) for bed in view.beds]


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


def _bed(view: BedView, garden: Garden, now_ms: int) -> Component:
    order = {probe.id: place for place, probe in enumerate(mounting.in_order(view.bed.probes))}
    rows = [_probe(probe, garden, now_ms) for probe in sorted(view.probes, key=lambda one: order[one.probe.id])]
    nothing = html.P("The garden file names no probe in this bed.")
    where = dcc.Link("Where probes go in this bed", href=view_state.mounting_href(view.bed.id), className="plain-link")
    return html.Section([html.H2(view.bed.name), html.Ul(rows, className="rows") if rows else nothing, html.P(where)])


def _probe(view: ProbeView, garden: Garden, now_ms: int) -> Component:
    last = view.last
    said = value(view.probe.quantity, last.value, garden.units) if last is not None else "nothing"
    shown = said if view.heard in {Heard.FRESH, Heard.LATE} else "not known"  # an old number must not pass for a new one
    name = html.Span(name_of(view.probe, garden.units), className="name")
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
            lines.append(html.P(f"Silent since {heard}, when it said {said}", className="unknown"))
        case Heard.NEVER:
            lines.append(html.P(f"Nothing heard yet from {view.probe.address}", className="unknown"))
    if view.fault is not None:
        lines.append(html.P(html.Strong(view.fault)))
    return html.Li(lines)
