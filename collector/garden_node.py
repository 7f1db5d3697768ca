"""A table of the garden file, when its values have been held against the table of keys."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Node:
    """One table of the file: a value or None for each of its keys, and the tables below it by their short name.

    A key that is left out is in `missing` (and has its default); one whose value did not fit is None.
    """

    path: str
    values: dict[str, Any]
    missing: frozenset[str] = frozenset()
    children: dict[str, list[Node]] = field(default_factory=dict)

    def __getitem__(self, name: str) -> Any:
        return self.values[name]
