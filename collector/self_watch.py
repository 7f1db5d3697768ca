"""What the collector watches about itself and its garden as a whole: room on the disk, its own absence, silence of all stakes.

The thresholds are common practice, no source.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from collector.advice.voice import Voice
from collector.calls import Due, Report
from collector.errors import CooldepthError

if TYPE_CHECKING:
    from collector.advice.views import Health

Alarm = tuple[Due, str] | None

MINUTE_MS, HOUR_MS, DAY_MS = 60_000, 3_600_000, 86_400_000
# A season of forty probes that speak once a minute takes half a gigabyte; a backup and a migration take that again.
LITTLE_BYTES, VERY_LITTLE_BYTES = 1_000_000_000, 200_000_000
# The store grows by megabytes a day: nobody has to be called twice for some bytes to and fro.
ROOM_AGAIN = 1.2
# A start after an update takes seconds, one after a power cut on a small board a minute or two.
ABSENCE_MS, ABSENCE_TOLD_MS = 15 * MINUTE_MS, DAY_MS
# At a start what waited comes in first.
FIRST_LOOK_MS, LOOK_EVERY_MS = 5 * MINUTE_MS, MINUTE_MS
SILENCE_LONG_MS = DAY_MS


def room_in(folder: Path) -> tuple[int, int]:
    """Bytes that may still be written to the disk of a folder, and all it has. Raises OSError."""
    usage = shutil.disk_usage(folder)
    return usage.free, usage.total


@dataclass
class DiskWatch:
    """How much room the disk of the store has left."""

    folder: Path
    room: Callable[[Path], tuple[int, int]] = room_in
    _due: Due = Due.FINE

    def look(self) -> Alarm:
        """What is to be told of it now; None where there is room."""
        try:
            free, _ = self.room(self.folder)
        except OSError as error:
            return Due.SOON, f"The disk of the store cannot be asked how full it is: {error.strerror}."
        for due, least in ((Due.DUE, VERY_LITTLE_BYTES), (Due.SOON, LITTLE_BYTES)):
            if free < (least * ROOM_AGAIN if self._due is due else least):
                self._due = due
                return due, (
                    f"{free // 1_000_000} MB are left on the disk that holds {self.folder}. When none is, readings wait at the "
                    "broker, and what comes over a serial line is lost. Make room: old backups first."
                )
        self._due = Due.FINE
        return None


def absence(before: Report | None, now_ms: int, voice: Voice) -> Alarm:
    """What is to be told at a start of the time that the collector was not there; None where that was short.

    Args:
        before: its last word of itself before this start; None where it was never there [Report].
        now_ms: the present [ms since 1970-01-01 UTC].
        voice: how times are told.
    """
    if before is None or now_ms - before.at_ms < ABSENCE_MS:
        return None
    return Due.SOON, (
        f"The collector was not running from {voice.when(before.at_ms, now_ms)} until {voice.clock(now_ms)}. What the broker and "
        "boards have kept comes in now; what came over a serial line meanwhile is lost."
    )


class Absence:
    """The time before this start, told for a day."""

    def __init__(self, before: Report | None, now_ms: int, voice: Voice) -> None:
        self._alarm = absence(before, now_ms, voice)
        self._until_ms = now_ms + ABSENCE_TOLD_MS

    def look(self, now_ms: int) -> Alarm:
        """What is to be told of it now."""
        return self._alarm if now_ms < self._until_ms else None


class SilenceWatch:
    """Whether any stake speaks at all: one call for the garden, before each of its beds calls for itself."""

    def __init__(self, health: Callable[[], Health], has_probes: bool, begun_ms: int) -> None:
        self._health = health
        self._has_probes = has_probes
        self._next_ms = begun_ms + FIRST_LOOK_MS
        self._alarm: Alarm = None

    def look(self, now_ms: int) -> Alarm:
        """What is to be told of it now; None where something speaks, or there is nothing that could."""
        if self._has_probes and now_ms >= self._next_ms:
            self._next_ms = now_ms + LOOK_EVERY_MS
            self._alarm = self._look()
        return self._alarm

    def _look(self) -> Alarm:
        try:
            found = self._health()
        except CooldepthError:
            return Due.NOT_KNOWN, ""
        if found.well or found.last_reading_age_s is None:  # nothing has ever come in: that is no news
            return None
        long = found.last_reading_age_s * 1000 > SILENCE_LONG_MS
        told = f"{found.status} No stake speaks: look at the broker, the radio, and the power of what is between."
        return Due.DUE if long else Due.SOON, told
