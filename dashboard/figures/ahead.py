"""What is expected after now: cut to what a chart shows of it, joined to what is known, and drawn as what is to come."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from collector.outlook import TemperatureAhead, WaterAhead
from collector.query import BedHistory
from dashboard.figures import chart
from dashboard.figures.chart import Part, Points, Reader, Span
from dashboard.figures.daily import DAY_MS, LONGEST_IN_FULL_DAYS

# Short views look as far ahead as back, longer ones as far as anything is expected; a year is told in days and not at all.
SHORT_DAYS, LONG_DAYS = 3, 7
# What was known so lately is joined to what is to come; after a longer silence there is a gap.
JOIN_MS = 3_600_000
DASH, HOLLOW_PX, HOLLOW_INSIDE_PX, BAND_OPACITY = "10px,5px", 5.0, 2.6, 0.16

# A line: times [ms], and its values.
Course = tuple[NDArray[np.int64], NDArray[np.float64]]
AheadT = TypeVar("AheadT", TemperatureAhead, WaterAhead)


def days_ahead(history: BedHistory) -> int:
    """How many days after now the charts of this span show; none where the span ends before now."""
    return 0 if history.is_past else days_shown((history.to_ms - history.from_ms) / DAY_MS)


def days_shown(days_back: float) -> int:
    """How many days ahead the charts show that go so many back; none for spans that are told in means of a day."""
    if days_back > LONGEST_IN_FULL_DAYS:
        return 0
    return round(days_back) if days_back <= SHORT_DAYS else LONG_DAYS


def temperature(history: BedHistory) -> TemperatureAhead | None:
    """What is expected of the temperatures in the days that the charts show; None where nothing is."""
    return None if history.outlook is None else _shown(history, history.outlook.temperature)


def water(history: BedHistory) -> WaterAhead | None:
    """What is expected of the water in the days that the charts show; None where nothing is."""
    return None if history.outlook is None else _shown(history, history.outlook.water)


def _shown(history: BedHistory, part: AheadT | None) -> AheadT | None:
    if part is None:
        return None
    until_ms = history.now_ms + days_ahead(history) * DAY_MS
    keep = (part.time_ms > history.now_ms) & (part.time_ms <= until_ms)
    if not keep.any():
        return None
    changes: dict[str, Any] = {}
    for field in fields(part):
        value = getattr(part, field.name)
        if isinstance(value, np.ndarray) and field.name != "depths_m":
            changes[field.name] = value[keep]
    return replace(part, **changes)


def span_of(history: BedHistory, part: TemperatureAhead | WaterAhead | None) -> Span:
    """What the time axis shows: the span itself, and after it as far as `part` reaches."""
    return Span(history.from_ms, history.to_ms if part is None else int(part.time_ms[-1]), history.now_ms)


def joined(to_come: Course, known: Course, now_ms: int) -> Course:
    """What is to come, begun at the last known value if that is not too old: so that the line runs on."""
    time_ms, value = to_come
    known_ms, known_value = known
    places = np.flatnonzero(np.isfinite(known_value))
    if places.size == 0:
        return to_come
    last = places[-1]
    step_ms = int(known_ms[-1] - known_ms[-2]) if known_ms.size > 1 else 0  # that of the grid: long spans have long steps
    if now_ms - known_ms[last] > max(JOIN_MS, 2 * step_ms):
        return to_come
    return np.concatenate([known_ms[last : last + 1], time_ms]), np.concatenate([known_value[last : last + 1], value])


# ---------------------------------------------------------------- drawn: dashed if nothing is done, hollow if the job is


def dashed(points: Points, colour: str, width_px: float, name: str) -> Part:
    """What is to come if nothing is done."""
    drawn = chart.line(points, colour, width_px, name)
    drawn["line"]["dash"] = DASH
    return drawn


def hollow(points: Points, reader: Reader, name: str, share: float) -> list[Part]:
    """What is to come if the job is done: two thin edges."""
    return [
        chart.line(points, reader.tokens.ink, HOLLOW_PX * share, name),
        chart.line(points, reader.tokens.air, HOLLOW_INSIDE_PX * share, name),
    ]


def band(low: Course, high: Course, reader: Reader, name: str) -> Part:
    """Between two lines over the same times, as a veil of ink; nothing where one of them is not known."""
    time_ms, both = low[0], np.isfinite(low[1]) & np.isfinite(high[1])
    shapes = []
    for stretch in chart.unbroken(time_ms, np.where(both, low[1], np.nan)):
        times, lower, upper = time_ms[stretch].tolist(), low[1][stretch].tolist(), high[1][stretch].tolist()
        shapes.append((times + times[::-1], upper + lower[::-1]))
    return chart.area(shapes, name, fillcolor=reader.tokens.ink, opacity=BAND_OPACITY)


# ---------------------------------------------------------------- in words


def for_days(history: BedHistory, part: TemperatureAhead | WaterAhead) -> str:
    """ "for the next 3 days", as far as the chart shows."""
    days = max(1, round((int(part.time_ms[-1]) - history.now_ms) / DAY_MS))
    return "for the next day" if days == 1 else f"for the next {days} days"


def whose_weather(history: BedHistory) -> str:
    """Whose weather forecast went into what is to come, or that none did."""
    if history.outlook is None or history.outlook.weather is None:
        return "Worked out from the last days and the sun, so the band is wider."
    return f"Weather: {history.outlook.weather}."


def why_not(history: BedHistory) -> str:
    """Why nothing is said of the days ahead; empty where a chart of this span would say nothing of them anyway."""
    if days_ahead(history) == 0:
        return ""
    reasons = "" if history.outlook is None else "; ".join(reason.rstrip(".") for reason in history.outlook.why_not)
    if not reasons:
        return "No look ahead yet: the collector makes one each hour, for a bed with some days of readings."
    return f"No look ahead: {reasons}."
