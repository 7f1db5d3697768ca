"""Notices: what was told, when, and whether it was seen."""

from __future__ import annotations

import contextlib
from functools import partial

import dash
from dash import ALL, Input, Output, ctx, html
from dash.development.base_component import Component

from collector.calls import Notice
from collector.errors import QuestionError
from collector.model import Garden
from collector.query import SoilQueries
from dashboard import ids, theme, view_state


def register(app: dash.Dash, queries: SoilQueries) -> None:
    """Put the page on the app."""
    dash.register_page("notices", path=view_state.NOTICES, title="Cooldepth: notices", layout=partial(layout, queries))  # type: ignore[no-untyped-call]

    @app.callback(
        Output(ids.NOTICES_LIST, "children"),
        Input(ids.SLOW_TICK, "n_intervals"),
        Input({"type": ids.NOTICE_SEEN, "index": ALL}, "n_clicks"),
        prevent_initial_call=True,
    )
    def draw_notices(_ticks: int, taps: list[int | None]) -> list[Component]:
        tapped = ctx.triggered_id
        if isinstance(tapped, dict) and any(taps):
            mark_seen(queries, int(tapped["index"]))
        return notices_list(queries)


def layout(queries: SoilQueries, /, **_unknown: object) -> Component:
    """The whole page."""
    return html.Div(html.Div(notices_list(queries), id=ids.NOTICES_LIST), className="plain")


def mark_seen(queries: SoilQueries, notice_id: int) -> None:
    """The grower has seen it; a notice that is gone meanwhile needs no more seeing."""
    with contextlib.suppress(QuestionError):
        queries.mark_seen(notice_id)


def notices_list(queries: SoilQueries) -> list[Component]:
    """The sentence that sums up, and the notices, the newest first."""
    notices = queries.notices()
    if not notices:
        kept = "When shade or water falls due, you are told once, and what was told is kept here."
        return [html.H1("Nothing was told yet."), html.P(kept)]
    view = queries.garden()
    unseen = sum(notice.seen_ms is None for notice in notices)
    heading = f"{unseen} {'notice' if unseen == 1 else 'notices'} not seen yet." if unseen else "You have seen them all."
    rows = [_row(notice, view.garden, view.now_ms) for notice in notices]
    return [html.H1(heading), html.Ul(rows, className="rows")]


def _row(notice: Notice, garden: Garden, now_ms: int) -> Component:
    def when(time_ms: int) -> str:
        return theme.when_words(time_ms, now_ms, garden.timezone, garden.units)

    bed = garden.bed(notice.bed_id)
    told = f"{bed.name if bed else notice.bed_id}, told {when(notice.raised_ms)}"
    if notice.cleared_ms is not None:
        told += f", no longer due since {when(notice.cleared_ms)}"
    seen: Component = (
        html.P(f"Seen {when(notice.seen_ms)}.", className="note")
        if notice.seen_ms is not None
        else html.Button("Seen", id={"type": ids.NOTICE_SEEN, "index": notice.id}, className="tap")
    )
    return html.Li([html.P(told, className="note"), html.H2(notice.title), html.P(notice.text), seen])
