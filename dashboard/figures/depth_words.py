"""What the picture of the whole profile shows, in words: how deep the cool line sank, and how deep it would."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from collector.query import BedHistory
from dashboard import theme
from dashboard.figures import ahead
from dashboard.figures.chart import Finding, Reader
from dashboard.figures.daily import as_far_as_known, is_in_days
from dashboard.figures.depth_time import Ground, deepest_over_m, ground_ahead


def depth_time_finding(history: BedHistory, reader: Reader) -> Finding:
    """What the picture shows."""
    limit_c, is_known = history.bed.cool_limit_c, np.isfinite(history.profile_c)
    if not is_known.any():
        return Finding("The temperature of the soil is not known.", "Nothing is painted where nothing is known.")
    if limit_c is None:
        return Finding("The soil, at every depth.", "Colours lie around 18 °C, since no cool limit is set for this bed.")
    limit, to_come = theme.limit(limit_c, reader.units), ground_ahead(history)
    steps = "in means of 24 hours" if is_in_days(history) else "hour by hour"
    note = f"The whole profile, {steps}. The line is your limit, {limit}: over it the soil is warmer, under it cooler."
    if to_come is not None:
        note += " Dashed: to come, if nothing is done."
    as_far = as_far_as_known(np.any(is_known, axis=1))
    if (lone_m := _lone_thermometer_m(history)) is not None:
        return Finding(_at_one_depth(history, lone_m, limit_c, as_far, reader), note)
    soil = _soil(history, reader)
    past = _Reach.of(Ground(history.grid_ms, history.grid_depths_m, history.profile_c), history, limit_c, reader)
    if to_come is None:
        return Finding(past.said(soil, limit, as_far), note)
    future = _Reach.of(to_come, history, limit_c, reader)
    return Finding(past.said_with(future, soil, limit, as_far, _for_days(history)), note)


def _lone_thermometer_m(history: BedHistory) -> float | None:
    """The depth of a bed's only thermometer, which tells of no line through the soil; None where there are more."""
    depths_m = {probe.depth_m for probe, _ in history.temperatures if probe.depth_m is not None}
    return depths_m.pop() if len(depths_m) == 1 else None


def _at_one_depth(history: BedHistory, depth_m: float, limit_c: float, as_far: str, reader: Reader) -> str:
    """What the only thermometer tells: of its own depth and no more."""
    there_c = history.profile_c[:, int(np.argmin(np.abs(history.grid_depths_m - depth_m)))]
    at, limit = f"At {theme.depth(depth_m, reader.units)} the soil", theme.limit(limit_c, reader.units)
    known = np.isfinite(there_c)
    over = known & (there_c > limit_c)
    if not over.any():
        return f"{at} stayed under {limit}{as_far}."
    if over[known].all():
        return f"{at} stayed over {limit}{as_far}."
    return f"{at} was over {limit} {reader.day(float(history.grid_ms[over][-1]), history.now_ms)}{as_far}."


def _soil(history: BedHistory, reader: Reader) -> str:
    """ "All the soil", or where the thermometers do not tell of it up to its surface, how far they do."""
    known_m = history.grid_depths_m[np.isfinite(history.profile_c).any(axis=0)]
    top_m, bottom_m = float(known_m[0]), float(known_m[-1])
    if theme.depth_number(top_m, reader.units) <= 0:
        return "All the soil"
    return f"All the soil from {theme.depth_number(top_m, reader.units):g} to {theme.depth(bottom_m, reader.units)}"


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
        self.passed_throughout = bool(passed.all())
        first_ms = float(time_ms[int(np.argmax(passed))])
        self.passing_day, self.passing = reader.day(first_ms, history.now_ms), reader.moment(first_ms, history.now_ms)
        self.cloves = "" if cloves_m is None else f"; the cloves lie at {theme.depth_number(cloves_m, reader.units):g}"

    @classmethod
    def of(cls, ground: Ground, history: BedHistory, limit_c: float, reader: Reader) -> _Reach:
        reach_m = deepest_over_m(ground.profile_c, ground.depths_m, limit_c)
        return cls(reach_m, ground.time_ms, history, reader)

    def said(self, soil: str, limit: str, as_far: str) -> str:
        """The past alone."""
        if not self.any:
            return f"{soil} stayed under {limit}{as_far}."
        if self.passes:
            return f"The cool line passed the cloves {self.passing_day}{as_far}."
        return f"The cool line sank to {self.depth} {self.day}{as_far}{self.cloves}."

    def said_with(self, future: _Reach, soil: str, limit: str, as_far: str, for_days: str) -> str:
        """The past and the days ahead."""
        if not self.any and not future.any:
            return f"{soil} stayed under {limit}{as_far}, and would {for_days}."
        if future.passed_throughout:
            return f"The cool line is below the cloves, and would be {for_days}."
        if future.passed_at_first and future.passed_at_last:
            return "The cool line is below the cloves, and would be above them for some hours only."
        if future.passed_at_first:
            return "The cool line is below the cloves, and would rise above them again."
        if future.passes and self.passes:
            return f"The cool line passed the cloves {self.passing_day}, and would reach them again {_at(future.passing)}."
        if future.passes:
            return f"The cool line would reach the cloves {_at(future.passing)}."
        if self.passes:
            return f"The cool line passed the cloves {self.passing_day}, and would stay above them {for_days}."
        if not future.any:
            would_stay = f"{soil[0].lower()}{soil[1:]} would stay under {limit} {for_days}"
            return f"The cool line sank to {self.depth} {self.day}; {would_stay}."
        past = f"sank to {self.depth} {self.day}, and " if self.any else ""
        return f"The cool line {past}would sink to {future.depth} {future.day}{self.cloves}."


def _at(moment: str) -> str:
    """ "on Saturday morning", but "tomorrow at noon" and "this evening"."""
    return moment if moment.split()[0] in ("this", "tonight", "at", "tomorrow") else f"on {moment}"
