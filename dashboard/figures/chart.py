"""What the three charts have in common: for whom they are drawn, the bare layout, marks and plates.

A chart is a plain Plotly dict, made anew at each call, since a dict costs a fiftieth of a
Figure object. Time runs along x in UTC milliseconds and every tick is placed here, at the
garden's own midnights: so an hour that a clock change repeats or skips bends no line.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from collector.units import UnitSystem
from dashboard import theme

Figure = dict[str, Any]
Part = dict[str, Any]
# Coordinates of a line, with None in each gap.
Points = tuple[list[float | None], list[float | None]]

HEIGHT_PX = 280
LIMIT_WIDTH_PX, CASING_WIDTH_PX = 3.2, 7.0
INVISIBLE = "rgba(0,0,0,0)"
# A break in the soil's record, and not a late reading: three readings missed.
GAP_FACTOR = 4.0
# Over more days than this a line of full width would run into itself.
LONG_SPAN_DAYS = 20
LONG_SPAN_SHARE = 0.45
MOST_PLATES = 110
HOURS_UP_TO_MS = 36 * 3_600_000
# What each hour of the day is called, by the hour in which that ends.
_PARTS_OF_A_DAY = ((5, "night"), (11, "morning"), (14, "noon"), (18, "afternoon"), (22, "evening"), (24, "night"))
_NEAR_DAYS = {-1: "yesterday", 0: "today", 1: "tomorrow"}
_SMALL_HOURS_MS = 5 * 3_600_000


@dataclass(frozen=True, slots=True)
class Span:
    """What a time axis shows [ms since 1970 UTC], and when now is."""

    from_ms: int
    to_ms: int
    now_ms: int


@dataclass(frozen=True, slots=True)
class Reader:
    """For whom a chart is drawn: mode "light" or "dark", units, and the garden's time zone."""

    mode: str
    units: UnitSystem
    timezone: str

    @property
    def tokens(self) -> theme.Tokens:
        """The colours of the mode."""
        return theme.tokens(self.mode)

    def clock(self, time_ms: float) -> str:
        """ "Wed 19:00"."""
        moment_ms = int(time_ms)
        return f"{theme.local_time(moment_ms, self.timezone):%a} {theme.clock_words(moment_ms, self.timezone, self.units)}"

    def day(self, time_ms: float, now_ms: int) -> str:
        """ "today", "yesterday", "tomorrow", "on Wednesday", or a week off and farther "on 13 April"."""
        name = self._day_name(time_ms, now_ms)
        return name if name in _NEAR_DAYS.values() else f"on {name}"

    def moment(self, time_ms: float, now_ms: int) -> str:
        """A time to come, no finer than can be told: "this evening", "tonight", "tomorrow at noon", "Saturday morning"."""
        hour, day = theme.local_time(int(time_ms), self.timezone).hour, self._day_name(time_ms, now_ms)
        part = next(part for end, part in _PARTS_OF_A_DAY if hour < end)
        if part == "night":  # the small hours belong to the evening before
            evening_ms = time_ms - _SMALL_HOURS_MS if hour < 12 else time_ms
            day = self._day_name(evening_ms, now_ms)
            return "tonight" if day == "today" or evening_ms < now_ms else f"{day} night"
        if part == "noon":
            return "at noon" if day == "today" else f"{day} at noon"
        return f"this {part}" if day == "today" else f"{day} {part}"

    def _day_name(self, time_ms: float, now_ms: int) -> str:
        then, now = (theme.local_time(int(moment), self.timezone).date() for moment in (time_ms, now_ms))
        days = (then - now).days
        if abs(days) > 6:
            return f"{then.day} {then:%B}"
        return _NEAR_DAYS.get(days, f"{then:%A}")


@dataclass(frozen=True, slots=True)
class Finding:
    """What a chart shows, in a sentence for its heading, and the note under it with unit and line grammar."""

    heading: str
    note: str


def layout(reader: Reader, **parts: Any) -> Part:
    """The layout of every chart: ink on the page's own ground, nothing to press, nothing to drag."""
    ink = reader.tokens.ink
    return {
        "height": HEIGHT_PX,
        "autosize": True,
        "paper_bgcolor": INVISIBLE,
        "plot_bgcolor": INVISIBLE,
        "showlegend": False,
        "dragmode": False,
        "hovermode": "closest",
        "hoverdistance": -1,  # a tap anywhere shows the plate of that moment
        "hoverlabel": {"bgcolor": reader.tokens.air, "bordercolor": ink, "align": "left", "font": _font(ink, 700)},
        "font": _font(ink, 500),
        "margin": {"l": 44, "r": 8, "t": 26, "b": 28, "pad": 0},
        "uirevision": "same",
        **parts,
    }


def empty(reader: Reader, sentence: str) -> Figure:
    """A chart of nothing, that says why."""
    hidden = {"visible": False, "fixedrange": True}
    words = {"text": sentence, "xref": "paper", "yref": "paper", "x": 0.5, "y": 0.5, "showarrow": False}
    frame = {"type": "rect", "xref": "paper", "yref": "paper", "x0": 0, "x1": 1, "y0": 0, "y1": 1}
    dotted = {**frame, "line": {"color": reader.tokens.ink, "width": 2, "dash": "dot"}}
    margin = {"l": 16, "r": 16, "t": 8, "b": 8}
    parts = {"height": 120, "margin": margin, "xaxis": hidden, "yaxis": hidden, "annotations": [words], "shapes": [dotted]}
    return {"data": [], "layout": layout(reader, **parts)}


def time_axis(span: Span, reader: Reader) -> Part:
    """The x axis over the span, with days, weeks or months named under it."""
    names = time_marks(span.from_ms, span.to_ms, reader.timezone, reader.units).names
    return {
        "type": "linear",
        "range": [span.from_ms, span.to_ms],
        "tickmode": "array",
        "tickvals": [at for at, _ in names],
        "ticktext": [name for _, name in names],
        "ticklen": 0,
        "showgrid": False,
        "zeroline": False,
        "showline": False,
        "fixedrange": True,
        # a tap marks its moment
        "showspikes": True,
        "spikemode": "across",
        "spikesnap": "hovered data",
        "spikedash": "solid",
        "spikethickness": 1,
        "spikecolor": reader.tokens.ink,
    }


def value_axis(reversed_from: float, to: float, values: Sequence[float], texts: Sequence[str]) -> Part:
    """The y axis, from its lower to its upper end, with these values named."""
    return {
        "type": "linear",
        "range": [reversed_from, to],
        "tickmode": "array",
        "tickvals": list(values),
        "ticktext": list(texts),
        "ticklen": 0,
        "showgrid": False,
        "zeroline": False,
        "showline": False,
        "fixedrange": True,
    }


@dataclass(frozen=True, slots=True)
class TimeMarks:
    """Where lines stand on the time axis [ms], and which names stand between them."""

    lines_ms: tuple[int, ...]
    names: tuple[tuple[int, str], ...]


def time_marks(from_ms: int, to_ms: int, timezone: str, units: UnitSystem = UnitSystem.METRIC) -> TimeMarks:
    """Hours up to 36, midnights up to ten days, Mondays up to ten weeks, firsts of the month beyond, by the garden's clock."""
    first, last = (theme.local_time(moment, timezone) for moment in (from_ms, to_ms))
    days = (last - first).days
    # a day added to a local time keeps the wall clock, so these are midnights across a clock change too
    start = first.replace(hour=0, minute=0, second=0, microsecond=0, fold=0)
    if to_ms - from_ms <= HOURS_UP_TO_MS:
        quarters = [start + dt.timedelta(hours=hour) for hour in range(0, 72, 6)]
        inside = _inside(quarters, from_ms, to_ms)
        return TimeMarks(inside, tuple((at_ms, theme.clock_words(at_ms, timezone, units)) for at_ms in inside))
    midnights = [start + dt.timedelta(days=day) for day in range((last.date() - first.date()).days + 2)]
    if days > 70:
        months = [midnight for midnight in midnights if midnight.day == 1]
        step = -(-len(months) // 6)
        return TimeMarks(_inside(months, from_ms, to_ms), tuple((_ms(month), f"{month:%b}") for month in months[::step]))
    if days > 10:
        weeks = [midnight for midnight in midnights if midnight.weekday() == 0]
        return TimeMarks(_inside(weeks, from_ms, to_ms), tuple((_ms(week), f"{week.day} {week:%b}") for week in weeks))
    names = []
    for midnight, next_midnight in pairwise(midnights):
        left, right = max(_ms(midnight), from_ms), min(_ms(next_midnight), to_ms)
        if right - left > 0.09 * (to_ms - from_ms):  # a sliver of a day has no room for its name
            names.append(((left + right) // 2, f"{midnight:%a}{' ' if days <= 4 else '<br>'}{midnight.day}"))
    return TimeMarks(_inside(midnights, from_ms, to_ms), tuple(names))


def _ms(moment: dt.datetime) -> int:
    return int(moment.timestamp() * 1000)


def _inside(moments: list[dt.datetime], from_ms: int, to_ms: int) -> tuple[int, ...]:
    return tuple(at for at in map(_ms, moments) if from_ms < at < to_ms)


def time_lines(span: Span, reader: Reader) -> list[Part]:
    """Midnights in rule colour, and now, 2 px, where it is in the span."""
    marks = time_marks(span.from_ms, span.to_ms, reader.timezone, reader.units)
    lines = [upright(at, reader.tokens.rule, 1) for at in marks.lines_ms]
    if span.from_ms <= span.now_ms <= span.to_ms:
        lines.append(upright(span.now_ms, reader.tokens.ink, 2) | {"layer": "above"})
    return lines


def now_label(span: Span) -> list[Part]:
    """The word over the now line."""
    if not span.from_ms <= span.now_ms <= span.to_ms:
        return []
    share = (span.now_ms - span.from_ms) / (span.to_ms - span.from_ms)
    side = "left" if share < 0.05 else "right" if share > 0.95 else "center"
    place = {"x": span.now_ms, "xanchor": side, "yref": "paper", "y": 1, "yanchor": "bottom"}
    return [{"text": "<b>now</b>", "showarrow": False, "borderpad": 1, **place}]


def upright(time_ms: int, colour: str, width_px: float) -> Part:
    """A line over the whole height at one time."""
    ends = {"type": "line", "x0": time_ms, "x1": time_ms, "yref": "paper", "y0": 0, "y1": 1}
    return {**ends, "layer": "below", "line": {"color": colour, "width": width_px}}


def level(value: float, colour: str, width_px: float) -> Part:
    """A line over the whole width at one value."""
    ends = {"type": "line", "xref": "paper", "x0": 0, "x1": 1, "y0": value, "y1": value}
    return {**ends, "line": {"color": colour, "width": width_px}}


def cool_line(points: Points, reader: Reader) -> list[Part]:
    """A limit, drawn as it is in the ground: a strong line in a casing. What is measured is drawn over it."""
    casing, pen = (reader.tokens.air, CASING_WIDTH_PX), (reader.tokens.ink, LIMIT_WIDTH_PX)
    return [line(points, colour, width_px, "limit") for colour, width_px in (casing, pen)]


def plate(text: str, reader: Reader, **place: Any) -> Part:
    """Words on a plate, where the ground behind them is painted."""
    return {
        "text": text,
        "showarrow": False,
        "bgcolor": reader.tokens.air,
        "borderpad": 3,
        "font": _font(reader.tokens.ink, 700),
        **place,
    }


def pen_share(span: Span) -> float:
    """How much of its full width a line or mark has in this span."""
    return LONG_SPAN_SHARE if span.to_ms - span.from_ms > LONG_SPAN_DAYS * 86_400_000 else 1.0


def line(points: Points, colour: str, width_px: float, name: str) -> Part:
    """A line that breaks where its values do."""
    x, y = points
    style = {"color": colour, "width": width_px}
    return {
        "type": "scatter",
        "mode": "lines",
        "x": x,
        "y": y,
        "line": style,
        "name": name,
        "connectgaps": False,
        "hoverinfo": "skip",
    }


def area(polygons: Iterable[tuple[Sequence[float], Sequence[float]]], name: str, **fill: Any) -> Part:
    """Closed shapes in one trace."""
    x: list[float | None] = []
    y: list[float | None] = []
    for shape_x, shape_y in polygons:
        x += [*(round(value) for value in shape_x), None]
        y += [*(round(float(value), 3) for value in shape_y), None]
    style = {"mode": "lines", "line": {"width": 0}, "fill": "toself", "hoverinfo": "skip"}
    return {"type": "scatter", "x": x, "y": y, "name": name, **style, **fill}


def hatch(reader: Reader) -> Part:
    """The fill of what is over the line: too warm, or too dry."""
    return {"fillpattern": {"shape": "/", "fgcolor": reader.tokens.ink, "bgcolor": INVISIBLE, "size": 7, "solidity": 0.16}}


def plates_apart(size: int) -> int:
    """Every how many of so many moments has a plate of its own: more would lie closer than a finger can tell."""
    return max(1, -(-size // MOST_PLATES))


def tap_plates(times_ms: Sequence[float], texts: Sequence[str], height: float) -> Part:
    """Invisible points, one for each moment; the one nearest to a tap shows its text."""
    return {
        "type": "scatter",
        "mode": "markers",
        "x": [round(time) for time in times_ms],
        "y": [round(height, 2)] * len(texts),
        "text": list(texts),
        "hovertemplate": "%{text}<extra></extra>",
        "marker": {"opacity": 0, "size": 1},
        "name": "plates",
    }


def unbroken(time_ms: NDArray[np.int64], value: NDArray[np.float64]) -> list[NDArray[np.intp]]:
    """Indexes of the known values, one array for each stretch without a gap.

    A stretch ends at a NaN, and where the next value comes later than three missed ones would.
    """
    known = np.flatnonzero(np.isfinite(value))
    if known.size == 0:
        return []
    steps_ms = np.diff(time_ms[known])
    usual_ms = float(np.median(steps_ms)) if steps_ms.size else 0.0
    ends = np.flatnonzero((np.diff(known) > 1) | (steps_ms > GAP_FACTOR * usual_ms)) + 1
    return np.split(known, ends)


def thinned(time_ms: NDArray[np.int64], value: NDArray[np.float64], most: int = 1200) -> Points:
    """Points of a line, not many more than `most`; of what is left out the peaks and troughs stay."""
    x: list[float | None] = []
    y: list[float | None] = []
    for stretch in unbroken(time_ms, value):
        chosen = stretch if value.size <= most else _extremes(value, stretch, -(-value.size * 2 // most))
        if x:
            x.append(None)
            y.append(None)
        x += time_ms[chosen].tolist()
        y += [round(float(number), 2) for number in value[chosen]]
    return x, y


def stretches(points: Points) -> list[tuple[list[float], list[float]]]:
    """The unbroken pieces of a line, gaps left out."""
    pieces: list[tuple[list[float], list[float]]] = [([], [])]
    for x, y in zip(*points, strict=True):
        if x is None or y is None:
            pieces.append(([], []))
        else:
            pieces[-1][0].append(x)
            pieces[-1][1].append(y)
    return [piece for piece in pieces if piece[0]]


def last_point(points: Points) -> tuple[float, float]:
    """Where a line ends; it has at least one point, and does not end in a gap."""
    x, y = points[0][-1], points[1][-1]
    assert x is not None
    assert y is not None
    return x, y


def _extremes(value: NDArray[np.float64], stretch: NDArray[np.intp], every: int) -> NDArray[np.intp]:
    """The ends of a stretch, and the least and the greatest value of each `every` of it."""
    chosen = [stretch[[0, -1]]]
    for start in range(0, stretch.size, every):
        part = stretch[start : start + every]
        chosen.append(part[[int(np.argmin(value[part])), int(np.argmax(value[part]))]])
    return np.unique(np.concatenate(chosen))


def _font(colour: str, weight: int) -> Part:
    return {"family": theme.FONT_FAMILY, "size": theme.SIZE_NOTE_PX, "color": colour, "weight": weight}
