"""Bed: one bed in full. The cut now with staff, stake and key, what is due, and how it came here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from typing import Any

import dash
from dash import ALL, Input, Output, State, ctx, dcc, html
from dash.development.base_component import Component

from collector.errors import QuestionError
from collector.query import BedHistory, BedView, GardenView, SoilQueries
from dashboard import ids, shell, theme, view_state
from dashboard.components import bed_heading, calls, cut_view, live, nature, through_time
from dashboard.components.key import key
from dashboard.components.stake import stake
from dashboard.components.wetted import wetted
from dashboard.figures import ahead
from dashboard.figures.chart import INVISIBLE, Figure, Finding, Reader
from dashboard.figures.cut_frame import Frame
from dashboard.figures.depth_time import depth_time, depth_time_ahead
from dashboard.figures.depth_words import depth_time_finding
from dashboard.figures.temperature_words import temperatures_finding
from dashboard.figures.temperatures import temperatures
from dashboard.figures.water import water
from dashboard.figures.water_words import water_finding
from dashboard.view_state import BedAddress

# A graph that has not been drawn yet: no axes of nothing.
_NO_AXIS = {"visible": False, "fixedrange": True}
_NO_GROUND = {"paper_bgcolor": INVISIBLE, "plot_bgcolor": INVISIBLE}
_BLANK: Figure = {"data": [], "layout": {"xaxis": _NO_AXIS, "yaxis": _NO_AXIS, **_NO_GROUND}}
CHARTS = ("depth-time", "depth-ahead", "temperatures", "water")
_SPAN_WORDS = {1: "a day", 3: "3 days", 7: "7 days", 30: "30 days", 365: "a year"}


def register(app: dash.Dash, queries: SoilQueries) -> None:
    """Put the page on the app. Taps and pictures are registered with Today."""
    dash.register_page("bed", path_template=view_state.BED, title="Cooldepth: bed", layout=partial(layout, queries))  # type: ignore[no-untyped-call]
    through_time.register(app)

    @app.callback(
        Output(ids.BED_SEEN, "data"),
        Output(ids.part(cut_view.BED, ALL, ALL), "children"),
        Output(ids.cut_now(cut_view.BED, ALL), "data"),
        Input(ids.TICK, "n_intervals"),
        Input(ids.TOLD, "data"),
        State(ids.BED_SEEN, "data"),
        State(ids.BED_ADDRESS, "data"),
        State(ids.HOURS_OFF, "data"),
        prevent_initial_call=True,
    )
    def keep_up(_ticks: int, _told: object, seen: dict[str, str], address: dict[str, Any], off: object) -> tuple[Any, ...]:
        parts, cuts = ([output["id"] for output in outputs] for outputs in ctx.outputs_list[1:])
        return update(queries, address["bed_id"], seen, parts, cuts, elsewhen=through_time.hours_of(off or 0) != 0)

    @app.callback(
        Output(ids.HOURS_OFF_SAID, "children"),
        Output(ids.part(cut_view.BED, ALL, "labels"), "children", allow_duplicate=True),
        Output(ids.cut_now(cut_view.BED, ALL), "data", allow_duplicate=True),
        Input(ids.HOURS_OFF, "data"),
        State(ids.BED_ADDRESS, "data"),
        prevent_initial_call=True,
    )
    def go_to(off: object, address: dict[str, Any]) -> tuple[Any, ...]:
        said, labels, cut = at_another_time(queries, address["bed_id"], through_time.hours_of(off))
        return said, [labels], [cut]

    @app.callback(
        Output(ids.CHARTS_SEEN, "data"),
        Output(ids.chart_words(ALL), "children"),
        Output(ids.chart(ALL), "figure"),
        Output(ids.BED_NATURE, "children"),
        Input(ids.SLOW_TICK, "n_intervals"),
        Input(ids.MODE, "data"),
        Input(ids.BED_ADDRESS, "data"),
        State(ids.CHARTS_SEEN, "data"),
    )
    def draw(_ticks: int, mode: str, address: dict[str, Any], seen: str | None) -> tuple[Any, ...]:
        return charts(queries, view_state.bed_address(**address), mode, seen)

    @app.callback(
        Output(ids.CLOSER, "children"),
        Input(ids.chart(ALL), "clickData"),
        State(ids.BED_ADDRESS, "data"),
        prevent_initial_call=True,
    )
    def look_closer(_taps: object, address: dict[str, Any]) -> list[Component]:
        return closer(view_state.bed_address(**address), ctx.triggered[0]["value"], queries.garden())


def layout(queries: SoilQueries, /, bed_id: str | None = None, **asked: Any) -> Component:
    """The whole page; for a bed that is not there, a sentence that says so."""
    address = view_state.bed_address(bed_id, **asked)
    try:
        view, garden = queries.bed(address.bed_id), queries.garden()
    except QuestionError:
        return shell.nothing_here(f"The garden file names no bed with the id {address.bed_id!r}.")
    frame = cut_view.frame_of(view, garden, cut_view.BED)
    shown = pieces(view, garden)
    part_ids = {name: ids.part(cut_view.BED, view.bed.id, name) for name in ("head", "labels", "calls", "key")}
    parts = {name: html.Div(shown[live.name(id_)], id=id_, className=f"bed-{name}") for name, id_ in part_ids.items()}
    drawn = shown[live.name(ids.cut_now(cut_view.BED, view.bed.id))]
    cut = html.Div([*cut_view.canvas(view.bed.id, cut_view.BED, drawn), parts["labels"]], className="cut")
    return html.Div(
        [
            parts["head"],
            html.Div(
                [
                    chart_place("depth-time"),
                    chart_place("depth-ahead"),
                    html.Div([cut, through_time.slider(view, garden)], className="cut-place"),
                    parts["key"],
                    parts["calls"],
                    spans(address, garden),
                ],
                className="ground",
                style=widths(address),
            ),
            html.Div([chart_place("temperatures"), chart_place("water")], className="charts"),
            html.Section(id=ids.BED_NATURE, className="chart nature"),
            html.P(_what_if(view), className="chart nature"),
            dcc.Store(id=ids.BED_ADDRESS, data={"bed_id": address.bed_id, "days": address.days, "until": address.until_ms}),
            dcc.Store(id=ids.BED_SEEN, data=live.prints(shown)),
            dcc.Store(id=ids.CHARTS_SEEN),
            dcc.Store(id=ids.TOLD),
        ],
        className="one-bed",
        style={**cut_view.cut_size(frame), "--cm": f"{frame.px_per_cm:.3f}px"},
    )


def _what_if(view: BedView) -> Component:
    words = "What if it had a cloth, more mulch, or water?"
    return dcc.Link(words, href=view_state.what_if_href(view.bed.id), className="plain-link")


def update(
    queries: SoilQueries,
    bed_id: str,
    seen: dict[str, str],
    parts: Sequence[dict[str, Any]],
    cuts: Sequence[dict[str, Any]],
    *,
    elsewhen: bool = False,
) -> tuple[Any, ...]:
    """What a page that shows `seen` must change, and what it shows then; the cut stays where it shows another time."""
    fresh = pieces(queries.bed(bed_id), queries.garden())
    now_seen = live.prints(fresh)
    if now_seen == seen:
        raise dash.exceptions.PreventUpdate
    if elsewhen:
        fresh = {key: content for key, content in fresh.items() if key not in _cut_pieces(bed_id)}
    return now_seen, live.changed(fresh, seen, parts), live.changed(fresh, seen, cuts)


def at_another_time(queries: SoilQueries, bed_id: str, hours: int) -> tuple[str, Any, Any]:
    """The moment so many hours from now in words, and the labels and the changing half of the cut as they were or will be."""
    garden = queries.garden()
    now_ms = garden.now_ms
    try:
        view = queries.bed(bed_id) if hours == 0 else queries.bed_at(bed_id, now_ms + hours * through_time.HOUR_MS)
    except QuestionError:  # the outlook that the slider was made for is gone
        return "Not foreseen so far ahead", dash.no_update, dash.no_update
    frame = cut_view.frame_of(view, garden, cut_view.BED)
    said = through_time.said_of(hours, garden)
    return said, cut_labels(view, frame, garden), cut_view.picture(view, frame, cut_view.BED)


def _cut_pieces(bed_id: str) -> tuple[str, str]:
    return live.name(ids.part(cut_view.BED, bed_id, "labels")), live.name(ids.cut_now(cut_view.BED, bed_id))


def pieces(view: BedView, garden: GardenView) -> dict[str, Any]:
    """Everything on the page that can change between two readings, by name."""
    frame = cut_view.frame_of(view, garden, cut_view.BED)
    parts = bed_parts(view, frame, garden)
    found: dict[str, Any] = {live.name(ids.part(cut_view.BED, view.bed.id, name)): content for name, content in parts.items()}
    return found | {live.name(ids.cut_now(cut_view.BED, view.bed.id)): cut_view.picture(view, frame, cut_view.BED)}


def bed_parts(view: BedView, frame: Frame, garden: GardenView) -> dict[str, list[Component]]:
    """The pieces of the page that change, by name."""
    first, second = bed_heading.sentence(view, garden)
    head: list[Component] = [html.P(bed_heading.facts(view, garden), className="note"), html.H1(first), html.P(second)]
    labels = cut_labels(view, frame, garden)
    in_air = html.Div(calls.above(view, frame), className="above")
    in_soil = html.Div(
        [*calls.below(view, frame), *wetted(view), *calls.late(view, garden), cut_view.table(view, garden)], className="below"
    )
    return {"head": head, "labels": labels, "calls": [in_air, in_soil], "key": [key(view, garden.garden.units)]}


def cut_labels(view: BedView, frame: Frame, garden: GardenView) -> list[Component]:
    """What stands on the cut, and the stake at its side."""
    on_it = html.Div(cut_view.bed_labels(view, frame, garden), className="ground-labels", **cut_view.UNSPOKEN)
    return [on_it, html.Div(stake(view, frame, garden), className="stake-side", **cut_view.UNSPOKEN)]


# ---------------------------------------------------------------- charts


def chart_place(name: str) -> Component:
    """Where a chart goes once it is known whether the page is light or dark: its words, and the graph."""
    config: Any = theme.GRAPH_CONFIG  # dash has a type of its own for it
    graph = dcc.Graph(id=ids.chart(name), config=config, className="graph", figure=_BLANK)
    return html.Section([html.Div(id=ids.chart_words(name), className="words"), graph], className=f"chart {name}")


def spans(address: BedAddress, garden: GardenView) -> Component:
    """How many days the charts show, and up to when; where a chart was tapped, a closer look at that moment."""
    now_ms, words = garden.now_ms, garden.garden
    links: list[Component] = [
        dcc.Link(
            said,
            href=replace(address, days=days).href,
            className="word-tap here" if days == address.days else "word-tap",
        )
        for days, said in _SPAN_WORDS.items()
    ]
    moves: list[Component] = [dcc.Link("Earlier", href=address.earlier(now_ms).href, className="word-tap")]
    shown: list[Component] = []
    if (later := address.later(now_ms)) is not None:
        moves += [
            dcc.Link("Later", href=later.href, className="word-tap"),
            dcc.Link("Up to now", href=replace(address, until_ms=None).href, className="word-tap"),
        ]
        first, last = (theme.when_words(at_ms, now_ms, words.timezone, words.units) for at_ms in address.span_ms(now_ms))
        shown = [html.P(f"The charts show {first} to {last}; the cut shows now.", role="status")]
    return html.Div(
        [
            html.Div([html.Span("Show", className="note"), *links], className="spans-row"),
            html.Div([*moves, html.Span(id=ids.CLOSER, role="status")], className="spans-row"),
            *shown,
        ],
        className="spans",
    )


def closer(address: BedAddress, tapped: Any, garden: GardenView) -> list[Component]:
    """A link to a closer look at the moment of a chart that was tapped; nothing where there is none."""
    try:
        at_ms = round(tapped["points"][0]["x"])
    except (TypeError, LookupError, ValueError):
        return []
    there = address.closer(at_ms, garden.now_ms)
    if there is None:
        return []
    words = garden.garden
    when = theme.when_words(at_ms, garden.now_ms, words.timezone, words.units)
    return [dcc.Link(f"Look closer at {when}", href=there.href, className="word-tap")]


def widths(address: BedAddress) -> dict[str, str]:
    """How the width of the ground is shared between what was and what is to come: by their days."""
    return {"--past": f"{address.days}fr", "--ahead": f"{max(ahead.days_shown(address.days), 1)}fr"}


def charts(queries: SoilQueries, address: BedAddress, mode: str, seen: str | None) -> tuple[Any, ...]:
    """The charts with their words, and what the bed is like, unless the page shows just these."""
    garden, view = queries.garden(), queries.bed(address.bed_id)
    outlook = view.state.outlook
    looks = [view.heard_ms, garden.now_ms // 600_000, len(view.calls), None if outlook is None else outlook.made_ms]
    shown = live.fingerprint([address.bed_id, address.days, address.until_ms, mode, *looks])
    if shown == seen:
        raise dash.exceptions.PreventUpdate
    # One now for all that the page shows: by the clock it is a little later already.
    history = replace(queries.history(address.bed_id, *address.span_ms(garden.now_ms)), now_ms=garden.now_ms)
    reader = Reader(mode, garden.garden.units, garden.garden.timezone)
    drawn = drawings(history, view, cut_view.frame_of(view, garden, cut_view.BED), reader)
    words = [_words(finding) for _, finding in drawn]
    return shown, words, [figure for figure, _ in drawn], nature.nature(history, garden.garden.units)


def _words(finding: Finding) -> list[Component]:
    """Heading and note of a chart; nothing for one that is not there, which the style sheet then hides."""
    heading: list[Component] = [html.H2(finding.heading)] if finding.heading else []
    return heading + ([html.P(finding.note, className="note")] if finding.note else [])


def drawings(history: BedHistory, view: BedView, frame: Frame, reader: Reader) -> list[tuple[Figure, Finding]]:
    """Each chart and what it shows, in the order of `CHARTS`."""
    refill_mm = None if view.state.water is None else view.state.water.raw_mm
    to_come = depth_time_ahead(history, reader)
    no_more = Finding("", "" if to_come is None else "The days ahead, if nothing is done.")
    return [
        (_level_with(frame, depth_time(history, reader)), depth_time_finding(history, reader)),
        (_BLANK if to_come is None else _level_with(frame, to_come), no_more),
        (temperatures(history, reader), temperatures_finding(history, reader)),
        (water(history, reader, refill_mm), water_finding(history, reader, refill_mm)),
    ]


def _level_with(frame: Frame, figure: Figure) -> Figure:
    """The depth-time picture at the scale of the cut, so that on a desk the ground runs on from one into the other."""
    if figure["data"]:
        layout = figure["layout"]
        layout["height"] = frame.below_cm * frame.px_per_cm + layout["margin"]["t"] + layout["margin"]["b"]
        layout["yaxis"]["range"] = [frame.below_cm / 100, 0]
    return figure
