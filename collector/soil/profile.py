"""Temperature and water between the probes, from readings of one moment.

The seam of the heat-flow model: whatever knows the soil better than interpolation answers
the same two questions, `at` and `crossings`, and nothing above notices.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


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
    """

    depths_m: tuple[float, ...]
    values: tuple[float, ...]
    reach_m: float = 0.05

    def at(self, depth_m: float) -> Estimate | None:
        raise NotImplementedError

    def crossings(self, limit: float) -> tuple[float, ...]:
        raise NotImplementedError


def profile_of(points: Sequence[tuple[float, float]], reach_m: float = 0.05) -> Profile | None:
    raise NotImplementedError
