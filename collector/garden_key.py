"""One key of the garden file, and how its value is judged. Pure."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum


class Kind(Enum):
    """What a value must be; the words of an error message."""

    TEXT = "text"
    NUMBER = "a number"
    WHOLE = "a whole number"
    FLAG = "true or false"
    DATE = "a date"
    TEXTS = "a list of texts"


@dataclass(frozen=True, slots=True)
class Key:
    """One key: `table` is the header it stands under, `low` and `high` the values that are possible at all."""

    table: str
    name: str
    kind: Kind
    about: str
    unit: str | None = None
    required: bool = False
    default: object = None
    low: float = -math.inf
    high: float = math.inf
    choices: tuple[str, ...] = ()

    @property
    def wanted(self) -> str:
        """What the value must be, in words."""
        if self.choices:
            return "one of " + ", ".join(self.choices)
        words = self.kind.value
        if self.kind is Kind.DATE:
            words += " without quotes, as 2026-10-20"
        if self.unit:
            words += f" [{self.unit}]"
        if math.isfinite(self.low):
            words += f" from {self.low:.10g} to {self.high:.10g}"
        return words


def fits(key: Key, value: object) -> bool:
    """Whether a value out of a TOML file is what the key wants."""
    match key.kind:
        case Kind.TEXT:
            return _is_text(value) and (not key.choices or value in key.choices)
        case Kind.TEXTS:
            return isinstance(value, Sequence) and not isinstance(value, str) and bool(value) and all(map(_is_text, value))
        case Kind.FLAG:
            return isinstance(value, bool)
        case Kind.DATE:
            return isinstance(value, dt.date) and not isinstance(value, dt.datetime)
        case Kind.WHOLE | Kind.NUMBER:
            # In Python true is a number, and nan is one in TOML.
            number = isinstance(value, int) or (key.kind is Kind.NUMBER and isinstance(value, float))
            return number and not isinstance(value, bool) and key.low <= value <= key.high  # type: ignore[operator]


def _is_text(value: object) -> bool:
    return isinstance(value, str) and bool(value.strip()) and value.isprintable()
