"""The seasons that a garden can look back on, and any two of them beside each other. Reads the stores."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from collector.advice.season.beside import beside
from collector.advice.season.beside_words import headline, names, notes, rows, span_name
from collector.advice.season.built import locale_of
from collector.advice.season.past import Past, Span, past_of, seasons_of
from collector.advice.season.record import HOUR_MS, day_of, start_of
from collector.advice.voice import voice_of
from collector.crop.spans import Array
from collector.errors import QuestionError
from collector.journal import Entry
from collector.model import Garden
from collector.ports import Clock, Readings, SeasonStore

# A grower looks at one pair and then changes one side of it: so many are kept from one look to the next.
_KEPT = 4


@dataclass(frozen=True, slots=True)
class Choice:
    """A season that may be compared: its name in an address, and the one to read."""

    key: str
    name: str


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """Two seasons beside each other in words, and their days for a picture.

    `at_ms` has the noon of each day of the first [ms since 1970-01-01 UTC]; `first_c` and `second_c` the means at the
    cloves on these days, of the second on the same days of its own year, NaN where not known.
    """

    first: str
    second: str
    headline: str
    rows: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]
    at_ms: NDArray[np.int64]
    first_c: Array
    second_c: Array
    limit_c: float | None


class Comparer:
    """Compares the seasons of one garden. Any thread may ask; what the stores raise is raised on."""

    def __init__(self, garden: Garden, readings: Readings, season: SeasonStore, clock: Clock) -> None:
        """It opens nothing: the stores are the caller's to close."""
        self._garden = garden
        self._readings = readings
        self._season = season
        self._clock = clock
        self._locale = locale_of(garden)
        self._voice = voice_of(garden)
        self._lock = threading.Lock()
        self._kept: dict[tuple[Span, int], tuple[Sequence[Entry], Past]] = {}

    def choices(self) -> tuple[Choice, ...]:
        """The seasons that are known of, the newest of each bed first, in the order of the garden file."""
        now_ms = self._clock.now_ms()
        return tuple(Choice(one.key, span_name(one, self._voice)) for one in self._spans(self._journal(now_ms), now_ms))

    def compare(self, first: str, second: str) -> Comparison:
        """Two seasons, by the keys of their choices. Raises QuestionError for a key that is none."""
        now_ms = self._clock.now_ms()
        journal = self._journal(now_ms)
        known = {one.key: one for one in self._spans(journal, now_ms)}
        missing = [key for key in (first, second) if key not in known]
        if missing:
            raise QuestionError(f"season {missing[0]!r}: no planting of this garden begins it; there are {', '.join(known)}")
        pair = beside(*(self._past(known[key], journal, now_ms) for key in (first, second)))
        name, other = names(pair.first.span, pair.second.span, self._voice)
        noons_ms = [start_of(day, self._locale.timezone) + 12 * HOUR_MS for day in pair.days]
        return Comparison(
            first=name,
            second=other,
            headline=headline(pair, self._voice),
            rows=tuple(rows(pair, self._voice)),
            notes=notes(pair),
            at_ms=np.array(noons_ms, dtype=np.int64),
            first_c=pair.first_c,
            second_c=pair.second_c,
            limit_c=pair.limit_c,
        )

    # ------------------------------------------------------------ parts of the above

    def _journal(self, now_ms: int) -> Sequence[Entry]:
        return self._season.entries(0, now_ms + 1)

    def _spans(self, journal: Sequence[Entry], now_ms: int) -> list[Span]:
        today = day_of(now_ms, self._locale.timezone)
        return [span for bed in self._garden.beds for span in seasons_of(bed, journal, today, self._locale.timezone)]

    def _past(self, span: Span, journal: Sequence[Entry], now_ms: int) -> Past:
        """What is known of a span; the very same object within the hour while nothing is written down."""
        key = (span, now_ms // HOUR_MS)
        with self._lock:
            kept = self._kept.pop(key, None)
            if kept is None or kept[0] != journal:
                kept = journal, past_of(span, self._garden, self._locale, self._readings, journal, now_ms)
            self._kept[key] = kept  # the newest stands last, and the oldest goes
            while len(self._kept) > _KEPT:
                del self._kept[next(iter(self._kept))]
            return kept[1]
