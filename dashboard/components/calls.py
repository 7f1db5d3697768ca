"""Calls as they hang on a bed: flag, heading, sentence, one button, and the reason behind it."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence

import dash
from dash import ALL, Input, Output, ctx, dcc, html
from dash.development.base_component import Component

from collector.calls import Due, Job
from collector.errors import QuestionError
from collector.query import UNDO_MS, BedView, GardenView, Heard, SoilQueries, WordedCall
from dashboard import ids, theme, view_state
from dashboard.figures import cut
from dashboard.figures.cut_frame import Frame

_SHOWN = 2  # more calls than this on a side fold up


def above(view: BedView, frame: Frame) -> list[Component]:
    """The calls whose work is done above the soil, each with its stem down to where it is true."""
    return _side([worded for worded in view.calls if worded.above_ground], view, frame)


def below(view: BedView, frame: Frame) -> list[Component]:
    """The calls whose work is done in the soil, or the sentence of a bed that asks for nothing."""
    parts = _side([worded for worded in view.calls if not worded.above_ground], view, frame)
    return parts + ([fine(view.fine)] if view.fine else [])


def fine(sentence: str) -> Component:
    """A bed that asks for nothing says so first: "Fine." or "Not measured."."""
    first, dot, rest = sentence.partition(".")
    return html.P([html.B(first + dot), rest], className="fine")


def late(view: BedView, garden: GardenView) -> list[Component]:
    """Says from when the picture is, once readings are missing and no call says so; or up to when a backlog is in."""
    if view.behind is not None:
        flag, rest = view.behind.split(": ", 1)
        return [_not_known(flag, f"{rest[0].upper()}{rest[1:]}")]
    is_told = any(worded.call.job in (Job.LOOK, Job.STAKE) for worded in view.calls)
    if view.heard not in (Heard.LATE, Heard.SILENT) or view.heard_ms is None or is_told:
        return []
    words = garden.garden
    flag = f"Last heard {theme.when_words(view.heard_ms, garden.now_ms, words.timezone, words.units)}"
    if view.state.temperature is not None:
        return [_not_known(flag, "The picture is worked out from that.")]
    water = " The water is drawn as it was then; it changes slowly." if view.state.moisture is not None else ""
    return [_not_known(flag, f"How warm it is now is not known.{water}")]


def _not_known(flag: str, sentence: str) -> Component:
    return html.Div([html.P(flag, className="flag"), html.P(sentence, className="sentence")], className="call not-known")


def _side(worded: Sequence[WordedCall], view: BedView, frame: Frame) -> list[Component]:
    shown = [call_block(each, view, frame) for each in worded[:_SHOWN]]
    rest = [call_block(each, view, frame) for each in worded[_SHOWN:]]
    if rest:
        shown.append(html.Details([html.Summary(f"and {len(rest)} more", className="word-tap"), *rest], className="more"))
    return shown


def call_block(worded: WordedCall, view: BedView, frame: Frame) -> Component:
    """One call. Its state is told by the shapes of its flag, stem and button."""
    due = worded.call.due
    if due is Due.DONE:
        return html.Div([*_done(worded, view), _stem(worded, frame)], className="call done")
    parts: list[Component] = [
        html.P(worded.flag, className="flag"),
        html.H3(worded.heading),
        html.P(worded.sentence, className="sentence"),
    ]
    if worded.caution:
        parts.append(html.P(worded.caution, className="caution"))
    parts += [html.Div([*_button(worded), why(worded)], className="taps"), _stem(worded, frame)]
    return html.Div(parts, className=f"call {due.name.lower().replace('_', '-')}")


def _done(worded: WordedCall, view: BedView) -> list[Component]:
    parts: list[Component] = [html.P([html.B(worded.flag.rstrip(".") + "."), f" {worded.sentence}"], className="sentence")]
    if view.state.now_ms - worded.call.since_ms < UNDO_MS:
        parts.append(html.Button("Undo", id=ids.undo(view.bed.id, worded.call.job), className="word-tap"))
    return parts


def _button(worded: WordedCall) -> list[Component]:
    if worded.button is None:
        return []
    solid = " solid" if worded.call.due is Due.DUE else ""
    if worded.opens is not None:  # a tap would say too little
        href = view_state.journal_href(worded.call.bed_id, worded.opens.name)
        return [dcc.Link(worded.button, href=href, className=f"tap{solid}")]
    return [html.Button(worded.button, id=ids.done(worded.call.bed_id, worded.call.job), className=f"tap{solid}")]


def why(worded: WordedCall) -> Component:
    """Opens in place: the numbers, the rule, how well it is founded, and what would change its mind."""
    return html.Details(
        [
            html.Summary("Why?", className="word-tap"),
            html.Div(
                [
                    html.Ul([html.Li(line) for line in worded.why]),
                    html.P([html.B("The rule. "), worded.rule]),
                    html.P([html.B(f"Evidence: {worded.evidence}. "), worded.source]),
                    html.P([html.B("What would change it. "), worded.would_change]),
                ],
                className="reasons",
            ),
        ],
        className="why",
    )


def _stem(worded: WordedCall, frame: Frame) -> Component:
    """From the flag to the depth where the call is true. Heights of pictures are known, so plain CSS reaches it."""
    if worded.above_ground and worded.call.job is Job.SHADE and worded.call.due is Due.DUE:
        reach_cm = frame.above_cm + cut.cloth_m(frame) * 100  # to the cloth that is to be laid
    elif worded.above_ground:
        reach_cm = frame.above_cm + min(worded.depth_m * 100, frame.below_cm)
    else:
        reach_cm = frame.below_cm - min(max(worded.depth_m * 100, 0.0), frame.below_cm)
    return html.Span(className="stem", style={"--reach": f"calc(var(--cm) * {reach_cm:.2f})"})


def register(app: dash.Dash, queries: SoilQueries) -> None:
    """One tap says that a job is done, another takes it back; both pages that show calls share this."""

    @app.callback(
        Output(ids.TOLD, "data"),
        Input(ids.done(ALL, ALL), "n_clicks"),
        Input(ids.undo(ALL, ALL), "n_clicks"),
        prevent_initial_call=True,
    )
    def tell(*_taps: object) -> object:
        return heed(queries, ctx.triggered_id, ctx.triggered[0]["value"])


def heed(queries: SoilQueries, tapped: object, taps: object) -> object:
    """Does what a tapped button says. A button that has just appeared also reports, with no tap: that is nothing."""
    if not taps or not isinstance(tapped, dict):
        return dash.no_update
    tell = queries.mark_done if tapped["type"] == ids.DONE else queries.undo
    with contextlib.suppress(QuestionError):  # the bed is gone, or whoever taps may only look: the page shows what is so
        tell(tapped["bed"], Job(tapped["job"]))
    return [tapped, taps]
