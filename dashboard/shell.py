"""The frame around every page: the bar of words, and the strips that tell what holds for the whole page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import dash
from dash import ClientsideFunction, Input, Output, dcc, html
from dash.development.base_component import Component

from collector.model import Garden
from collector.query import SoilQueries
from dashboard import ids, view_state

LIVE_MS = 5_000
TROUBLE_MS = 15_000

# Dash's own page says no language, and phones then offer to translate it.
INDEX = """<!DOCTYPE html>
<html lang="en">
<head>
{%metas%}
<title>{%title%}</title>
<meta name="color-scheme" content="light dark">
<link rel="icon" type="image/svg+xml" href="/assets/mark.svg">
<link rel="apple-touch-icon" href="/assets/icon-192.png">
<link rel="manifest" href="/assets/cooldepth.webmanifest" crossorigin="use-credentials">
<meta name="theme-color" content="#17120e">
{%css%}
</head>
<body>
<noscript><p class="strip">Without JavaScript this page tells what is due and takes your taps; the beds are not drawn, and the
other pages stay empty. Nothing is fetched from anywhere but the garden computer.</p></noscript>
{%at_first%}
{%app_entry%}
{%config%}
{%scripts%}
{%renderer%}
</body>
</html>"""


def words(garden: Garden) -> tuple[tuple[str, str], ...]:
    """The bar: each word and where it leads. With one bed there is no list to pick from."""
    only_bed = garden.beds[0] if len(garden.beds) == 1 else None
    beds = ("Bed", view_state.bed_href(only_bed.id)) if only_bed else ("Beds", view_state.BEDS)
    return (
        ("Today", view_state.TODAY),
        beds,
        ("Journal", view_state.JOURNAL),
        ("Stakes", view_state.STAKES),
        ("Notices", view_state.NOTICES),
    )


def frame(garden: Garden, *, may_sign_out: bool, may_write: bool = True, inside: Component | None = None) -> Component:
    """Every page stands in this; dash puts the page that is asked for `inside`, where none is given."""
    links = [dcc.Link(word, href=href, id=ids.nav_word(word), className="word") for word, href in words(garden)]
    simulated = [html.P("Simulated garden: its readings are invented.", className="strip simulated")]
    sign_out = [html.Form(html.Button("Sign out", type="submit", className="word-tap"), action="/sign-out", method="POST")]
    return html.Div(
        [
            dcc.Store(id=ids.MODE, data="light"),
            dcc.Interval(id=ids.TICK, interval=LIVE_MS),
            dcc.Interval(id=ids.SLOW_TICK, interval=TROUBLE_MS),
            html.P(id=ids.CUT_OFF, className="strip cut-off", role="status", hidden=True),
            *(simulated if garden.simulated else []),
            *([] if may_write else [html.P("You are signed in to look, not to write.", className="strip")]),
            html.Div(id=ids.TROUBLE, role="status"),
            html.Div([html.Nav(links, className="bar"), html.Main(inside or dash.page_container)], className="page"),
            *(sign_out if may_sign_out else []),
        ],
        className="shell" if may_write else "shell viewer",
    )


def picks(label: str, links: Sequence[Component]) -> Component:
    """Links of which one is picked, with a name for those who hear the page."""
    spoken: dict[str, Any] = {"aria-label": label}
    return html.Div(list(links), className="picks", role="group", **spoken)


def nothing_here(sentence: str) -> Component:
    """A page for an address that leads nowhere: what is not there, and where to go."""
    return html.Div(
        [
            html.H1("Nothing grows here."),
            html.P(sentence),
            html.P(dcc.Link("See what is due today", href=view_state.TODAY, className="plain-link")),
        ],
        className="plain",
    )


def page_not_found(**_unknown: object) -> Component:
    """For every path that is no page."""
    return nothing_here("There is no page at this address. It may have been mistyped, or the page was renamed.")


def register(app: dash.Dash, queries: SoilQueries, garden: Garden) -> None:
    """The frame's own callbacks, and the page for unknown addresses."""
    dash.register_page("not_found_404", path="/not-here", layout=page_not_found, title="Cooldepth: nothing here")  # type: ignore[no-untyped-call]
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction("shell", "here"),
        [Output(ids.nav_word(word), "className") for word, _ in words(garden)],
        Input(ids.LOCATION, "pathname"),
    )
    light_or_dark = (ClientsideFunction("shell", "mode"), Output(ids.MODE, "data"), Input(ids.MODE, "id"))
    app.clientside_callback(*light_or_dark)  # type: ignore[no-untyped-call]

    @app.callback(Output(ids.TROUBLE, "children"), Input(ids.SLOW_TICK, "n_intervals"))
    def tell_trouble(_ticks: int | None) -> list[Component]:
        return [html.P(sentence, className="strip trouble") for sentence in queries.garden().trouble]
