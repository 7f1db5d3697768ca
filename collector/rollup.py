"""Readings rolled up: what a probe said in each ten minutes, hour or day, in a few numbers. Pure.

Steps are counted from 1970-01-01 UTC. A day of these is one of UTC, and not of the garden: whoever wants the garden's own days
makes them out of hours.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from collector.model import Series

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


class Every(IntEnum):
    """How long a step is [ms]. Each is a whole number of the one before."""

    TEN_MINUTES = 600_000
    HOUR = 3_600_000
    DAY = 86_400_000


@dataclass(frozen=True, slots=True, eq=False)
class Sums:
    """What steps are kept as: n steps in order, n values each.

    `place` counts steps since 1970-01-01 UTC, and goes below zero before; `moments_ms` is the sum of how long after the
    begin of the step its readings were measured [ms]. Sums of short steps add up to those of long ones.
    """

    place: Ints
    least: Floats
    most: Floats
    total: Floats
    moments_ms: Ints
    count: Ints

    def kept(self, which: slice | NDArray[np.bool_]) -> Sums:
        """The same with only some of the steps."""
        return Sums(*(column[which] for column in self.columns))

    @property
    def columns(self) -> tuple[Any, ...]:
        """The six arrays, in the order of the fields."""
        return self.place, self.least, self.most, self.total, self.moments_ms, self.count


_NO_INTS, _NO_FLOATS = np.array([], dtype=np.int64), np.array([], dtype=np.float64)
NOTHING = Sums(_NO_INTS, _NO_FLOATS, _NO_FLOATS, _NO_FLOATS, _NO_INTS, _NO_INTS)


@dataclass(frozen=True, slots=True, eq=False)
class Steps:
    """What a probe said that may be believed, step by step, those left out in which it said nothing.

    Six arrays of n, oldest first: `begin_ms` of each step, `time_ms` the mean time of its readings [ms since 1970-01-01 UTC],
    `least`, `mean` and `most` in the unit of its quantity, and the `count` of readings.
    """

    probe_id: str
    every: Every
    begin_ms: Ints
    time_ms: Ints
    least: Floats
    mean: Floats
    most: Floats
    count: Ints

    def line(self) -> Series:
        """The course of the steps as a series: means at their times, but peaks as high and troughs as low as they were.

        A step whose mean is no less than those beside it shows its greatest value, one whose mean is no greater its least.
        """
        return Series(self.probe_id, self.time_ms, self._peaked(), np.zeros(self.time_ms.size, dtype=np.int64))

    def means(self) -> Series:
        """The means at their times, as a series."""
        return Series(self.probe_id, self.time_ms, self.mean, np.zeros(self.time_ms.size, dtype=np.int64))

    def _peaked(self) -> Floats:
        if self.mean.size < 2:
            return self.mean
        before, after = (np.concatenate(pair) for pair in ((self.mean[:1], self.mean[:-1]), (self.mean[1:], self.mean[-1:])))
        peak, trough = (self.mean >= before) & (self.mean >= after), (self.mean <= before) & (self.mean <= after)
        level = peak & trough
        return np.where(peak & ~level, self.most, np.where(trough & ~level, self.least, self.mean))


def sums_of(time_ms: Ints, value: Floats, every: Every) -> Sums:
    """The sums of readings in order of time [ms since 1970-01-01 UTC], whatever they are of."""
    if not time_ms.size:
        return NOTHING
    places = time_ms // every
    place, first = np.unique(places, return_index=True)
    return Sums(
        place,
        np.minimum.reduceat(value, first),
        np.maximum.reduceat(value, first),
        np.add.reduceat(value, first),
        np.add.reduceat(time_ms - places * every, first),
        np.diff(np.append(first, time_ms.size)),
    )


def together(parts: Sequence[Sums]) -> Sums:
    """All of these, in order; steps that several of them know are added up."""
    columns = [np.concatenate(column) for column in zip(*(part.columns for part in parts), strict=True)] if parts else ()
    if not columns or not columns[0].size:
        return NOTHING
    order = np.argsort(columns[0], kind="stable")
    return _added(Sums(*(column[order] for column in columns)))


def coarser(sums: Sums, every: Every, wanted: Every) -> Sums:
    """Sums of longer steps out of those of short ones."""
    if every == wanted or not sums.place.size:
        return sums
    begin_ms = sums.place * every
    places = begin_ms // wanted
    moments_ms = sums.moments_ms + sums.count * (begin_ms - places * wanted)
    return _added(Sums(places, sums.least, sums.most, sums.total, moments_ms, sums.count))


def steps_from(probe_id: str, sums: Sums, every: Every) -> Steps:
    """Sums as they are read."""
    begin_ms = sums.place * every
    time_ms = begin_ms + sums.moments_ms // np.maximum(sums.count, 1)
    return Steps(probe_id, every, begin_ms, time_ms, sums.least, sums.total / np.maximum(sums.count, 1), sums.most, sums.count)


def steps_of(series: Series, every: Every) -> Steps:
    """The steps of a series, out of what of it may be believed."""
    said = series.trusted()
    return steps_from(series.probe_id, sums_of(said.time_ms, said.value, every), every)


def _added(sums: Sums) -> Sums:
    """Sums in order of place, those of one place made one."""
    place, first = np.unique(sums.place, return_index=True)
    if place.size == sums.place.size:
        return sums
    return Sums(
        place,
        np.minimum.reduceat(sums.least, first),
        np.maximum.reduceat(sums.most, first),
        *(np.add.reduceat(column, first) for column in (sums.total, sums.moments_ms, sums.count)),
    )
