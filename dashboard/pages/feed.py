"""Feed: the next feeding of each bed, how much of which product, what was given, and what can hurt."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import Any

import dash
from dash import dcc, html
from dash.development.base_component import Component

from collector.journal import Deed
from collector.query import BedView, FeedView, SoilQueries
from dashboard import ids, shell, view_state


def register(app: dash.Dash, queries: SoilQueries) -> None:
    """Put the page on the app."""
    del app
    dash.register_page("feed", path=view_state.FEED, title="Cooldepth: feed", layout=partial(layout, queries))  # type: ignore[no-untyped-call]


def layout(queries: SoilQueries, /, **_unknown: object) -> Component:
    """The whole page; the cautions stand first, for they hold for every bed."""
    view = queries.garden()
    if not view.beds:
        return shell.nothing_here("The garden file names no bed.")
    told = [(bed, queries.feeding(bed.bed.id)) for bed in view.beds]
    cautions = next((feed.cautions for _, feed in told if feed is not None), ())
    parts: list[Component] = [html.H1("Feed.")]
    if cautions:
        parts.append(html.Ul([html.Li(caution) for caution in cautions], className="cautions"))
    for bed, feed in told:
        parts.append(html.Section([html.H2(bed.bed.name), *_bed(bed, feed)]))
    return html.Div(parts, className="plain feed", id=ids.FEED)


def _bed(bed: BedView, feed: FeedView | None) -> Iterator[Component]:
    if feed is None:
        yield html.P("Nothing is planted here, or its season is still being read.")
        return
    yield html.P(html.B(feed.heading))
    if feed.products:
        yield html.Ul([html.Li(line) for line in feed.products], className="lines")
    yield html.P(feed.given)
    yield _bar(feed)
    yield html.P(feed.ends, className="note")
    if feed.plan:
        yield html.Ul([html.Li(line) for line in feed.plan], className="lines")
    href = view_state.journal_href(bed.bed.id, Deed.FED.name)
    yield dcc.Link("Write down a feeding", href=href, className="tap")


def _bar(feed: FeedView) -> Component:
    """What was given as a bar, and the usual range as a bracket over it: lengths, and no colours, tell."""
    scale = max(feed.share, 1.0)
    given = {"width": f"{100 * feed.share / scale:.1f}%"}
    usual = {"left": f"{100 * feed.from_share / scale:.1f}%", "width": f"{100 * (1.0 - feed.from_share) / scale:.1f}%"}
    spoken: dict[str, Any] = {"aria-label": f"{feed.given} {feed.ends}"}
    return html.Div(
        [html.Div(className="usual", style=usual), html.Div(className="given", style=given)],
        className="nitrogen",
        role="img",
        **spoken,
    )
