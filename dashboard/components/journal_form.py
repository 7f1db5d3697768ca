"""The form of a journal entry: which fields a deed has, and an entry out of what was filled in. Pure."""

from __future__ import annotations

import base64
import contextlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from dash import dcc, html
from dash.development.base_component import Component

from collector.errors import QuestionError
from collector.journal import AMOUNTS, Deed, Entry, moment_ms
from collector.model import Bed, Garden
from collector.query import MOST_PICTURE_BYTES
from dashboard import ids, theme

# What is filled in beside the amounts, by the name of the field.
WHEN, NOTE, WHAT, PLANTING = "when", "note", "what", "planting"
YES_NO = {"": "Not looked at", "1": "Yes", "0": "No"}
LABELS = {
    "litres": "How much",
    "shade_pct": "It takes of the sun",
    "thickness_m": "How thick",
    "n_g_m2": "Nitrogen",
    "product_g": "Of the product",
    "leaves": "Leaves in all",
    "browned": "Of these brown",
    "bulb_to_neck": "Bulb to neck",
    "stem_thickens": "Does the stem thicken?",
    "scape": "Is there a scape?",
    "yield_kg": "Yield",
    "bulbs": "Bulbs",
    "diameter_mm": "Width of a usual bulb",
}
WHATS = {Deed.FED: "Product", Deed.COVERED: "Material"}


@dataclass(frozen=True, slots=True)
class Filled:
    """What stands in the fields, by their names; a field that is empty is None or ""."""

    values: Mapping[str, object]

    def text(self, name: str) -> str:
        """A field as a text without spaces around it."""
        value = self.values.get(name)
        return "" if value is None else str(value).strip()


def fields(deed: Deed, bed: Bed, garden: Garden, now_ms: int, prefilled: Mapping[str, float]) -> list[Component]:
    """The fields of a deed, the likely ones filled in."""
    made = [_amount(name, garden, prefilled.get(name)) for name in AMOUNTS.get(deed, {})]
    if deed in WHATS:
        made.append(_field(WHAT, WHATS[deed], _text(WHAT, garden.feeds[0].name if deed is Deed.FED and garden.feeds else "")))
    varieties = list(dict.fromkeys(planting.variety for planting in bed.plantings))
    if len(varieties) > 1:
        choices = [{"label": "All of the bed", "value": ""}, *({"label": one, "value": one} for one in varieties)]
        made.append(_field(PLANTING, "Which", dcc.RadioItems(choices, "", id=ids.journal_field(PLANTING), className="choices")))
    local = theme.local_time(now_ms, garden.timezone)
    made.append(_field(WHEN, "When", _text(WHEN, f"{local:%Y-%m-%d %H:%M}")))
    made.append(_field(NOTE, "Note", dcc.Textarea(id=ids.journal_field(NOTE), value="", rows=2, maxLength=2000)))
    made.append(_picture())
    return made


def entry_of(filled: Filled, deed: Deed, bed: Bed, garden: Garden, now_ms: int) -> Entry:
    """The entry that was filled in. Raises QuestionError for a number or a time that is none."""
    amounts = {}
    for name in AMOUNTS.get(deed, {}):
        if text := filled.text(name):
            unit = theme.amount_unit(name, garden.units)
            amounts[name] = _number(text, LABELS[name]) * unit.factor
    return Entry(
        bed_id=bed.id,
        deed=deed,
        at_ms=_moment_ms(filled.text(WHEN), garden.timezone, now_ms),
        written_ms=now_ms,
        planting=filled.text(PLANTING) or None,
        what=filled.text(WHAT) or None,
        amounts=amounts,
        note=filled.text(NOTE),
    )


def _picture() -> Component:
    """Takes one picture, from the camera where there is one; its name shows that it was taken."""
    words: list[Component] = [html.Span("Picture", className="tap"), html.Span(id=ids.JOURNAL_PICTURE_NAME, className="note")]
    return dcc.Upload(
        words,
        id={"type": ids.JOURNAL_PICTURE, "name": "picture"},
        accept="image/jpeg,image/png,image/webp",
        max_size=MOST_PICTURE_BYTES,
        multiple=False,
        className="field of-picture",
        className_active="field of-picture",
        style_active={},
        style_reject={},
    )


def picture_of(contents: str | None) -> bytes | None:
    """The picture that a form holds, out of the address of data that a browser makes of it; None where there is none.

    Raises QuestionError for what is no such address.
    """
    if not contents:
        return None
    head, comma, body = contents.partition(",")
    if comma and head.startswith("data:") and head.endswith(";base64"):
        with contextlib.suppress(ValueError):
            return base64.b64decode(body, validate=True)
    raise QuestionError("The picture did not come in whole. Choose it again.")


def _amount(name: str, garden: Garden, value: float | None) -> Component:
    if name in ("stem_thickens", "scape"):
        choices = [{"label": label, "value": value} for value, label in YES_NO.items()]
        return _field(name, LABELS[name], dcc.RadioItems(choices, "", id=ids.journal_field(name), className="choices"))
    unit = theme.amount_unit(name, garden.units)
    shown = "" if value is None else f"{round(value / unit.factor, 1):g}"
    label = LABELS[name] + (f", {unit.label}" if unit.label else "")
    number = dcc.Input(id=ids.journal_field(name), type="number", step="any", value=shown, autoComplete="off")
    return _field(name, label, number)


def _text(name: str, value: str) -> Component:
    return dcc.Input(id=ids.journal_field(name), type="text", value=value, autoComplete="off")


def _field(name: str, label: str, control: Component) -> Component:
    if isinstance(control, dcc.RadioItems):
        return html.Fieldset([html.Legend(label), control], className=f"field of-{name}")
    return html.Label([html.Span(label), control], className=f"field of-{name}")


def _number(text: str, label: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise QuestionError(f"{label}: {text!r} is no number. Write one as 12.5, or leave it empty.") from None


def _moment_ms(text: str, timezone: str, now_ms: int) -> int:
    """A time by the garden's clock; one that stands as it was filled in is now."""
    if not text or text == f"{theme.local_time(now_ms, timezone):%Y-%m-%d %H:%M}":
        return now_ms
    at_ms = moment_ms(text, timezone)
    if at_ms is None:
        raise QuestionError(f"{text!r} is no time. Write it as 2026-04-13 07:30.")
    return at_ms


def likely(asked: Sequence[Deed]) -> tuple[tuple[Deed, ...], tuple[Deed, ...]]:
    """The deeds that stand first, those asked for before the common ones; and all the others."""
    common = (Deed.WATERED, Deed.COUNTED, Deed.FED, Deed.CLOTH_LAID, Deed.CLOTH_OFF, Deed.NOTED)
    first = tuple(dict.fromkeys([*asked, *common]))[:7]
    return first, tuple(deed for deed in Deed if deed not in first)
