"""Season: each bed from planting to harvest, on one time line, and how far it is with what says so."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from functools import partial
from zoneinfo import ZoneInfo

import dash
from dash import dcc, html
from dash.development.base_component import Component

from collector.journal import Deed, Entry
from collector.query import BedView, GardenView, SoilQueries
from dashboard import ids, shell, view_state

# The lines of the time line, and the mark of each: a shape or a word, and never a colour alone.
ROWS = (
    ("Leaves", (Deed.COUNTED,)),
    ("Water", (Deed.WATERED,)),
    ("Feed", (Deed.FED,)),
    ("Cloth", (Deed.CLOTH_LAID, Deed.CLOTH_OFF)),
    ("Work", (Deed.PLANTED, Deed.COVERED, Deed.SCAPES_CUT, Deed.WATERING_STOPPED, Deed.LIFTED, Deed.CURED, Deed.STORED)),
)
# A season is drawn at least so long, so that its first weeks are no wall of marks.
LEAST_D = 180


def register(app: dash.Dash, queries: SoilQueries) -> None:
    """Put the page on the app."""
    del app
    dash.register_page("season", path=view_state.SEASON, title="Cooldepth: season", layout=partial(layout, queries))  # type: ignore[no-untyped-call]


def layout(queries: SoilQueries, /, **_unknown: object) -> Component:
    """The whole page."""
    view = queries.garden()
    if not view.beds:
        return shell.nothing_here("The garden file names no bed.")
    beds = [part for one in view.beds for part in _bed(queries, one, view)]
    return html.Div([html.H1("The season so far."), *beds, *_links()], className="plain season", id=ids.SEASON)


def _bed(queries: SoilQueries, view: BedView, garden: GardenView) -> Iterator[Component]:
    season = view.state.season
    if season is None:
        yield html.Section([html.H2(view.bed.name), html.P("It is being read. Open this page again in a moment.")])
        return
    if not season.plantings:
        yield html.Section([html.H2(view.bed.name), html.P("The garden file names no planting in this bed.")])
        return
    said: list[Component] = []
    for headline, lines in queries.season_words(view.bed.id):
        said += [html.P(html.B(headline)), html.Ul([html.Li(line) for line in lines], className="lines")]
    line = time_line(season.entries, min(one.planted for one in season.plantings), season.today, garden)
    yield html.Section([html.H2(view.bed.name), *said, line])


def time_line(entries: tuple[Entry, ...], planted: dt.date, today: dt.date, garden: GardenView) -> Component:
    """What was done and seen, by the day, from the planting on; the months under it."""
    first = planted.replace(day=1)
    last = max(today, planted + dt.timedelta(days=LEAST_D))
    days = (last - first).days + 1

    def at(day: dt.date) -> dict[str, str]:
        return {"left": f"{100 * (day - first).days / days:.2f}%"}

    zone = ZoneInfo(garden.garden.timezone)
    rows: list[Component] = []
    for name, deeds in ROWS:
        mine = [entry for entry in entries if entry.deed in deeds]
        marks = [
            html.Span(_mark(entry), className="mark", style=at(dt.datetime.fromtimestamp(entry.at_ms / 1000, zone).date()))
            for entry in mine
        ]
        told = f"{name}: {len(mine)} {'entry' if len(mine) == 1 else 'entries'}"
        rows.append(html.Div([html.Span(name, className="name"), html.Div(marks, className="row", title=told)], className="line"))
    months = [day for day in (first + dt.timedelta(days=number) for number in range(days)) if day.day == 1]
    scale = [html.Span(f"{month:%b}", className="month", style=at(month)) for month in months]
    now = html.Span(className="now", style=at(today), title="today")
    rows.append(html.Div([html.Span("", className="name"), html.Div([*scale, now], className="row scale")], className="line"))
    return html.Div(rows, className="time-line")


def _links() -> list[Component]:
    """What stands behind the lines."""
    told = (
        ("All that was written stands in the journal", view_state.JOURNAL),
        ("What to feed, and how much", view_state.FEED),
        ("Compare two beds, or two years", view_state.COMPARE),
    )
    return [html.P(dcc.Link(words, href=href, className="plain-link")) for words, href in told]


def _mark(entry: Entry) -> str:
    """What stands on the line: the number of leaves, and else a sign."""
    if entry.deed is Deed.COUNTED:
        return f"{entry.amounts['leaves']:.0f}" if "leaves" in entry.amounts else "?"
    return {Deed.WATERED: "|", Deed.FED: "◆", Deed.CLOTH_LAID: "▾", Deed.CLOTH_OFF: "▴"}.get(entry.deed, "●")
