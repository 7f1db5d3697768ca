"""How lately a probe spoke, against its own pace; and readings that come in far behind the clock, as after an outage. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum

import numpy as np

from collector.advice.state import HOUR_MS, MINUTE_MS
from collector.advice.voice import Voice
from collector.model import Reading, Series

# A probe's pace is the median interval of so many of its last readings.
PACE_READINGS = 50
# So many missed readings are late, and so many silent; never sooner than these, since a broker
# that starts again takes a minute or two. Common practice, no source.
LATE_READINGS, LATE_LEAST_MS = 3, 5 * MINUTE_MS
SILENT_READINGS, SILENT_LEAST_MS = 12, HOUR_MS
# A reading that came so lately, and was measured so long before it came, is one of a backlog. A stake that saves its
# battery may hold readings back for hours, but the last of what it sends is young. Common practice, no source.
JUST_CAME_MS = 10 * MINUTE_MS
BACKLOG_MS = HOUR_MS


class Heard(StrEnum):
    """How lately a probe or bed spoke, against the pace it usually keeps."""

    FRESH = "fresh"
    LATE = "late"  # three readings missed
    BEHIND = "behind"  # what comes in is old: a backlog is being taken in
    SILENT = "silent"  # twelve readings missed, or an hour, whichever is longer
    NEVER = "never"


def heard(last: Reading | None, series: Series, now_ms: int) -> Heard:
    """How lately a probe spoke that said `last` last, and before it what is in `series`."""
    if last is None:
        return Heard.NEVER
    pace, age_ms = pace_ms(series) or 0, now_ms - heard_ms(last)
    if age_ms > max(SILENT_LEAST_MS, SILENT_READINGS * pace):
        return Heard.BEHIND if is_behind(last, now_ms) else Heard.SILENT
    return Heard.LATE if pace and age_ms > max(LATE_LEAST_MS, LATE_READINGS * pace) else Heard.FRESH


def heard_ms(last: Reading) -> int:
    """When a reading was heard [ms]; one that is dated in the future was heard when it came."""
    return min(last.measured_ms, last.received_ms)


def pace_ms(series: Series) -> int | None:
    """The usual interval of a probe's readings [ms]; None where fewer than two are known."""
    intervals_ms = np.diff(series.time_ms[-PACE_READINGS:])
    return int(np.median(intervals_ms)) if len(intervals_ms) else None


def is_behind(last: Reading, now_ms: int) -> bool:
    """True where a probe's newest reading has just come in out of a backlog."""
    return last.trusted and now_ms - last.received_ms <= JUST_CAME_MS and last.received_ms - last.measured_ms > BACKLOG_MS


def behind_words(newest: Iterable[Reading], now_ms: int, voice: Voice) -> str | None:
    """ "Catching up: readings up to 14 January are in." of the newest readings of some probes; None where one is young."""
    last = max((each for each in newest if each.trusted), key=lambda each: each.measured_ms, default=None)
    if last is None or not is_behind(last, now_ms):
        return None
    day = voice.day(last.measured_ms, now_ms)
    up_to = voice.when(last.measured_ms, now_ms) if day in ("today", "yesterday") else day
    return f"Catching up: readings up to {up_to} are in."
