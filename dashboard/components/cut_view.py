"""The cut as it stands on a page: the picture, its labels, and the same in words for whoever cannot see it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import quote

import dash
from dash import MATCH, ClientsideFunction, Input, Output, State, dcc, html
from dash.development.base_component import Component
from flask import Response

from collector.errors import QuestionError
from collector.query import BedView, GardenView, Heard, ProbeView, SoilQueries
from collector.units import Quantity, UnitSystem
from dashboard import ids, theme
from dashboard.components.bed_heading import measured
from dashboard.figures import cut
from dashboard.figures.cut_field import field
from dashboard.figures.cut_frame import Frame, bed_frame, today_below_cm, today_frame

STILL_ADDRESS = "/cut/<path:bed_id>/<any(today, bed):size>"  # and in its query the fingerprint of the drawing
TODAY, BED = "today", "bed"
UNSPOKEN: dict[str, Any] = {"aria-hidden": "true"}  # for what the eye needs and the table says in words

# From so much more than the soil can hold against gravity it is told to drain, and not how full it is: a probe is 3 % of
# the volume from the truth, a quarter of what many soils hold. Common practice, no source.
OVER_FULL, OVER_FULL_WORDS = 1.1, "over-full"
_LABELS_APART_PX = 42.0  # the two labels of a cut, nearer than this, would cover each other


def frame_of(view: BedView, garden: GardenView, size: str) -> Frame:
    """The frame in which a bed is drawn in that size."""
    if size == BED:
        return bed_frame(view.bed, garden.garden.units)
    return today_frame(view.bed, today_below_cm(tuple(each.bed for each in garden.beds)))


def picture(view: BedView, frame: Frame, size: str) -> dict[str, Any]:
    """What the page's script needs to draw: where the still half is, the half that changes, and the same in a sentence."""
    age = cut.age_days(view)
    mark = cut.fingerprint(view.bed, frame, age)
    return {
        "still": f"/cut/{quote(view.bed.id, safe='')}/{size}?is={mark}",
        "now": cut.now(view, frame),
        "known": known_class(view, frame),
        "words": in_words(view),
    }


def known_class(view: BedView, frame: Frame) -> str:
    """The CSS classes that tell how much of the bed is known; none where all is."""
    if view.state.temperature is None:
        return "unpainted" if view.state.moisture is not None else "unpainted dry-unknown"
    return "" if field(view, frame).covers_known else "covers-bare"


def cut_size(frame: Frame) -> dict[str, Any]:
    """The frame as CSS custom properties: lengths on the page are counted in centimetres of soil."""
    return {"--above": frame.above_cm, "--below": frame.below_cm}


def canvas(bed_id: str, size: str, drawn: dict[str, Any]) -> list[Component]:
    """The empty element that the script draws into, and the store that feeds it with a `picture`."""
    return [
        html.Div(id=ids.cut_picture(size, bed_id), className="picture", role="img"),
        dcc.Store(id=ids.cut_now(size, bed_id), data=drawn),
    ]


def in_words(view: BedView) -> str:
    """The picture in a sentence."""
    covers = ", ".join(cover.material for cover in reversed(view.bed.covers)) or "no cover"
    line = "temperature not known" if view.state.temperature is None else view.cool_line
    return f"Cut through {view.bed.name}: {covers} above the soil" + (f"; {line}." if line else ".")


def register(app: dash.Dash, queries: SoilQueries) -> None:
    """The address of the still drawings, and the script that puts the two halves together."""

    @app.server.get(STILL_ADDRESS)  # type: ignore[untyped-decorator]  # dash does not type its server
    def still(bed_id: str, size: str) -> Response:
        try:
            view = queries.bed(bed_id)
        except QuestionError as error:
            return Response(str(error), status=404, mimetype="text/plain")
        drawing = cut.still(view.bed, frame_of(view, queries.garden(), size), cut.age_days(view))
        answer = Response(drawing, mimetype="image/svg+xml")
        answer.headers["Cache-Control"] = "private, max-age=31536000, immutable"  # another drawing has another address
        return answer

    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction("cut", "draw"),
        Output(ids.cut_picture(MATCH, MATCH), "data-drawn"),
        Input(ids.cut_now(MATCH, MATCH), "data"),
        State(ids.cut_picture(MATCH, MATCH), "id"),
    )


# ---------------------------------------------------------------- labels


@dataclass(frozen=True, slots=True)
class Label:
    """A label at a height on the picture [px from its top] with what it says; `kind` is its CSS class."""

    y_px: float
    text: tuple[Component | str, ...]
    kind: str


def today_labels(view: BedView, frame: Frame, garden: GardenView) -> list[Component]:
    """The number at the cloves and the cool line's words, kept off each other."""
    return [_placed(label, frame) for label in _apart(_bed_labels(view, frame, garden), frame.height_px)]


def bed_labels(view: BedView, frame: Frame, garden: GardenView) -> list[Component]:
    """The labels of Today, and a plate on each cover."""
    units = garden.garden.units
    placed = today_labels(view, frame, garden)
    top_m = 0.0
    for cover in view.bed.covers:
        middle_px = frame.y(top_m - cover.thickness_m / 2)
        top_m -= cover.thickness_m
        if cover.thickness_m * 100 * frame.px_per_cm >= 24:
            words = f"{cover.material}, {theme.depth(cover.thickness_m, units)}"
            placed.append(html.Span(words, className="plate", style=_top(middle_px, frame)))
    return placed


def _bed_labels(view: BedView, frame: Frame, garden: GardenView) -> list[Label]:
    labels = []
    # One thermometer knows of no line: its words stand in the sentence, its number at its depth.
    if view.cool_line and view.state.temperature is not None and len(view.state.temperature.depths_m) > 1:
        line_px = frame.y(view.crossings_m[-1]) if view.crossings_m else None
        if line_px is None and view.cool_line.startswith("cool"):
            labels.append(Label(frame.ground_px + 22, (view.cool_line,), "line up"))
        elif line_px is None or line_px > frame.height_px - 16:
            labels.append(Label(frame.height_px - 24, (view.cool_line,), "line down"))
        else:
            labels.append(Label(line_px, (view.cool_line,), "line"))
    clove_m = view.bed.clove_depth_m
    if clove_m is not None:
        labels.append(Label(frame.y(clove_m - 0.015), *_clove_words(view, garden)))
    return labels


def _clove_words(view: BedView, garden: GardenView) -> tuple[tuple[Component | str, ...], str]:
    units, clove = garden.garden.units, view.state.clove
    if not measured(view):
        return ("not measured",), "dotted unknown"
    if view.heard is Heard.NEVER:
        return ("not heard yet",), "dotted unknown"
    if clove is None:
        return ("not known",), "dotted unknown"
    number = theme.temperature(clove.value, units)
    band = "" if clove.band is None else f"± {theme.temperature_difference(clove.band, units)}"
    if view.heard in (Heard.LATE, Heard.SILENT):
        return (number, html.Span(band, className="note")) if band else (number,), "clove dotted"
    if clove.measured:
        return (number,), "clove"
    how = "expected" if view.expected else "worked out"
    worked_out = f"{how}, {band}" if band else how
    return (number, html.Span(worked_out, className="note worked-out")), "clove"


def _apart(labels: list[Label], floor_px: float) -> list[Label]:
    """The same labels, the upper moved up and the lower down where they would cover each other, but not below the floor."""
    if len(labels) < 2:
        return labels
    upper, lower = sorted(labels, key=lambda label: label.y_px)
    short_px = max(_LABELS_APART_PX - (lower.y_px - upper.y_px), 0.0)
    lower_px = min(lower.y_px + short_px / 2, max(floor_px - _LABELS_APART_PX / 2, lower.y_px))
    upper_px = min(upper.y_px, lower_px - _LABELS_APART_PX)
    return [replace(upper, y_px=upper_px), replace(lower, y_px=lower_px)]


def _placed(label: Label, frame: Frame) -> Component:
    return html.Span(list(label.text), className=f"tag {label.kind}", style=_top(label.y_px, frame))


def _top(y_px: float, frame: Frame) -> dict[str, str]:
    """Counted in centimetres of the picture, so that it holds at every scale."""
    return {"top": f"calc(var(--cm) * {y_px / frame.px_per_cm:.2f})"}


# ---------------------------------------------------------------- the same in words


def table(view: BedView, garden: GardenView) -> Component:
    """Depth, value and source of everything the picture shows; for a screen reader."""
    units = garden.garden.units
    rows = [_row(each, view, garden) for each in view.probes if each.probe.depth_m is not None]
    if view.bed.clove_depth_m is not None:
        clove = view.state.clove
        value = "not known" if clove is None else theme.temperature(clove.value, units)
        source = "" if clove is None else "measured" if clove.measured else "worked out"
        rows.append((view.bed.clove_depth_m, f"cloves, {theme.depth(view.bed.clove_depth_m, units)}", value, source))
    head = html.Tr([html.Th(word, scope="col") for word in ("Depth", "Value", "Source")])
    body = [html.Tr([html.Td(cell) for cell in row[1:]]) for row in sorted(rows)]
    caption = html.Caption(f"{view.bed.name}, from the soil surface down")
    return html.Div(html.Table([caption, html.Thead(head), html.Tbody(body)]), className="unseen")


def _row(each: ProbeView, view: BedView, garden: GardenView) -> tuple[float, str, str, str]:
    depth_m = each.probe.depth_m or 0.0
    told = f"{each.probe.id}, {heard_words(each, garden)}"
    return depth_m, theme.depth(depth_m, garden.garden.units), probe_value(each, view, garden.garden.units) or "not known", told


def heard_words(each: ProbeView, garden: GardenView) -> str:
    """ "heard 17:38", "late, last heard 13:40", "silent since yesterday 19:05", or that nothing was heard yet."""
    words = garden.garden
    if each.last is None:
        return "nothing heard yet"
    when = theme.when_words(each.last.measured_ms, garden.now_ms, words.timezone, words.units)
    lead = {Heard.FRESH: "heard", Heard.LATE: "late, last heard", Heard.BEHIND: "catching up, heard up to"}
    return f"{lead.get(each.heard, 'silent since')} {when}"


def probe_value(each: ProbeView, view: BedView, units: UnitSystem) -> str | None:
    """What a buried probe says now, in the grower's words; None where it does not speak or is not to be trusted."""
    if each.last is None or not each.last.trusted or each.heard in (Heard.BEHIND, Heard.SILENT, Heard.NEVER):
        return None
    if each.probe.quantity is Quantity.SOIL_TEMPERATURE:
        return theme.temperature(each.last.value, units)
    if each.probe.quantity is Quantity.SOIL_MOISTURE:
        span = view.bed.field_capacity - view.bed.wilting_point
        share = max(0.0, (each.last.value - view.bed.wilting_point) / span)
        return OVER_FULL_WORDS if share >= OVER_FULL else f"{min(100 * share, 100.0):.0f} % full"
    return None
