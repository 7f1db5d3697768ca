"""Temperature and water between the probes, from readings of one moment.

The seam of the heat-flow model: whatever knows the soil better than interpolation answers
the same two questions, `at` and `crossings`, and nothing above notices.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

# Depths closer than this are the same depth: nobody buries a probe to a tenth of a millimetre.
_SAME_DEPTH_M = 1e-4


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value at a depth. `measured` is True where a probe sits there; `band` is half the 80 % band, None if not known."""

    value: float
    measured: bool
    band: float | None = None


@dataclass(frozen=True, slots=True)
class Profile:
    """A quantity known at some depths, strictly increasing [m], and linear between them.

    Outside the outermost depths, up to `reach_m`, the nearest value holds; farther out it is not known.
    Raises ValueError for no depth, depths that do not increase or are NaN, and another number of values than of depths.
    """

    depths_m: tuple[float, ...]
    values: tuple[float, ...]
    reach_m: float = 0.05

    def __post_init__(self) -> None:
        if len(self.values) != len(self.depths_m) or not self.depths_m or math.isnan(self.depths_m[0]):
            raise ValueError(f"depths_m {self.depths_m}, values {self.values}: want one depth or more, and a value for each")
        if not all(upper_m < lower_m for upper_m, lower_m in pairwise(self.depths_m)):
            raise ValueError(f"depths_m is {self.depths_m}; want them strictly increasing")

    def at(self, depth_m: float) -> Estimate | None:
        """The value [the profile's own unit] at a depth; None where it is not known.

        Args:
            depth_m: depth below the soil surface [m]; NaN gives None.

        Source: linear interpolation between the probes; common practice, no source.
        """
        for known_m, value in zip(self.depths_m, self.values, strict=True):
            if abs(known_m - depth_m) <= _SAME_DEPTH_M:
                return Estimate(value, measured=True)
        shallowest_m, deepest_m = self.depths_m[0], self.depths_m[-1]
        if shallowest_m - self.reach_m <= depth_m < shallowest_m:
            return Estimate(self.values[0], measured=False)
        if deepest_m < depth_m <= deepest_m + self.reach_m:
            return Estimate(self.values[-1], measured=False)
        for (upper_m, upper), (lower_m, lower) in pairwise(zip(self.depths_m, self.values, strict=True)):
            if upper_m < depth_m < lower_m:
                share = (depth_m - upper_m) / (lower_m - upper_m)
                return Estimate(upper + share * (lower - upper), measured=False)
        return None

    def crossings(self, limit: float) -> tuple[float, ...]:
        """The depths [m] at which the profile goes from one side of a limit to the other, shallowest first.

        A profile that only touches the limit, or lies on it, does not cross it there; one
        that lies on it between its two sides crosses where it arrives.

        Args:
            limit: the limit; NaN is crossed nowhere [the profile's own unit].

        Source: linear interpolation between the probes; common practice, no source.
        """
        found = []
        came_from = 0.0  # the last side of the limit that was not the limit itself, and
        arrived_m: float | None = None  # the depth where the profile came to lie on it since
        for (upper_m, upper), (lower_m, lower) in pairwise(zip(self.depths_m, self.values, strict=True)):
            above, below = upper - limit, lower - limit
            came_from = above or came_from
            if below == 0:
                arrived_m = lower_m if above else arrived_m
            elif came_from * below < 0:
                on_the_line_m = min(upper_m + (lower_m - upper_m) * above / (above - below), lower_m)
                found.append(on_the_line_m if above else arrived_m or upper_m)
        return tuple(found)


def profile_of(points: Sequence[tuple[float, float]], reach_m: float = 0.05) -> Profile | None:
    """A profile [depths in m, values in their own unit] of readings of one moment; None when there are none.

    Readings in any order are accepted; those at one depth count as their mean.

    Args:
        points: pairs of depth below the soil surface [m] and value [one unit for all].
        reach_m: how far beyond the outermost probes their value holds [m], zero or more.

    Raises:
        ValueError: a depth, value or reach that is not a finite number, or a negative reach.

    Source: common practice, no source.
    """
    if not math.isfinite(reach_m) or reach_m < 0:
        raise ValueError(f"reach_m is {reach_m!r}; want a finite number of metres, 0 or more")
    for depth_m, value in points:
        if not (math.isfinite(depth_m) and math.isfinite(value)):
            raise ValueError(f"point (depth {depth_m!r} m, value {value!r}): want two finite numbers; leave missing readings out")
    at_depth: dict[float, list[float]] = defaultdict(list)
    for depth_m, value in sorted(points):
        known_m = next((known for known in at_depth if abs(known - depth_m) <= _SAME_DEPTH_M), depth_m)
        at_depth[known_m].append(value)
    if not at_depth:
        return None
    return Profile(tuple(at_depth), tuple(sum(values) / len(values) for values in at_depth.values()), reach_m)
