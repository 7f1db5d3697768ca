"""A round through a bed: read it, work out its state, let every rule look. Pure, but for what it asks of the readings.

The advisor saves what a round remembers; a page makes the same round and saves nothing, so
that it never shows less than the stores hold.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from collector.advice.rules import RULES, Step, newest_mark, step
from collector.advice.state import STATE_SPAN_MS, BedState, state_of
from collector.model import Bed, Call, DoneMark, Job, Memory, Reading, Series
from collector.ports import Readings


@dataclass(frozen=True, slots=True)
class Round:
    """What a bed's probes said of late, its state, and what each rule made of it."""

    series: Mapping[str, Series]
    state: BedState
    steps: tuple[Step, ...]

    @property
    def calls(self) -> tuple[Call, ...]:
        """What every rule calls, fine ones among them."""
        return tuple(one.call for one in self.steps)


def go_round(
    bed: Bed,
    readings: Readings,
    latest: Mapping[str, Reading],
    memories: Mapping[tuple[str, Job], Memory],
    marks: Sequence[DoneMark],
    now_ms: int,
) -> Round:
    """One round through one bed at `now_ms` [ms since 1970-01-01 UTC].

    `latest` is the newest reading of each probe, `marks` the grower's of at least the last
    `rules.MARKS_SPAN_MS`. Raises what the store raises.
    """
    series = series_of(bed, readings, now_ms - STATE_SPAN_MS, now_ms + 1)
    state = state_of(bed, series, latest, now_ms)
    steps = [step(memories.get((bed.id, job), Memory(bed.id, job)), state, newest_mark(marks, bed.id, job)) for job in RULES]
    return Round(series, state, tuple(steps))


def series_of(bed: Bed, readings: Readings, from_ms: int, to_ms: int) -> dict[str, Series]:
    """What every probe of a bed said in from_ms <= t < to_ms [ms since 1970-01-01 UTC], by probe id."""
    return {probe.id: readings.series(probe.id, from_ms, to_ms) for probe in bed.probes}
