"""Plays a scenario: the season up to now as fast as it can be worked out, then on with a clock.

What the grower does while it plays is handed to `Play.apply` and takes effect with the next
ten minutes.
"""

from __future__ import annotations

import datetime as dt
import math
import queue
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Protocol

from collector.ports import Clock
from collector.simulate.bed import SimulatedBed
from collector.simulate.probes import Record, SimulatedStake, pack
from collector.simulate.scenario import Scenario
from collector.simulate.weather import Moment, weather
from collector.soil import water

# A pack of the back-fill holds this many readings of each probe: an hour's.
READINGS_IN_PACK = 6
# The grower looks at the beds at this hour, UTC.
MORNING_H = 5
# How long to wait before looking at the clock again [s of the machine]; a fast clock's ten minutes pass in seconds.
_LOOK_AGAIN_S = 0.05

Publish = Callable[[str, bytes], None]


class Stop(Protocol):
    """A wish to end, as threading.Event tells it."""

    def is_set(self) -> bool:
        """True once somebody wants the play to end."""


@dataclass(frozen=True, slots=True)
class LayCloth:
    """The grower lays a cloth that takes this share of the sun (0 to 1); 0 takes it away."""

    bed_id: str
    shade: float

    def __post_init__(self) -> None:
        if not 0 <= self.shade <= 1:
            raise ValueError(f"shade is {self.shade}; want 0 to 1")


@dataclass(frozen=True, slots=True)
class Water:
    """The grower waters a bed; None is as much as refills its root zone."""

    bed_id: str
    litres: float | None = None

    def __post_init__(self) -> None:
        if self.litres is not None and not 0 <= self.litres < math.inf:
            raise ValueError(f"litres is {self.litres}; want 0 or more, or None to refill")


Action = LayCloth | Water


class Play:
    """One showing of a scenario. One thread plays it; `apply` may be called from any."""

    def __init__(self, scenario: Scenario) -> None:
        self._scenario = scenario
        self.beds = {bed.id: SimulatedBed(bed, scenario.climate, scenario.weather_first) for bed in scenario.beds}
        probes = {probe.id: probe for bed in scenario.beds for probe in bed.probes}
        self._stakes = [
            (
                SimulatedStake(
                    plan.topic,
                    [probes[probe_id] for probe_id in plan.probe_ids],
                    plan.faults,
                    plan.volts_full,
                    plan.volts_per_day,
                ),
                self.beds[plan.bed_id],
            )
            for plan in scenario.stakes
        ]
        days = (scenario.end - scenario.weather_first).days
        moments = weather(scenario.climate, scenario.weather_first, days, scenario.spells, scenario.seed).moments()
        self._past = iter([moment for moment in moments if moment.time_ms <= scenario.now_ms])
        self._future = iter([moment for moment in moments if moment.time_ms > scenario.now_ms])
        self.poured: list[tuple[int, str, float]] = []  # by habit: when [ms], which bed, how much [L]
        self._actions: queue.SimpleQueue[Action] = queue.SimpleQueue()

    def apply(self, action: Action) -> None:
        """Let the grower do something; it takes effect with the next step. Raises ValueError for a bed that is not there."""
        if action.bed_id not in self.beds:
            raise ValueError(f"bed {action.bed_id!r} is not in the scenario; want one of: {', '.join(self.beds)}")
        self._actions.put(action)

    def backfill(self) -> Iterator[tuple[str, bytes]]:
        """Topic and payload of every pack up to now, in the order of time; each stake sends at the full hour what it has read."""
        first_ms = int(dt.datetime.combine(self._scenario.first, dt.time(), dt.UTC).timestamp()) * 1000
        waiting: list[list[Record]] = [[] for _ in self._stakes]
        gathered = 0
        for moment in self._past:
            self._pass_time(moment)
            self._keep_habits(moment)
            if moment.time_ms <= first_ms:
                continue
            gathered += 1
            for records, (stake, bed) in zip(waiting, self._stakes, strict=True):
                records += stake.read(bed, moment)
            if gathered % READINGS_IN_PACK == 0 or moment.time_ms == self._scenario.now_ms:
                for records, (stake, _) in zip(waiting, self._stakes, strict=True):
                    if records:
                        yield stake.topic, pack(records)
                        records.clear()

    def live(self, clock: Clock, publish: Publish, stop: Stop) -> None:
        """Go on from now with the clock, a pack from each stake every ten minutes, until `stop` is set or the season ends."""
        for moment in self._future:
            while clock.now_ms() < moment.time_ms:
                if stop.is_set():
                    return
                clock.sleep(_LOOK_AGAIN_S)
            if stop.is_set():
                return
            self._do_what_was_asked()
            self._pass_time(moment)
            for stake, bed in self._stakes:
                if records := stake.read(bed, moment):
                    publish(stake.topic, pack(records))

    def _pass_time(self, moment: Moment) -> None:
        for bed in self.beds.values():
            bed.pass_time(moment)

    def _keep_habits(self, moment: Moment) -> None:
        now = dt.datetime.fromtimestamp(moment.time_ms / 1000, dt.UTC)
        if (now.hour, now.minute) != (MORNING_H, 0):
            return
        for habit in self._scenario.habits:
            bed = self.beds[habit.bed_id]
            thirsty = bed.depletion_mm >= habit.share_of_raw * _raw_mm(bed)
            if now.date() == habit.last or (thirsty and now.date() < habit.last):
                litres = _refill_litres(bed)
                bed.pour(litres)
                self.poured.append((moment.time_ms, habit.bed_id, litres))

    def _do_what_was_asked(self) -> None:
        while not self._actions.empty():
            action = self._actions.get()
            bed = self.beds[action.bed_id]
            if isinstance(action, LayCloth):
                bed.lay_cloth(action.shade)
            else:
                bed.pour(_refill_litres(bed) if action.litres is None else action.litres)


def _raw_mm(bed: SimulatedBed) -> float:
    garden_bed = bed.bed
    taw_mm = water.total_available_mm(garden_bed.field_capacity, garden_bed.wilting_point, garden_bed.root_depth_m)
    return water.readily_available_mm(taw_mm, water.GARLIC_P_TABLE)


def _refill_litres(bed: SimulatedBed) -> float:
    return water.refill_litres(bed.depletion_mm, bed.bed.area_m2, bed.bed.watering_efficiency)
