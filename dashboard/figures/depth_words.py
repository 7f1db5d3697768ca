"""What the picture of the whole profile shows, in words: how deep the cool line sank, and how deep it would."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from collector.query import BedHistory
from dashboard import theme
from dashboard.figures import ahead
from dashboard.figures.chart import Finding, Reader
from dashboard.figures.depth_time import Ground, deepest_over_m, ground_ahead

LEAST_SHARE_KNOWN = 0.95


def depth_time_finding(history: BedHistory, reader: Reader) -> Finding:
    """What the picture shows."""
    limit_c, is_known = history.bed.cool_limit_c, np.isfinite(history.profile_c)
    if not is_known.any():
        return Finding("The temperature of the soil is not known.", "Nothing is painted where nothing is known.")
    if limit_c is None:
        return Finding("The soil, at every depth.", "Colours lie around 18 °C, since no cool limit is set for this bed.")
    limit, to_come = theme.limit(limit_c, reader.units), ground_ahead(history)
    note = f"The whole profile. The line is your limit, {limit}: over it the soil is warmer, under it cooler."
    if to_come is not None:
        note += " Dashed: to come, if nothing is done."
    past = _Reach.of(Ground(history.grid_ms, history.grid_depths_m, history.profile_c), history, limit_c, reader)
    future = None if to_come is None else _Reach.of(to_come, history, limit_c, reader)
    as_far = "" if is_known.any(axis=1).mean() > LEAST_SHARE_KNOWN else ", as far as is known"
    heading = past.said(limit, as_far) if future is None else past.said_with(future, limit, as_far, _for_days(history))
    return Finding(heading, note)


def _for_days(history: BedHistory) -> str:
    part = ahead.temperature(history)
    assert part is not None
    return ahead.for_days(history, part)


class _Reach:
    """How deep the cool line goes in one of the two pictures, and when."""

    def __init__(self, reach_m: NDArray[np.float64], time_ms: NDArray[np.int64], history: BedHistory, reader: Reader) -> None:
        cloves_m = history.bed.clove_depth_m
        self.any = bool(np.isfinite(reach_m).any())
        place = int(np.nanargmax(reach_m)) if self.any else 0
        self.depth = theme.depth(float(reach_m[place]), reader.units) if self.any else ""
        self.day = reader.day(float(time_ms[place]), history.now_ms) if self.any else ""
        passed = np.nan_to_num(reach_m, nan=-np.inf) > (np.inf if cloves_m is None else cloves_m)
        self.passes, self.passed_at_first, self.passed_at_last = bool(passed.any()), bool(passed[0]), bool(passed[-1])
        first_ms = float(time_ms[int(np.argmax(passed))])
        self.passing_day, self.passing = reader.day(first_ms, history.now_ms), reader.moment(first_ms, history.now_ms)
        self.cloves = "" if cloves_m is None else f"; the cloves lie at {theme.depth_number(cloves_m, reader.units):g}"

    @classmethod
    def of(cls, ground: Ground, history: BedHistory, limit_c: float, reader: Reader) -> _Reach:
        reach_m = deepest_over_m(ground.profile_c, ground.depths_m, limit_c)
        return cls(reach_m, ground.time_ms, history, reader)

    def said(self, limit: str, as_far: str) -> str:
        """The past alone."""
        if not self.any:
            return f"All the soil stayed under {limit}{as_far}."
        if self.passes:
            return f"The cool line passed the cloves {self.passing_day}."
        return f"The cool line sank to {self.depth} {self.day}{self.cloves}."

    def said_with(self, future: _Reach, limit: str, as_far: str, for_days: str) -> str:
        """The past and the days ahead."""
        if not self.any and not future.any:
            return f"All the soil stayed under {limit}{as_far}, and would {for_days}."
        if future.passed_at_first and future.passed_at_last:
            return f"The cool line is below the cloves, and would be {for_days}."
        if future.passed_at_first:
            return "The cool line is below the cloves, and would rise above them again."
        if future.passes and self.passes:
            return f"The cool line passed the cloves {self.passing_day}, and would reach them again {_at(future.passing)}."
        if future.passes:
            return f"The cool line would reach the cloves {_at(future.passing)}."
        if self.passes:
            return f"The cool line passed the cloves {self.passing_day}, and would stay above them {for_days}."
        if not future.any:
            return f"The cool line sank to {self.depth} {self.day}; all the soil would stay under {limit} {for_days}."
        past = f"sank to {self.depth} {self.day}, and " if self.any else ""
        return f"The cool line {past}would sink to {future.depth} {future.day}{self.cloves}."


def _at(moment: str) -> str:
    """ "on Saturday morning", but "tomorrow at noon" and "this evening"."""
    return moment if moment.split()[0] in ("this", "tonight", "at", "tomorrow") else f"on {moment}"
