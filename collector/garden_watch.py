"""Watches the garden file while the collector runs, so that what is changed in it holds without anybody starting it anew."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path

from collector.errors import GardenFileError
from collector.model import Garden

EVERY_S = 2.0


class GardenWatch:
    """Looks at the file now and then (a carrier of the daemon); where it says something new, `begin_anew` is called.

    Then `take` gives that garden.
    """

    name = "garden file"

    def __init__(self, path: Path, garden: Garden, read: Callable[[], Garden], begin_anew: Callable[[], None]) -> None:
        """`garden` is what the file said when it was read last; `read` reads it again, and raises GardenFileError."""
        self.trouble: str | None = None
        self._path = path
        self._garden = garden
        self._read = read
        self._begin_anew = begin_anew
        self._fresh: Garden | None = None
        self._seen: bytes | None = None

    def take(self) -> Garden | None:
        """The garden to begin anew with, once; None where the file says nothing new."""
        if self._fresh is None:
            return None
        self._garden, self._fresh = self._fresh, None
        return self._garden

    def refuse(self, garden: Garden, why: str) -> None:
        """What the file says now cannot be used, and `garden` still holds."""
        self._garden = garden
        self.trouble = f"it was changed, and what it says now cannot be begun with; what it said before still holds. {why}"

    def step(self) -> float:
        """Look once. Answers how long to wait [s] before the next look."""
        looks = self._look()
        if looks != self._seen and self._fresh is None:
            self._seen = looks
            self._heed()
        return EVERY_S

    def _look(self) -> bytes:
        """What tells one text of the file from another; the same for all that cannot be read."""
        try:
            return hashlib.blake2b(self._path.read_bytes(), digest_size=16).digest()
        except OSError:
            return b""

    def _heed(self) -> None:
        try:
            garden = self._read()
        except GardenFileError as error:
            self.trouble = f"it was changed and cannot be used so; what it said before still holds. {'; '.join(error.problems)}"
            return
        self.trouble = None
        if garden != self._garden:
            self._fresh = garden
            self._begin_anew()
