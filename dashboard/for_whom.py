"""The questions of a garden as the pages may ask them for whoever is signed in: who came to look changes nothing.

Every way to change something goes through here, so that no page can forget to ask who taps.
"""

from __future__ import annotations

from typing import Any, cast

from collector.errors import QuestionError
from collector.query import SoilQueries
from dashboard import sign_in

# What changes something, by the object that it belongs to. The links in messages have an authority of their own.
CHANGES = frozenset({"mark_done", "undo", "mark_seen", "snooze"})
CHANGES_OF = {
    "journal": frozenset({"write", "strike"}),
    "claims": frozenset({"claim"}),
    "by_hand": frozenset({"enter"}),
    "calibrating": frozenset({"true_now", "take_back"}),
}
REFUSED = "You are signed in to look, not to write. Nothing was changed."


class _ForWhom:
    """Passes everything on, and refuses changes to those who may only look."""

    def __init__(self, behind: Any, changes: frozenset[str]) -> None:
        self._behind = behind
        self._changes = changes

    def __getattr__(self, name: str) -> Any:
        found = getattr(self._behind, name)
        if name in CHANGES_OF:
            return _ForWhom(found, CHANGES_OF[name])
        return _asking(found) if name in self._changes else found


def _asking(change: Any) -> Any:
    def ask(*told: Any, **more: Any) -> Any:
        if not sign_in.may_write():
            raise QuestionError(REFUSED)
        return change(*told, **more)

    return ask


def for_whom(queries: SoilQueries) -> SoilQueries:
    """The same questions; a change by somebody who may only look raises QuestionError."""
    return cast(SoilQueries, _ForWhom(queries, CHANGES))
