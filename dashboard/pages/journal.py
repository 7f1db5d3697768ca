"""Journal: what was done and seen, quick to write with wet hands, changed by taking back and writing anew, never lost."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

import dash
from dash import ALL, Input, Output, State, ctx, dcc, html
from dash.development.base_component import Component
from flask import Response

from collector.calls import Due, Job
from collector.errors import QuestionError
from collector.journal import DEED_OF, Deed, Entry
from collector.model import Bed, Garden
from collector.query import BedView, SoilQueries
from dashboard import ids, shell, theme, view_state
from dashboard.components.journal_form import Filled, entry_of, fields, likely, picture_of

LINES, LINES_OPEN = 60, 6  # the rest folds up


def register(app: dash.Dash, queries: SoilQueries) -> None:
    """Put the page on the app."""
    dash.register_page("journal", path=view_state.JOURNAL, title="Cooldepth: journal", layout=partial(layout, queries))  # type: ignore[no-untyped-call]

    @app.callback(
        Output(ids.JOURNAL_SAID, "children"),
        Output(ids.JOURNAL_LIST, "children"),
        Input({"type": ids.JOURNAL_KEEP, "sure": ALL}, "n_clicks"),
        Input({"type": ids.JOURNAL_STRIKE, "number": ALL}, "n_clicks"),
        State(ids.JOURNAL_ABOUT, "data"),
        State(ids.journal_field(ALL), "value"),
        State(ids.journal_field(ALL), "id"),
        State({"type": ids.JOURNAL_PICTURE, "name": ALL}, "contents"),
        prevent_initial_call=True,
    )
    def write(
        _keep: object, _strike: object, about: Any, values: list[object], names: list[dict[str, str]], pictures: list[str | None]
    ) -> object:
        if not ctx.triggered[0]["value"] or not isinstance(ctx.triggered_id, dict):
            return dash.no_update, dash.no_update
        filled = Filled({name["name"]: value for name, value in zip(names, values, strict=True)})
        return heed(queries, dict(ctx.triggered_id), about or {}, filled, next(iter(pictures), None))

    @app.callback(
        Output(ids.JOURNAL_PICTURE_NAME, "children"),
        Input({"type": ids.JOURNAL_PICTURE, "name": ALL}, "filename"),
        prevent_initial_call=True,
    )
    def name_picture(names: list[str | None]) -> str:
        return next((name for name in names if name), "")

    @app.server.get(view_state.PICTURE)  # type: ignore[untyped-decorator]  # dash does not type its server
    def picture(name: str) -> Response:
        try:
            return Response(queries.journal.picture(name), mimetype="image/jpeg")
        except QuestionError as error:
            return Response(str(error), 404, mimetype="text/plain")


def layout(
    queries: SoilQueries, /, bed: str | None = None, deed: str | None = None, at: str | None = None, **_unknown: object
) -> Component:
    """The whole page: which bed, what, the form, and what was written before."""
    view = queries.garden()
    garden = view.garden
    if not garden.beds:
        return shell.nothing_here("The garden file names no bed to write about.")
    here = garden.bed(bed or "") or (view.beds[0].bed if len(garden.beds) == 1 else None)
    parts: list[Component] = [html.H1("What was done, or seen?")]
    if len(garden.beds) > 1:
        parts.append(shell.picks("Which bed", [_bed_link(one, here, deed) for one in garden.beds]))
    about: dict[str, str] = {}
    if here is not None:
        (now,) = (one for one in view.beds if one.bed.id == here.id)
        chosen = _deed(deed)
        parts += _deeds(now, chosen)
        if chosen is not None:
            about = {"bed": here.id, "deed": chosen.name}
            at_ms = view_state.moment_ms(at, view.now_ms)
            filled = {} if at_ms is not None else _prefilled(now, chosen)
            form = fields(chosen, here, garden, at_ms or view.now_ms, filled)
            keep = html.Button("Keep", id={"type": ids.JOURNAL_KEEP, "sure": "no"}, className="tap solid")
            parts.append(html.Div([html.H2(_capital(chosen.value)), *form, keep], className="form"))
    parts += [
        html.P(
            [
                dcc.Link("The season so far", href=view_state.SEASON, className="plain-link"),
                " ",
                dcc.Link("Feed", href=view_state.FEED, className="plain-link"),
                " ",
                dcc.Link("Compare", href=view_state.COMPARE, className="plain-link"),
            ]
        ),
        dcc.Store(id=ids.JOURNAL_ABOUT, data=about),
        html.Div(id=ids.JOURNAL_SAID, role="status", className="said"),
        html.Div(journal_list(queries), id=ids.JOURNAL_LIST),
    ]
    return html.Div(parts, className="plain journal")


def heed(
    queries: SoilQueries, tapped: Mapping[str, Any], about: Mapping[str, str], filled: Filled, picture: str | None = None
) -> tuple[Any, Any]:
    """Does what a tapped button says: keeps the form, or takes an entry back. Answers with what is said, and the list."""
    try:
        if tapped["type"] == ids.JOURNAL_STRIKE:
            struck = queries.journal.strike(int(tapped["number"]))
            said: list[Component] = [html.P(f"Taken back: {queries.entry_words(struck)}.")]
        else:
            said = _keep(queries, about, filled, picture, sure=tapped["sure"] == "yes")
    except QuestionError as error:
        return [html.P(_capital(str(error)), className="odd")], dash.no_update
    return said, journal_list(queries)


def _keep(queries: SoilQueries, about: Mapping[str, str], filled: Filled, picture: str | None, *, sure: bool) -> list[Component]:
    view = queries.garden()
    bed = view.garden.bed(about.get("bed", ""))
    if bed is None or about.get("deed") not in Deed.__members__:
        raise QuestionError("The form is an old one. Open this page anew.")
    entry = entry_of(filled, Deed[about["deed"]], bed, view.garden, view.now_ms)
    asked = () if sure else queries.journal.ask(entry)
    if asked:
        again = html.Button("Keep it all the same", id={"type": ids.JOURNAL_KEEP, "sure": "yes"}, className="tap")
        return [*(html.P(question, className="odd") for question in asked), again]
    kept = queries.journal.write(entry, picture_of(picture))
    return [html.P([html.B("Kept. "), f"{queries.entry_words(kept)}."])]


def journal_list(queries: SoilQueries) -> list[Component]:
    """What was written, the newest first; each may be taken back."""
    view = queries.garden()
    entries = queries.journal.entries(limit=LINES)
    if not entries:
        return [html.P("Nothing was written yet. What you mark as done on the other pages stands here too.")]
    rows = [_row(queries, one, view.garden, view.now_ms) for one in entries]
    older = [html.Details([html.Summary("Older ones", className="word-tap"), html.Ul(rows[LINES_OPEN:], className="rows")])]
    written = html.Ul(rows[:LINES_OPEN], className="rows")
    return [html.H2("Written so far"), written, *(older if len(rows) > LINES_OPEN else [])]


def _row(queries: SoilQueries, entry: Entry, garden: Garden, now_ms: int) -> Component:
    bed = garden.bed(entry.bed_id)
    when = theme.when_words(entry.at_ms, now_ms, garden.timezone, garden.units)
    before = queries.journal.versions(entry.number)[:-1]
    changed: list[Component] = []
    if before:
        lines = [html.Li(queries.entry_words(one)) for one in before]
        changed = [html.Details([html.Summary("What it said before", className="word-tap"), html.Ul(lines)])]
    take_back = html.Button("Take back", id={"type": ids.JOURNAL_STRIKE, "number": entry.number}, className="word-tap")
    where = f"{bed.name if bed else entry.bed_id}, {when}"
    shown: list[Component] = []
    if entry.picture is not None:
        href = view_state.picture_href(entry.picture)
        shown = [html.A(html.Img(src=href, alt="The picture of this entry"), href=href, className="picture")]
    return html.Li([html.P(where, className="note"), html.P(queries.entry_words(entry)), *shown, *changed, take_back])


def _deeds(view: BedView, chosen: Deed | None) -> list[Component]:
    """Links to the forms: those asked for and the common ones, and the others folded up."""
    asked = [DEED_OF[worded.call.job] for worded in view.calls if worded.call.due in (Due.DUE, Due.SOON)]
    first, others = likely(asked)
    if chosen is not None and chosen not in first:
        first = (chosen, *first)

    def link(deed: Deed) -> Component:
        here = " here" if deed is chosen else ""
        return dcc.Link(_capital(deed.value), href=view_state.journal_href(view.bed.id, deed.name), className=f"pick{here}")

    more = html.Details(
        [html.Summary("Something else", className="word-tap"), shell.picks("Something else", [link(deed) for deed in others])]
    )
    return [shell.picks("What was done, or seen", [link(deed) for deed in first]), more]


def _bed_link(bed: Bed, here: Bed | None, deed: str | None) -> Component:
    chosen = " here" if bed == here else ""
    return dcc.Link(bed.name, href=view_state.journal_href(bed.id, deed), className=f"pick{chosen}")


def _prefilled(view: BedView, deed: Deed) -> dict[str, float]:
    """The amounts that the bed's calls name."""
    numbers = {worded.call.job: worded.call.numbers for worded in view.calls}
    if deed is Deed.WATERED and "litres" in numbers.get(Job.WATER, {}):
        water = numbers[Job.WATER]
        return {"litres": round(water.get("litres_now", water["litres"]))}
    if deed is Deed.FED and "dose_g_m2" in numbers.get(Job.FEED, {}):
        return {"n_g_m2": numbers[Job.FEED]["dose_g_m2"]}
    if deed is Deed.CLOTH_LAID and view.bed.shade_cloth is not None:
        return {"shade_pct": 100.0 * view.bed.shade_cloth}
    return {}


def _deed(name: str | None) -> Deed | None:
    return Deed.__members__.get((name or "").upper().replace("-", "_"))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
