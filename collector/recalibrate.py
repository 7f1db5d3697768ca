"""Works readings out anew from what probes sent, by the calibrations that hold now. What was sent is never changed.

The readings of a span are read in portions, and those that come out otherwise are committed; rollups, estimates and pages
follow by themselves. It does no harm to do it twice, or to stop in the middle.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from collector import checks
from collector.calibration import Book, Calibration
from collector.convert import SOIL_PATIENCE_MS, Refused, Untold, value_of
from collector.model import UNBELIEVED_TIME, Batch, Flag, Garden, Probe, Reading, Spoken
from collector.ports import CalibrationStore, Readings, ReadingStore
from collector.units import UNIT_RULES

AT_ONCE = 5_000
# What the checks of one reading after the other find; the rest of what a reading is marked with stays.
_CHECKED = Flag.OUT_OF_RANGE | Flag.RESET_VALUE | Flag.DISCONNECTED | Flag.STUCK | Flag.JUMP | Flag.UNCALIBRATED
AFTER_ALL_MS = 2**62
IDLE_S, BUSY_S = 3.0, 0.05


@dataclass(frozen=True, slots=True)
class Portion:
    """What became of some readings: up to when [ms] all is done, how many were looked at, changed, and could not be told."""

    up_to_ms: int
    looked_at: int
    changed: int
    unfit: int


class Replay:
    """Works out anew what probes of a garden sent. The stores are the caller's to close."""

    def __init__(self, readings: Readings, store: ReadingStore, book: Book, probes: Sequence[Probe]) -> None:
        self._readings = readings
        self._store = store
        self._book = book
        self._probes = {probe.id: probe for probe in probes}
        self._spoken = _Spoken(store.spoken())

    def run(self, probe_id: str, from_ms: int, to_ms: int) -> Iterator[Portion]:
        """The readings of one probe with from_ms <= measured_ms < to_ms, portion by portion, each committed when it is given.

        Raises what the stores raise.
        """
        probe = self._probes[probe_id]
        memory: checks.ProbeMemory | None = None
        streamed = self._readings.readings([probe_id], from_ms, to_ms)
        while some := list(islice(streamed, AT_ONCE)):
            memory, changed, unfit = self._anew(probe, some, memory)
            if changed:
                self._store.commit(Batch(readings=tuple(changed), imported=True))
            yield Portion(some[-1].measured_ms + 1, len(some), len(changed), unfit)

    def _anew(
        self, probe: Probe, some: Sequence[Reading], memory: checks.ProbeMemory | None
    ) -> tuple[checks.ProbeMemory | None, list[Reading], int]:
        soil_c = self._soil_c(probe, some)
        changed, unfit = [], 0
        for reading, at_c in zip(some, soil_c.tolist(), strict=True):
            if reading.flags & Flag.AS_TOLD:
                continue
            curve = self._book.curve(probe.id, reading.measured_ms)
            unit = self._spoken.unit(probe, reading.received_ms)
            value = value_of(probe, unit, reading.raw, curve, None if np.isnan(at_c) else at_c)
            if isinstance(value, Refused):
                unfit += 1
                continue
            flags = reading.flags & ~_CHECKED
            if isinstance(value, Untold):
                value, flags = reading.raw, flags | Flag.UNCALIBRATED
            elif flags & UNBELIEVED_TIME:
                flags |= checks.alone(memory, probe, value)
            else:
                memory, found = checks.check(memory, probe, reading.measured_ms, value, reading.received_ms)
                flags |= found & _CHECKED
            if value != reading.value or flags != reading.flags:
                changed.append(Reading(probe.id, reading.measured_ms, value, reading.raw, reading.received_ms, flags))
        return memory, changed, unfit

    def _soil_c(self, probe: Probe, some: Sequence[Reading]) -> NDArray[np.float64]:
        """What the thermometer said that curves of these readings heed, at or before each [°C]; NaN where none does."""
        times_ms = np.array([one.measured_ms for one in some])
        soil_c = np.full(times_ms.size, np.nan)
        curves = [self._book.curve(probe.id, one.measured_ms) for one in some]
        for thermometer in {curve.thermometer for curve in curves if curve is not None and curve.thermometer is not None}:
            series = self._readings.series(thermometer, int(times_ms[0]) - SOIL_PATIENCE_MS, int(times_ms[-1]) + 1).trusted()
            place = np.searchsorted(series.time_ms, times_ms, side="right") - 1
            near = (place >= 0) & np.array([curve is not None and curve.thermometer == thermometer for curve in curves])
            near[near] = times_ms[near] - series.time_ms[place[near]] <= SOIL_PATIENCE_MS
            soil_c[near] = series.value[place[near]]
        return soil_c


class _Spoken:
    """In which unit a probe sent its numbers when."""

    def __init__(self, spoken: Sequence[Spoken]) -> None:
        self._of: dict[str, tuple[list[int], list[str]]] = {}
        for one in spoken:
            times, units = self._of.setdefault(one.probe_id, ([], []))
            times.append(one.from_ms)
            units.append(one.unit)

    def unit(self, probe: Probe, received_ms: int) -> str:
        usual = UNIT_RULES[probe.quantity].unit
        times, units = self._of.get(probe.id, ([], []))
        place = bisect_right(times, received_ms)
        return units[place - 1] if place else usual


class Recalibrator:
    """Carries on beside the intake (a carrier of the daemon): tells it what calibrations hold, and replays what they change."""

    name = "calibrations"

    def __init__(
        self,
        garden: Garden,
        season: CalibrationStore,
        readings: Readings,
        store: ReadingStore,
        tell: Callable[[Book], None],
    ) -> None:
        """`tell` is told which calibrations hold, at first and when they have changed."""
        self.trouble: str | None = None
        self._garden = garden
        self._season = season
        self._readings = readings
        self._store = store
        self._tell = tell
        self._known: Sequence[Calibration] | None = None
        self._replaying: Iterator[Portion] | None = None
        self._which = ("", 0)

    def step(self) -> float:
        """One portion of what is to be replayed. Answers how long to wait [s] before the next."""
        calibrations = self._season.calibrations()
        if calibrations != self._known:
            self._tell(Book.of(calibrations))
            self._known, self._replaying = calibrations, None
            return IDLE_S  # what the intake has in hand by the ones before is stored by then, and replayed with the rest
        if self._replaying is None:
            self._begin(Book.of(calibrations))
        if self._replaying is None:
            return IDLE_S
        probe_id, from_ms = self._which
        portion = next(self._replaying, None)
        if portion is not None:
            self._season.replayed(probe_id, from_ms, portion.up_to_ms)
            self._which = (probe_id, portion.up_to_ms)
        else:  # what came in meanwhile was told by the calibrations that hold
            self._season.replayed(probe_id, from_ms, None)
            self._replaying = None
        return BUSY_S

    def _begin(self, book: Book) -> None:
        probes = {probe.id for probe in self._garden.probes}
        for probe_id, from_ms in self._season.to_replay().items():
            if probe_id in probes:
                self._which = (probe_id, from_ms)
                self._replaying = Replay(self._readings, self._store, book, self._garden.probes).run(
                    probe_id, from_ms, AFTER_ALL_MS
                )
                return
