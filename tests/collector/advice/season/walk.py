"""Walks one rule through a row of seasons, and writes down what it calls and what it tells the phone."""

import datetime as dt
from dataclasses import dataclass, replace

from collector.advice.rules import step
from collector.advice.season.state import SeasonState
from collector.advice.state import BedState
from collector.calls import Call, Job, Memory
from collector.outlook import Outlook
from tests.collector.advice.season.seasons import season_state
from tests.fakes import NOW_MS
from tests.fakes_advice import FakeReadings, bed, state

DAY_MS = 86_400_000


def bed_state(season: SeasonState | None = None, outlook: Outlook | None = None, at_ms: int = NOW_MS, **changes) -> BedState:
    """A bed of which the probes say nothing that matters here; `changes` go to the bed of the garden file, `of_state` to it."""
    of_state = changes.pop("of_state", {})
    seen = state(replace(bed(), **changes), FakeReadings(), at_ms, outlook)
    return replace(seen, season=season_state() if season is None else season, **of_state)


@dataclass
class Walk:
    """One rule's memory; each `to` is a day later than the last."""

    job: Job
    memory: Memory | None = None
    day: int = 0
    call: Call | None = None

    def to(self, season: SeasonState | None = None, *, done: bool = False, days: float = 1, **changes) -> str:
        """One look: how pressing it is, and "!" where the phone is told; `done` where the grower just said so."""
        now_ms = NOW_MS + round(self.day * DAY_MS)
        seen = bed_state(season, at_ms=now_ms, **changes)
        made = step(self.memory or Memory("terrace", self.job), seen, now_ms if done else None)
        self.memory, self.call = made.after, made.call
        self.day += days
        return f"{made.call.due.value}{'!' if made.newly_told else ''}"


def later(day: dt.date, days: int) -> dt.date:
    """A date some days later."""
    return day + dt.timedelta(days=days)
