"""A round through a bed: read it, work out its state, let every rule look. Pure, but for what it asks of the readings.

The advisor saves what a round remembers; a page makes the same round and saves nothing, so
that it never shows less than the stores hold.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from zoneinfo import ZoneInfo

from collector.advice.covered import covered
from collector.advice.follow import Followers, cloves_of
from collector.advice.rules import MARKS_SPAN_MS, RULES, Step, newest_mark, step
from collector.advice.season.seasons import Seasons
from collector.advice.season.state import SeasonState
from collector.advice.state import DAY_MS, STATE_SPAN_MS, BedState, state_of
from collector.advice.wetted import wetted_of
from collector.calls import Call, DoneMark, Job, Memory
from collector.journal import Entry
from collector.model import Bed, Garden, Reading, Series
from collector.outlook import OUTLOOK_PATIENCE_MS, Outlook
from collector.ports import Readings, SeasonStore
from collector.units import Quantity

# A round is good for so long while nothing new is heard: two days of readings a minute take a
# while to read, and pages ask every few seconds.
ROUND_KEEPS_MS = 30_000
# To learn a bed takes a good part of a second, so that not all of a farm are learned in one round: the rest come next.
LEARNED_A_ROUND = 4


@dataclass(frozen=True, slots=True)
class Round:
    """What a bed's probes said of late, its state, and what each rule made of it."""

    series: Mapping[str, Series]
    state: BedState
    steps: tuple[Step, ...]
    learned: bool = False  # the bed had to be learned anew for it

    @property
    def calls(self) -> tuple[Call, ...]:
        """What every rule calls, fine ones among them."""
        return tuple(one.call for one in self.steps)


class Rounds:
    """Goes round beds as they are now. Any thread may ask."""

    def __init__(self, garden: Garden, readings: Readings, season: SeasonStore, seasons_a_round: int | None = None) -> None:
        """It opens nothing: the stores are the caller's to close.

        A season of readings takes its time to read: where nobody can wait, no more than `seasons_a_round` are worked out
        in one round, and the others stay as they were known last.
        """
        self._seasons_a_round = seasons_a_round
        self._timezone = ZoneInfo(garden.timezone)
        self._readings = readings
        self._season = season
        # Rain over one garden is one rain.
        self._gauges = [probe for probe in garden.probes if probe.quantity is Quantity.RAIN]
        self._seasons = Seasons(garden, readings, season)
        self._followers = Followers(readings, cloves_of)
        self._made: dict[str, tuple[object, Round]] = {}
        self._seasons_left = seasons_a_round

    def go(self, beds: Sequence[Bed], now_ms: int) -> list[Round]:
        """A round through each bed at `now_ms` [ms since 1970-01-01 UTC], or a little before. Raises what the stores raise."""
        latest, memories = self._readings.latest(), self._season.memories()
        marks = self._season.done_marks(now_ms - MARKS_SPAN_MS, now_ms + 1)
        rain = cache(lambda: [self._readings.series(gauge.id, now_ms - STATE_SPAN_MS, now_ms + 1) for gauge in self._gauges])
        journal = self._seasons.entries(now_ms)
        new: list[Round] = []
        self._seasons_left = self._seasons_a_round
        for filed in beds:
            bed = covered(filed, journal, self._timezone, now_ms)
            may_learn = sum(one.learned for one in new) < LEARNED_A_ROUND
            new.append(self._round(bed, latest, memories, marks, journal, rain, now_ms, may_learn))
        return new

    def _round(
        self,
        bed: Bed,
        latest: Mapping[str, Reading],
        memories: Mapping[tuple[str, Job], Memory],
        marks: Sequence[DoneMark],
        journal: Sequence[Entry],
        rain: Callable[[], Sequence[Series]],
        now_ms: int,
        may_learn: bool,
    ) -> Round:
        looks = [(memories.get((bed.id, job), Memory(bed.id, job)), newest_mark(marks, bed.id, job)) for job in RULES]
        outlook = self._season.outlook(bed.id, now_ms - OUTLOOK_PATIENCE_MS)
        basis = (looks, bed.covers, [latest.get(probe.id) for probe in bed.probes], outlook and outlook.made_ms)
        far = self._season_of(bed, journal, outlook, now_ms)
        made = self._made.get(bed.id)
        if made and made[0] == basis and made[1].state.season is far and 0 <= now_ms - made[1].state.now_ms < ROUND_KEEPS_MS:
            return replace(made[1], learned=False)
        series = series_of(bed, self._readings, now_ms - STATE_SPAN_MS, now_ms + 1)
        watered_ms = max((mark_ms for job in (Job.WATER, Job.HOSE) if (mark_ms := newest_mark(marks, bed.id, job))), default=None)
        wetted = wetted_of(bed, series.values(), rain(), watered_ms, now_ms)
        followed, learned = self._followers.followed(bed, series, now_ms - 2 * DAY_MS, now_ms, may_learn=may_learn)
        state = state_of(bed, series, latest, now_ms, outlook, wetted, followed, far)
        new = Round(series, state, tuple(step(memory, state, mark_ms) for memory, mark_ms in looks), learned)
        self._made[bed.id] = (basis, new)
        return new

    def _season_of(self, bed: Bed, journal: Sequence[Entry], outlook: Outlook | None, now_ms: int) -> SeasonState | None:
        before = self._seasons.known(bed)
        if self._seasons_left is not None and self._seasons_left <= 0:
            return before
        far = self._seasons.of(bed, journal, outlook, now_ms)
        if self._seasons_left is not None and far is not before:
            self._seasons_left -= 1
        return far


def series_of(bed: Bed, readings: Readings, from_ms: int, to_ms: int) -> dict[str, Series]:
    """What every probe of a bed said in from_ms <= t < to_ms [ms since 1970-01-01 UTC], by probe id."""
    return {probe.id: readings.series(probe.id, from_ms, to_ms) for probe in bed.probes}
