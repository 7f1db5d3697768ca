"""Mounting: where the probes of a bed go, drawn to scale, why there, and how they get there."""

from __future__ import annotations

from functools import partial
from typing import Any

import dash
from dash import Input, Output, State, dcc, html
from dash.development.base_component import Component

from collector.model import Bed, Garden
from collector.query import SoilQueries, Spot, mounted, mounting
from collector.units import Quantity, UnitSystem
from dashboard import ids, shell, theme, view_state
from dashboard.components.cut_view import UNSPOKEN
from dashboard.components.probe_words import name_of, what_words

# How deep the drawing goes, at the least and at the most, and below the deepest probe.
_BELOW_M, _BELOW_MOST_M, _BELOW_PROBE_M = 0.40, 1.20, 0.06


def register(app: dash.Dash, queries: SoilQueries) -> None:
    """Put the page on the app."""
    dash.register_page("mounting", path=view_state.MOUNTING, title="Cooldepth: mounting", layout=partial(layout, queries))  # type: ignore[no-untyped-call]

    @app.callback(Output(ids.MOUNTED, "children"), Input(ids.SLOW_TICK, "n_intervals"), State(ids.MOUNTED_BED, "data"))
    def look_again(_ticks: int, bed_id: str) -> list[Component]:
        garden = queries.garden().garden
        bed = garden.bed(bed_id)
        return [] if bed is None else looks(queries, bed, garden)


def layout(queries: SoilQueries, /, bed: str | None = None, **_unknown: object) -> Component:
    """The whole page, of the bed that the address names or the first."""
    garden = queries.garden().garden
    here = garden.bed(bed or "") or next(iter(garden.beds), None)
    if here is None:
        return shell.nothing_here("The garden file names no bed.")
    spots = queries.claims.spots(here)
    others = [
        dcc.Link(one.name, href=view_state.mounting_href(one.id), className="word-tap here" if one is here else "word-tap")
        for one in garden.beds
    ]
    return html.Div(
        [
            html.H1(f"Probes in the {here.name}."),
            *([shell.picks("Which bed", others)] if len(others) > 1 else []),
            html.P("Depths count from the soil, under the covers. Filled: it is there. Hollow: worth a probe.", className="note"),
            _drawing(here, spots, garden.units),
            html.Section([html.H2("Why there"), html.Ul([_why(spot, here, garden) for spot in spots], className="rows")]),
            html.Section([html.H2("How"), html.Ol([html.Li(step) for step in mounting.STEPS], className="steps")]),
            html.Section([html.H2("What can hurt"), html.Ul([html.Li(one) for one in mounting.CAUTIONS], className="cautions")]),
            html.P(dcc.Link("Then say which probe is where", href=view_state.STAKES, className="plain-link")),
            html.Section([html.H2("Does it sit well?"), html.Div(looks(queries, here, garden), id=ids.MOUNTED)]),
            dcc.Store(id=ids.MOUNTED_BED, data=here.id),
        ],
        className="plain mounting",
    )


def looks(queries: SoilQueries, bed: Bed, garden: Garden) -> list[Component]:
    """What the first hour after mounting tells, and the first two days: a sentence, and a line for each probe."""
    found = queries.claims.mounted(bed)
    return [html.P(html.Strong(mounted.summary(found))), html.Ul([_look(one, garden) for one in found], className="rows")]


def _look(look: mounted.Look, garden: Garden) -> Component:
    name = "Their order" if look.probe is None else name_of(look.probe, garden.units)
    told = html.Strong(look.words) if look.how is mounted.How.ODD else look.words
    return html.Li(
        [
            html.P([html.Span(name, className="name"), html.Span(look.how.value, className="number")], className="pair"),
            html.P(told, className="unknown" if look.how is mounted.How.WAIT else "note"),
        ]
    )


def _why(spot: Spot, bed: Bed, garden: Garden) -> Component:
    there = "there" if mounting.is_there(spot, bed) else "not there yet"
    name = f"{theme.depth(spot.depth_m, garden.units)} down, {what_words(spot.quantity)}"
    return html.Li(
        [
            html.P([html.Span(name, className="name"), html.Span(there, className="number")], className="pair"),
            html.P(spot.why, className="note"),
        ]
    )


def _drawing(bed: Bed, spots: tuple[Spot, ...], units: UnitSystem) -> Component:
    """The cut to scale: covers over the soil, the cloves, and a staff with thermometers on its left and moisture on its right."""
    above_m = max(sum(cover.thickness_m for cover in bed.covers), 0.03)
    deepest_m = max((probe.depth_m or 0.0 for probe in bed.probes), default=0.0)
    below_m = min(max(_BELOW_M, deepest_m + _BELOW_PROBE_M), _BELOW_MOST_M)
    parts: list[Component] = [html.Span(className="ground"), html.Span(className="staff")]
    top_m = 0.0
    for cover in bed.covers:
        top_m += cover.thickness_m
        size = {"--from": f"{-top_m * 100:g}", "--thick": f"{cover.thickness_m * 100:g}"}
        label = f"{cover.material}, {theme.depth(cover.thickness_m, units)}"
        parts.append(html.Span(html.Span(label), className="cover", style=size))
    cloves = sorted({planting.depth_m for planting in bed.plantings})
    parts += [html.Span(html.Span("clove"), className="clove", style={"--from": f"{depth_m * 100:g}"}) for depth_m in cloves]
    there = {(probe.quantity, probe.depth_m) for probe in bed.probes if probe.depth_m is not None and probe.depth_m < below_m}
    free = {(spot.quantity, spot.depth_m) for spot in spots if not mounting.is_there(spot, bed)}
    for quantity, depth_m in sorted(there | free, key=lambda one: (one[1], one[0].value)):
        side = "left" if quantity is Quantity.SOIL_TEMPERATURE else "right"
        how = "there" if (quantity, depth_m) in there else "free"
        label = f"{theme.depth(depth_m, units)}{'' if side == 'left' else ', moisture'}"
        parts.append(html.Span(html.Span(label), className=f"spot-at {side} {how}", style={"--from": f"{depth_m * 100:g}"}))
    style: dict[str, Any] = {"--above": f"{above_m * 100:g}", "--below": f"{below_m * 100:g}"}
    return html.Div(parts, className="mounting-cut", style=style, **UNSPOKEN)
