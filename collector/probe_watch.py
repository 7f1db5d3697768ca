"""Watches over the probes of every bed, and marks what they say when it is not of the soil.

A stake that lies in the air is looked for with every ten minutes of readings; a probe that fails,
once a day. What is found is written on the readings themselves, as flags: so the pages, the
forecasts and the export know it too, and it outlives a restart. Marks of the last days are put
right when more is known; older ones stand.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from collector.advice.rounds import series_of
from collector.model import DISTRUSTED, FAILING, Bed, Flag, Garden, Probe, Series
from collector.ports import Clock, ReadingMarks, Readings
from collector.rollup import Every, steps_of
from collector.soil.estimate.drifting import GAP_DAYS, LEARNS_DAYS, drifting
from collector.soil.estimate.dug_up import StakeWatch, air_at_c
from collector.soil.estimate.failing import Failing, failing_probes
from collector.soil.estimate.ground import TICK_MS
from collector.soil.estimate.season import Thermometer, moments_of
from collector.units import Quantity

HOUR_MS, DAY_MS = 3_600_000, 86_400_000
# A bed's stake is looked at no oftener than this, by the garden's clock.
LOOK_EVERY_MS = 60_000
# To know what the stake does now takes so much past, the first day of it to get to know the soil; of a stake that has been
# out for long, the past before that, but no more than the second is read.
STAKE_PAST_MS, STAKE_LONGEST_MS = 3 * DAY_MS, 14 * DAY_MS
STAKE_KNOWN_MS = DAY_MS
# Readings that come later than this make the stake be looked at anew from the beginning.
STAKE_LATE_MS = 6 * HOUR_MS
# How a probe used to be among the others takes a month to know (see `failing_probes`).
FAILING_PAST_DAYS = 31
# What crept away over weeks takes five months to know, by means of days; one counts of which so many hours were heard.
DRIFTING_PAST_DAYS, DAY_HOURS = GAP_DAYS + LEARNS_DAYS, 20
# Two odd days make a probe failing, and it is so still if the last of them was no longer ago than this.
STILL_FAILING_MS = 2 * DAY_MS
# Marks of the last days are put right; older ones stand, for by now the odd days may be all there is to compare with.
PUT_RIGHT_MS = 4 * DAY_MS
# Month-long looks take a second or so each: one bed in a look, the rest in the next ones.
FAILING_BEDS_A_LOOK = 1

_FLAGS = {Failing.DRIFTS: Flag.DRIFTS, Failing.SCATTERS: Flag.SCATTERS, Failing.STUCK: Flag.STANDS_STILL}
_MARKS = Flag.DUG_UP | Flag.DRIFTS | Flag.SCATTERS | Flag.STANDS_STILL
# A jump may be the very thing that is looked for.
_NO_NUMBER = DISTRUSTED & ~_MARKS & ~Flag.JUMP

Span = tuple[int, int | None]


@dataclass(slots=True)
class _Stake:
    """What is remembered of a bed's stake: its watch, up to when it has heard, and what was said in the last hours of that.

    What the watch finds counts from `known_ms` on; before, it was getting to know the soil.
    """

    watch: StakeWatch
    fed_ms: int
    known_ms: int
    heard: Mapping[str, Series]


@dataclass(slots=True)
class _Bed:
    """What is remembered of a bed between two looks."""

    looked_ms: int = 0
    stake: _Stake | None = None
    failing_day: int = -1
    failing: dict[tuple[str, Flag], list[Span]] = field(default_factory=dict)

    def fails(self, probe: Probe, how: Flag, first_ms: int, end_ms: int, now_ms: int) -> None:
        """Keep in mind from when to when a probe fails, open where it still does."""
        span = (first_ms, None if end_ms > now_ms - STILL_FAILING_MS else end_ms)
        self.failing.setdefault((probe.id, how), []).append(span)


class ProbeWatch:
    """Watches over the probes of one garden. One thread calls it."""

    def __init__(self, garden: Garden, readings: Readings, marks: ReadingMarks, clock: Clock) -> None:
        """It opens nothing: the stores are the caller's to close."""
        self._garden = garden
        self._readings = readings
        self._marks = marks
        self._clock = clock
        self._beds = {bed.id: _Bed() for bed in garden.beds}

    def look(self) -> None:
        """Look at every bed that is due. Raises what the stores raise; what was not marked then is with the next look."""
        now_ms = self._clock.now_ms()
        month_long = 0
        for bed in self._garden.beds:
            known = self._beds[bed.id]
            if 0 <= now_ms - known.looked_ms < LOOK_EVERY_MS:
                continue
            recent = self._look_at_stake(bed, known, now_ms)
            if known.failing_day != now_ms // DAY_MS and month_long < FAILING_BEDS_A_LOOK:
                month_long += self._look_for_failing(bed, known, now_ms)
                recent = series_of(bed, self._readings, now_ms - PUT_RIGHT_MS, now_ms + 1)
            if known.failing_day >= 0:  # before, what was marked in another run stands
                for probe in _thermometers(bed):
                    for flag in FAILING:
                        self._put_right(recent[probe.id], flag, known.failing.get((probe.id, flag), []))
            known.looked_ms = now_ms

    # ------------------------------------------------------------ the stake

    def _look_at_stake(self, bed: Bed, known: _Bed, now_ms: int) -> Mapping[str, Series]:
        """Look at what was said since the last look, and mark it; answers with what the bed's probes said of late."""
        probes, stake, from_ms = _thermometers(bed), known.stake, now_ms - STAKE_LATE_MS
        recent = series_of(bed, self._readings, min(from_ms, stake.fed_ms) if stake else from_ms, now_ms + 1)
        if len(probes) < 2:
            return recent
        if (
            stake is None
            or now_ms < stake.fed_ms
            or now_ms - stake.fed_ms > STAKE_LONGEST_MS
            or _came_late(stake, recent, from_ms)
        ):
            recent = series_of(bed, self._readings, now_ms - STAKE_LONGEST_MS, now_ms + 1)
            stake = known.stake = _from_the_past(probes, recent, now_ms)
        over_ms = (now_ms - TICK_MS // 2) // TICK_MS * TICK_MS + TICK_MS // 2  # the end of the last ten minutes that are over
        moments = moments_of([_thermometer(probe, _in_view(recent[probe.id], stake, over_ms), _NO_NUMBER) for probe in probes])
        air = self._air(bed, stake.fed_ms - HOUR_MS, now_ms)
        for time_ms, values_c in zip(moments.time_ms.tolist(), moments.values_c, strict=True):
            stake.watch.hear(time_ms, values_c, air_at_c(air, time_ms + TICK_MS // 2))
            stake.fed_ms = time_ms + TICK_MS // 2
        stake.heard = recent
        spans = [(_begin_ms(one.first_ms), None if one.end_ms is None else _begin_ms(one.end_ms)) for one in stake.watch.spans]
        for probe in bed.probes:
            if probe.depth_m is not None:
                self._put_right(recent[probe.id].within(stake.known_ms, now_ms + 1), Flag.DUG_UP, spans)
        return recent

    def _air(self, bed: Bed, from_ms: int, to_ms: int) -> Thermometer | None:
        """Air over one garden is one air: the bed's own thermometer in it, else the first of another bed."""
        probe = next((one for each in (bed, *self._garden.beds) for one in each.probes_of(Quantity.AIR_TEMPERATURE)), None)
        if probe is None:
            return None
        said = self._readings.series(probe.id, from_ms, to_ms + 1).trusted()
        return Thermometer(0.0, said.time_ms, said.value)

    # ------------------------------------------------------------ failing probes

    def _look_for_failing(self, bed: Bed, known: _Bed, now_ms: int) -> bool:
        """Whether it took the time of a look at a month of readings."""
        known.failing_day, known.failing = now_ms // DAY_MS, {}
        probes = _thermometers(bed)
        if len(probes) < 3:
            return False
        from_ms = (now_ms // DAY_MS - FAILING_PAST_DAYS) * DAY_MS
        series = series_of(bed, self._readings, from_ms, now_ms + 1)
        for one in failing_probes([_thermometer(probe, series[probe.id], _NO_NUMBER | Flag.DUG_UP) for probe in probes]):
            known.fails(probes[one.probe], _FLAGS[one.how], one.first_ms, one.last_ms, now_ms)
        first_day, means_c = self._day_means_c(probes, series, from_ms, now_ms)
        crept = drifting([probe.depth_m or 0.0 for probe in probes], means_c)
        for place, probe in enumerate(probes):
            for first, last in _runs(crept[:, place]):
                known.fails(probe, Flag.DRIFTS, (first_day + first) * DAY_MS, (first_day + last + 1) * DAY_MS, now_ms)
        return True

    def _day_means_c(
        self, probes: Sequence[Probe], series: Mapping[str, Series], from_ms: int, now_ms: int
    ) -> tuple[int, NDArray[np.float64]]:
        """The number of the first day, and the mean of each day that is over by probe [°C], NaN where too little was said.

        What is long past is as it was rolled up, without what was marked; of late, marked readings count too: whether the
        marks still hold is the question.
        """
        today = now_ms // DAY_MS
        first_day = today - DRIFTING_PAST_DAYS
        means_c = np.full((today - first_day, len(probes)), np.nan)
        for place, probe in enumerate(probes):
            old = self._readings.steps(probe.id, first_day * DAY_MS, from_ms, Every.HOUR)
            late = steps_of(_unmarked(series[probe.id]), Every.HOUR)
            hours, values = np.concatenate([old.begin_ms, late.begin_ms]) // DAY_MS, np.concatenate([old.mean, late.mean])
            for day in np.unique(hours[(hours >= first_day) & (hours < today)]).tolist():
                here = hours == day
                if here.sum() >= DAY_HOURS:
                    means_c[day - first_day, place] = values[here].mean()
        return first_day, means_c

    # ------------------------------------------------------------ marks

    def _put_right(self, series: Series, flag: Flag, spans: Sequence[Span]) -> None:
        """Make a flag stand on just those readings of the series that lie in one of the spans."""
        wanted = np.zeros(series.time_ms.shape, dtype=bool)
        for first_ms, end_ms in spans:
            wanted |= (series.time_ms >= first_ms) & (end_ms is None or series.time_ms < end_ms)
        wrong = wanted != ((series.flags & int(flag)) != 0)
        for on in (True, False):
            for first, last in _runs(wrong & (wanted == on)):
                self._marks.mark(series.probe_id, int(series.time_ms[first]), int(series.time_ms[last]) + 1, flag, on=on)


def _thermometers(bed: Bed) -> list[Probe]:
    return [probe for probe in bed.probes_of(Quantity.SOIL_TEMPERATURE) if probe.depth_m is not None]


def _unmarked(series: Series) -> Series:
    """What may be of the soil, whatever the watch has marked it with, but for what lay in the air."""
    keep = (series.flags & int(_NO_NUMBER | Flag.DUG_UP)) == 0
    return Series(series.probe_id, series.time_ms[keep], series.value[keep], np.zeros(int(keep.sum()), dtype=series.flags.dtype))


def _thermometer(probe: Probe, series: Series, without: Flag) -> Thermometer:
    keep = (series.flags & int(without)) == 0
    return Thermometer(probe.depth_m or 0.0, series.time_ms[keep], series.value[keep])


def _from_the_past(probes: Sequence[Probe], series: Mapping[str, Series], now_ms: int) -> _Stake:
    """A watch at the beginning of the days that tell what the stake does now."""
    depths_m = [probe.depth_m or 0.0 for probe in probes]
    in_soil_ms = [int(times_ms[-1]) for probe in probes if (times_ms := _in_soil_ms(series[probe.id])).size]
    if in_soil_ms:
        from_ms = max(now_ms - STAKE_LONGEST_MS, max(in_soil_ms) - STAKE_PAST_MS) // TICK_MS * TICK_MS - TICK_MS // 2
        return _Stake(StakeWatch(depths_m), from_ms, from_ms + STAKE_KNOWN_MS, {})
    marked_ms = [int(series[probe.id].time_ms[0]) for probe in probes if series[probe.id].time_ms.size]
    begin_ms = min(marked_ms, default=now_ms) // TICK_MS * TICK_MS - TICK_MS // 2
    return _Stake(StakeWatch(depths_m, begin_ms if marked_ms else None), begin_ms, begin_ms, {})


def _in_soil_ms(series: Series) -> NDArray[np.int64]:
    """When a probe spoke and was not marked as lying in the air [ms]."""
    times_ms: NDArray[np.int64] = series.time_ms[(series.flags & int(Flag.DUG_UP | _NO_NUMBER)) == 0]
    return times_ms


def _in_view(series: Series, stake: _Stake, to_ms: int) -> Series:
    """What the watch has not heard yet; of the days in which it gets to know the soil, only what was said there."""
    new = series.within(stake.fed_ms, to_ms)
    keep = (new.time_ms >= stake.known_ms) | ((new.flags & int(Flag.DUG_UP)) == 0)
    return new.kept(keep)


def _begin_ms(moment_ms: int) -> int:
    """A moment of ten minutes stands for what was said from five minutes before it on [ms]."""
    return moment_ms - TICK_MS // 2


def _came_late(stake: _Stake, recent: Mapping[str, Series], from_ms: int) -> bool:
    """Whether readings have come since of a time that was looked at already."""
    return any(
        recent[probe_id].within(from_ms, stake.fed_ms).time_ms.size != heard.within(from_ms, stake.fed_ms).time_ms.size
        for probe_id, heard in stake.heard.items()
    )


def _runs(which: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last place of each run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], which, [False]]).astype(np.int8)))
    return [(int(first), int(after) - 1) for first, after in edges.reshape(-1, 2)]
