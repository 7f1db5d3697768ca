"""Time between readings that come when they come: what is known of it, and what is a gap.

Readings are joined by straight lines; two that lie too far apart are not, and the time between them is a gap. A gap
counts for nothing and is always told.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Times = NDArray[np.int64]
Marks = NDArray[np.bool_]

# Soil and store change slowly, but a night's chill or a wet dawn is soon gone. Common practice, no source.
LONGEST_S = 3.0 * 3600.0
# A line that rises by less is level: no probe tells so little, and dividing by it tells nothing [unit of the readings].
_FLAT = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Spans:
    """A stretch of time cut at its readings: parallel arrays, in order, with no space between.

    `before` and `after` are the readings that a span lies between, by their place in the arrays that were given; they mean
    nothing where the span is not `known`.
    """

    begin_ms: Times
    end_ms: Times
    known: Marks
    before: NDArray[np.intp]
    after: NDArray[np.intp]

    @property
    def length_s(self) -> Array:
        """Length of each span [s]."""
        lengths_s: Array = (self.end_ms - self.begin_ms) / 1000.0
        return lengths_s

    @property
    def known_s(self) -> float:
        """How long something is known [s]."""
        return float(self.length_s[self.known].sum())

    @property
    def gap_s(self) -> float:
        """How long nothing is known [s]."""
        return float(self.length_s[~self.known].sum())

    def both_ends(self, holds: Marks) -> Marks:
        """Which spans are known and hold something at both their ends [true or false].

        Args:
            holds: for each reading, whether it holds there [true or false].

        Source: by definition.
        """
        if not holds.size:
            return self.known
        return self.known & holds[self.before] & holds[self.after]


def spans_of(time_ms: Times, known: Marks, from_ms: int, to_ms: int, longest_s: float = LONGEST_S) -> Spans:
    """The time from one moment to another, cut at the readings in it [ms].

    A reading outside helps to know the time up to its neighbour inside.

    Args:
        time_ms: times of n readings, each later than the one before [ms].
        known: whether each of them holds a number [true or false].
        from_ms: where to begin [ms].
        to_ms: where to end, later [ms].
        longest_s: two readings farther apart than this have a gap between them [s].

    Raises:
        ValueError: arrays of two lengths, times out of order, or an end not after the beginning.

    Source: by definition.
    """
    if time_ms.shape != known.shape or np.any(np.diff(time_ms) <= 0):
        raise ValueError(f"{time_ms.size} times for {known.size} readings; want as many, each later than the one before")
    if from_ms >= to_ms:
        raise ValueError(f"from {from_ms} to {to_ms} ms; want an end after the beginning")
    places = np.flatnonzero(known)
    at_ms = time_ms[places]
    cuts_ms = np.concatenate(([from_ms], at_ms[(at_ms > from_ms) & (at_ms < to_ms)], [to_ms])).astype(np.int64)
    after = np.searchsorted(at_ms, cuts_ms[:-1], side="right")
    between = (after > 0) & (after < at_ms.size)
    right = np.where(between, after, 0)
    left = np.where(between, after - 1, 0)
    if not at_ms.size:
        return Spans(cuts_ms[:-1], cuts_ms[1:], between, right, left)
    near = between & (at_ms[right] - at_ms[left] <= longest_s * 1000.0)
    return Spans(cuts_ms[:-1], cuts_ms[1:], near, places[left], places[right])


def both_known(first: Array, second: Array) -> Marks:
    """Which readings of two things taken at the same times are both known [true or false].

    Args:
        first: n readings, NaN is not known [their own unit].
        second: n readings, NaN is not known [their own unit].

    Raises:
        ValueError: arrays of two lengths.

    Source: by definition.
    """
    if first.shape != second.shape:
        raise ValueError(f"{first.size} readings of the one and {second.size} of the other; want as many, at the same times")
    return np.isfinite(first) & np.isfinite(second)


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """The straight lines between readings: how long each lasts, and its lower and upper end. `gap_s` is what they leave out."""

    length_s: Array
    low: Array
    high: Array
    gap_s: float

    @property
    def known_s(self) -> float:
        """How long they last together [s]."""
        return float(self.length_s.sum())

    def inside_s(self, least: float, most: float) -> float:
        """How long the lines run between two values, both included [s].

        Args:
            least: the lower value [unit of the readings].
            most: the upper value [unit of the readings].

        Source: by definition.
        """
        return float((self.length_s * self._share(least, most)).sum())

    def above_s(self, least: float) -> float:
        """How long the lines run above a value, itself not included [s].

        Args:
            least: the value [unit of the readings].

        Source: by definition.
        """
        return self.inside_s(float(np.nextafter(least, np.inf)), np.inf)

    def mean(self, least: float = -np.inf, most: float = np.inf) -> float:
        """Mean over the known time, what lies beyond two values taken as those [unit of the readings]; NaN if none is known.

        Args:
            least: less than this is taken as this [unit of the readings].
            most: more than this is taken as this [unit of the readings].

        Source: the integral of a straight line, by definition.
        """
        if not self.known_s:
            return float("nan")
        kept_low, kept_high = np.clip(self.low, least, most), np.clip(self.high, least, most)
        flat = self.high - self.low <= _FLAT
        height = np.where(flat, 1.0, self.high - self.low)
        # what of a line lies within runs from end to end; the rest of it lies flat on the two values
        within = (kept_low + kept_high) / 2.0 * (kept_high - kept_low) / height
        under, over = (kept_low - self.low) / height * kept_low, (self.high - kept_high) / height * kept_high
        means = np.where((self.high <= least) | (self.low >= most) | flat, kept_low, within + under + over)
        return float((self.length_s * means).sum() / self.known_s)

    def _share(self, least: float, most: float) -> Array:
        """Share of each line that runs between two values [ratio]."""
        flat = self.high - self.low <= _FLAT
        overlap = np.clip(np.minimum(self.high, most) - np.maximum(self.low, least), 0.0, None)
        share: Array = np.where(
            flat, (self.low >= least) & (self.low <= most), overlap / np.where(flat, 1.0, self.high - self.low)
        )
        return share


def lines_of(time_ms: Times, values: Array, from_ms: int, to_ms: int, longest_s: float = LONGEST_S) -> Lines:
    """The straight lines between readings from one moment to another [unit of the readings].

    Args:
        time_ms: times of n readings, each later than the one before [ms].
        values: the n readings, NaN is not known [their own unit].
        from_ms: where to begin [ms].
        to_ms: where to end, later [ms].
        longest_s: two readings farther apart than this have a gap between them [s].

    Raises:
        ValueError: arrays of two lengths, times out of order, or an end not after the beginning.

    Source: by definition.
    """
    known = np.isfinite(values)
    spans = spans_of(time_ms, known, from_ms, to_ms, longest_s)
    if not spans.known.any():
        return Lines(np.empty(0), np.empty(0), np.empty(0), spans.gap_s)
    begin, end = (np.interp(ends_ms[spans.known], time_ms[known], values[known]) for ends_ms in (spans.begin_ms, spans.end_ms))
    return Lines(spans.length_s[spans.known], np.minimum(begin, end), np.maximum(begin, end), spans.gap_s)


def runs_s(spans: Spans, holds: Marks) -> tuple[Times, Array]:
    """When each unbroken run of spans that hold begins [ms since 1970 UTC], and how long it is [s].

    Args:
        spans: the time, cut.
        holds: whether each span holds [true or false].

    Source: by definition.
    """
    edges = np.flatnonzero(np.diff(np.concatenate(([False], holds, [False])).astype(np.int8)))
    begins_ms, ends_ms = spans.begin_ms[edges[::2]], spans.end_ms[edges[1::2] - 1]
    lengths_s: Array = (ends_ms - begins_ms) / 1000.0
    return begins_ms, lengths_s


def longest_run_s(spans: Spans, holds: Marks) -> float:
    """Length of the longest unbroken run of spans that hold [s]; 0 where none does.

    Args:
        spans: the time, cut.
        holds: whether each span holds [true or false].

    Source: by definition.
    """
    return float(runs_s(spans, holds)[1].max(initial=0.0))
