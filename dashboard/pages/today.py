"""Today: every bed as a cut through the ground, and on it what is due."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

import dash
from dash import ALL, Input, Output, State, ctx, dcc, html
from dash.development.base_component import Component

from collector.calls import Due
from collector.query import BedView, GardenView, Heard, SoilQueries, pressing
from dashboard import ids, theme, view_state
from dashboard.components import bed_heading, calls, cut_view, live
from dashboard.components.bed_heading import measured
from dashboard.components.next_job import next_job
from dashboard.figures.cut_frame import Frame

# Beds from the top down: the id of each, and how pressing it was (`pressing`) when it pressed most.
Order = Sequence[tuple[str, int]]

# With more beds than this, those that ask for nothing shrink to a strip; with many more they fold up.
_ALL_LARGE, _ALL_SHOWN = 6, 30


def register(app: dash.Dash, queries: SoilQueries) -> None:
    """Put the page on the app, and with it the taps and pictures that the bed's page shares."""
    dash.register_page("today", path=view_state.TODAY, title="Cooldepth: today", layout=partial(layout, queries))  # type: ignore[no-untyped-call]
    calls.register(app, queries)
    cut_view.register(app, queries)

    @app.callback(
        Output(ids.TODAY_HEAD, "children"),
        Output(ids.TODAY_BEDS, "children"),
        Output(ids.part(cut_view.TODAY, ALL, ALL), "children"),
        Output(ids.cut_now(cut_view.TODAY, ALL), "data"),
        Output(ids.SEEN, "data"),
        Output(ids.ORDER, "data"),
        Input(ids.TICK, "n_intervals"),
        Input(ids.TOLD, "data"),
        State(ids.SEEN, "data"),
        State(ids.ORDER, "data"),
        State(ids.TODAY_BEDS, "id"),
        prevent_initial_call=True,
    )
    def keep_up(_ticks: int, _told: object, seen: dict[str, str], order: Order, _here: str) -> tuple[Any, ...]:
        parts, cuts = ([output["id"] for output in outputs] for outputs in ctx.outputs_list[2:4])
        garden = in_order(queries.garden(), order)
        return (*update(garden, seen, parts, cuts), order_of(garden, order))


def layout(queries: SoilQueries, /, **_unknown: object) -> Component:
    """The whole page."""
    garden = queries.garden()
    shown = pieces(garden)
    return html.Div(
        [
            html.Header(shown["head"], id=ids.TODAY_HEAD, className="head"),
            html.Div(beds(garden, shown), id=ids.TODAY_BEDS, className="beds"),
            dcc.Store(id=ids.SEEN, data=live.prints(shown)),
            dcc.Store(id=ids.ORDER, data=order_of(garden, [])),
            dcc.Store(id=ids.TOLD),
        ],
        className="today",
    )


def in_order(garden: GardenView, order: Order) -> GardenView:
    """The garden with its beds where the page has them: one whose job is done stays under the finger, and its Undo with it.

    Only what presses more than it did goes up; a page that is opened anew has the order of the day.
    """
    shown = {bed_id: (place, was) for place, (bed_id, was) in enumerate(order)}

    def place(view: BedView) -> tuple[int, int]:
        before, was = shown.get(view.bed.id, (len(shown), pressing(view)))
        return min(was, pressing(view)), before

    return replace(garden, beds=tuple(sorted(garden.beds, key=place)))


def order_of(garden: GardenView, order: Order) -> Order:
    """The order of a page that shows this garden and had that order: each bed, and the most that it has pressed on the page."""
    was = dict(order)
    return [(view.bed.id, min(was.get(view.bed.id, pressing(view)), pressing(view))) for view in garden.beds]


def update(
    garden: GardenView, seen: dict[str, str], parts: Sequence[dict[str, Any]], cuts: Sequence[dict[str, Any]]
) -> tuple[Any, ...]:
    """What a page that shows `seen` must change: head, all beds or single parts and cuts, and what it shows then."""
    fresh = pieces(garden)
    now_seen = live.prints(fresh)
    if now_seen == seen:
        raise dash.exceptions.PreventUpdate
    new_head = head(garden) if now_seen["head"] != seen.get("head") else dash.no_update
    if now_seen["order"] != seen.get("order"):
        keep = ([dash.no_update] * len(parts), [dash.no_update] * len(cuts))
        return new_head, beds(garden, fresh), *keep, now_seen
    return new_head, dash.no_update, live.changed(fresh, seen, parts), live.changed(fresh, seen, cuts), now_seen


def pieces(garden: GardenView) -> dict[str, Any]:
    """Everything on the page that can change, by name."""
    found: dict[str, Any] = {"head": head(garden), "order": [(view.bed.id, _is_small(view, garden)) for view in garden.beds]}
    for view in garden.beds:
        frame = cut_view.frame_of(view, garden, cut_view.TODAY)
        for part, content in bed_parts(view, frame, garden).items():
            found[live.name(ids.part(cut_view.TODAY, view.bed.id, part))] = content
        found[live.name(ids.cut_now(cut_view.TODAY, view.bed.id))] = cut_view.picture(view, frame, cut_view.TODAY)
    return found


# ---------------------------------------------------------------- the head


def head(garden: GardenView) -> list[Component]:
    """Where and when, how many jobs, and where they are."""
    words = garden.garden
    when = f"{theme.day_words(garden.now_ms, words.timezone)}, {theme.clock_words(garden.now_ms, words.timezone, words.units)}"
    return [
        html.P(f"{words.name}, {when}", className="note"),
        html.H1(how_many(garden)),
        html.P(where(garden)),
    ]


_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


def number_word(count: int) -> str:
    """ "two", or "13" from where words grow long."""
    return _NUMBERS[count] if count < len(_NUMBERS) else str(count)


def how_many(garden: GardenView) -> str:
    """ "Two jobs today." """
    if not garden.beds:
        return "No bed yet."
    count = len(_beds_with(garden, Due.DUE))
    if count == 0:
        return "Catching up." if any(view.behind for view in garden.beds) else "Nothing to do today."
    return f"{number_word(count).capitalize()} {'job' if count == 1 else 'jobs'} today."


def where(garden: GardenView) -> str:
    """ "Both on the Terrace bed. One bed is silent." """
    if not garden.beds:
        return "Write the first bed into the garden file; it is drawn here as soon as the collector has read it."
    sentences = []
    due, soon = _beds_with(garden, Due.DUE), _beds_with(garden, Due.SOON)
    if due:
        all_of_them = {1: "", 2: "Both "}.get(len(due), "All ") if len(set(due)) == 1 else ""
        sentences.append(_capital(f"{all_of_them}on {_named(due)}."))
    if soon:
        jobs = f"{'more ' if due else ''}{'job' if len(soon) == 1 else 'jobs'}"
        sentences.append(_capital(f"{number_word(len(soon))} {jobs} soon, on {_named(soon)}."))
    if not due and (to_come := next_job(garden)) is not None:
        sentences.append(to_come)
    sentences += _not_known(garden)
    if sentences:
        return " ".join(sentences)
    is_fine = all(view.fine is not None and view.fine.startswith("Fine.") for view in garden.beds)
    return "Every bed is fine." if is_fine else "What is not known is told at its bed."


def _not_known(garden: GardenView) -> list[str]:
    """A sentence for each way in which beds are not heard."""

    def beds_that(are: Callable[[BedView], bool], one: str, more: str) -> list[str]:
        count = sum(map(are, garden.beds))
        return [_capital((one if count == 1 else more).format(number_word(count)))] if count else []

    return [
        *beds_that(lambda view: view.heard is Heard.LATE, "readings are late from {} bed.", "readings are late from {} beds."),
        *beds_that(lambda view: view.heard is Heard.BEHIND, "{} bed is catching up.", "{} beds are catching up."),
        *beds_that(lambda view: view.heard is Heard.SILENT, "{} bed is silent.", "{} beds are silent."),
        *beds_that(
            lambda view: view.heard is Heard.NEVER and measured(view),
            "nothing heard yet from {} bed.",
            "nothing heard yet from {} beds.",
        ),
        *beds_that(lambda view: not measured(view), "{} bed is not measured.", "{} beds are not measured."),
    ]


def _beds_with(garden: GardenView, due: Due) -> list[str]:
    """The name of the bed of each call that is `due`."""
    return [view.bed.name for view in garden.beds for worded in view.calls if worded.call.due is due]


def _named(names: list[str]) -> str:
    """ "the Terrace bed and the Wall bed"; more than three are only counted."""
    different = list(dict.fromkeys(names))
    if len(different) > 3:
        return f"{number_word(len(different))} beds"
    called = [f"the {name}" if name.lower().endswith(" bed") else name for name in different]
    return " and ".join([", ".join(called[:-1]), called[-1]] if len(called) > 1 else called)


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]


# ---------------------------------------------------------------- the beds


def beds(garden: GardenView, shown: Mapping[str, Any]) -> list[Component]:
    """The beds out of their `pieces`, the most pressing first; with many, those that ask for nothing take less room."""
    if not garden.beds:
        return [html.Div(html.Span("no bed yet", className="tag dotted"), className="no-ground")]
    large = [bed(view, garden, shown) for view in garden.beds if not _is_small(view, garden)]
    small = [bed(view, garden, shown) for view in garden.beds if _is_small(view, garden)]
    if small and len(garden.beds) > _ALL_SHOWN:
        summary = html.Summary(f"{len(small)} {'bed is' if len(small) == 1 else 'beds are'} fine", className="word-tap")
        return [*large, html.Details([summary, html.Div(small, className="beds")], className="fine-beds")]
    return large + small


def _is_small(view: BedView, garden: GardenView) -> bool:
    return len(garden.beds) > _ALL_LARGE and not view.calls


def bed(view: BedView, garden: GardenView, shown: Mapping[str, Any]) -> Component:
    """One bed out of its pieces: what is done above its soil, the cut (a link to its own page), what is done in it."""
    bed_id = view.bed.id

    def part(name: str, **more: Any) -> Component:
        id_ = ids.part(cut_view.TODAY, bed_id, name)
        return html.Div(shown[live.name(id_)], id=id_, className=name, **more)

    drawing = cut_view.canvas(bed_id, cut_view.TODAY, shown[live.name(ids.cut_now(cut_view.TODAY, bed_id))])
    cut = dcc.Link([*drawing, part("labels", **cut_view.UNSPOKEN)], href=view_state.bed_href(bed_id), className="cut")
    return html.Article(
        [html.Div([part("above"), cut], className="upper"), part("below")],
        className="bed small" if _is_small(view, garden) else "bed",
        style=cut_view.cut_size(cut_view.frame_of(view, garden, cut_view.TODAY)),
    )


def bed_parts(view: BedView, frame: Frame, garden: GardenView) -> dict[str, list[Component]]:
    """The pieces of a bed that change, by name."""
    return {
        "above": [bed_heading.heading(view), *calls.above(view, frame)],
        "labels": cut_view.today_labels(view, frame, garden),
        "below": [*calls.below(view, frame), *calls.late(view, garden), cut_view.table(view, garden)],
    }
