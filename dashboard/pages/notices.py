"""Notices: what was told, when, and whether it was seen."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Sequence
from functools import partial

import dash
from dash import ALL, Input, Output, ctx, html
from dash.development.base_component import Component

from collector.calls import Errand, Notice
from collector.errors import QuestionError
from collector.model import Garden
from collector.query import SNOOZE_DAYS, Answer, SoilQueries
from dashboard import ids, theme, view_state


def register(app: dash.Dash, queries: SoilQueries) -> None:
    """Put the page on the app."""
    dash.register_page("notices", path=view_state.NOTICES, title="Cooldepth: notices", layout=partial(layout, queries))  # type: ignore[no-untyped-call]

    @app.callback(
        Output(ids.NOTICES_LIST, "children"),
        Input(ids.SLOW_TICK, "n_intervals"),
        Input({"type": ids.NOTICE_SEEN, "index": ALL}, "n_clicks"),
        Input({"type": ids.NOTICE_LATER, "index": ALL}, "n_clicks"),
        Input({"type": ids.NOTICE_MUCH_LATER, "index": ALL}, "n_clicks"),
        prevent_initial_call=True,
    )
    def draw_notices(_ticks: int, *taps: list[int | None]) -> list[Component]:
        tapped = ctx.triggered_id
        if isinstance(tapped, dict) and any(count for taken in taps for count in taken):
            heed(queries, tapped["type"], int(tapped["index"]))
        return notices_list(queries)


def layout(queries: SoilQueries, /, **_unknown: object) -> Component:
    """The whole page."""
    return html.Div(html.Div(notices_list(queries), id=ids.NOTICES_LIST), className="plain")


def heed(queries: SoilQueries, tapped: str, notice_id: int) -> None:
    """The grower has seen it, or wants it later; a notice that is gone meanwhile needs neither."""
    with contextlib.suppress(QuestionError):
        if tapped == ids.NOTICE_SEEN:
            queries.mark_seen(notice_id)
        else:
            queries.snooze(notice_id, SNOOZE_DAYS[Answer.TOMORROW if tapped == ids.NOTICE_LATER else Answer.IN_THREE_DAYS])


def notices_list(queries: SoilQueries) -> list[Component]:
    """The sentence that sums up, and the notices, the newest first."""
    notices = queries.notices()
    if not notices:
        kept = "When shade or water falls due, you are told once, and what was told is kept here."
        return [html.H1("Nothing was told yet."), html.P(kept)]
    view = queries.garden()
    unseen = sum(notice.seen_ms is None for notice in notices)
    heading = f"{unseen} {'notice' if unseen == 1 else 'notices'} not seen yet." if unseen else "You have seen them all."
    ways = queries.ways(notices)
    rows = [_row(notice, ways.get(notice.id, ()), view.garden, view.now_ms) for notice in notices]
    return [html.H1(heading), html.Ul(rows, className="rows")]


def _row(notice: Notice, ways: Sequence[Errand], garden: Garden, now_ms: int) -> Component:
    def when(time_ms: int) -> str:
        return theme.when_words(time_ms, now_ms, garden.timezone, garden.units)

    bed = garden.bed(notice.bed_id)
    told = f"{bed.name if bed else notice.bed_id}, told {when(notice.raised_ms)}"
    if notice.cleared_ms is not None:
        told += f", no longer due since {when(notice.cleared_ms)}"
    sent = [html.P(_way(one, when), className="note") for one in ways]
    if notice.seen_ms is not None:
        end: list[Component] = [html.P(f"Seen {when(notice.seen_ms)}.", className="note")]
    else:
        end = [html.Button("Seen", id={"type": ids.NOTICE_SEEN, "index": notice.id}, className="tap")]
        if notice.cleared_ms is None and (notice.snoozed_ms or 0) <= now_ms:
            for kind, answer in ((ids.NOTICE_LATER, Answer.TOMORROW), (ids.NOTICE_MUCH_LATER, Answer.IN_THREE_DAYS)):
                end.append(html.Button(answer.capitalize(), id={"type": kind, "index": notice.id}, className="word-tap"))
    if notice.cleared_ms is None and notice.snoozed_ms is not None and notice.snoozed_ms > now_ms:
        end.append(html.P(f"Not told again before {when(notice.snoozed_ms)}.", className="note"))
    taps = html.Div([one for one in end if isinstance(one, html.Button)], className="taps")
    notes = [one for one in end if not isinstance(one, html.Button)]
    return html.Li([html.P(told, className="note"), html.H2(notice.title), html.P(notice.text), *sent, taps, *notes])


def _way(errand: Errand, when: Callable[[int], str]) -> str:
    """How a notice went to one phone, which is named by the variable that holds its address."""
    again = f", told again {errand.reminders} {'time' if errand.reminders == 1 else 'times'}" if errand.reminders else ""
    if errand.delivered_ms is not None:
        return f"{errand.channel}: delivered {when(errand.delivered_ms)}{again}."
    why = f": {errand.trouble}" if errand.trouble else f", held until {when(errand.not_before_ms)}"
    return f"{errand.channel}: not delivered yet{why}{again}."
