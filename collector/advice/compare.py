"""Two beds, or two seasons, beside each other: how they differ, and how sure that is. Pure.

Days that follow each other are alike, so a hundred of them tell less than a hundred: the interval is that of as many
independent days as they are worth.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

SHARE = 0.8
_NORMAL_90 = NormalDist().inv_cdf((1.0 + SHARE) / 2.0)
# With fewer common days nothing is said of how sure a difference is. Common practice, no source.
LEAST_DAYS = 10
_MOST_LIKE = 0.97  # a correlation estimated higher than this is taken for this: else nothing would ever be known


@dataclass(frozen=True, slots=True)
class Difference:
    """How much more the first has than the second, in the mean of their common days, with the ends of its 80 % interval.

    `independent` is how many independent days they are worth. `low` and `high` are NaN for fewer than `LEAST_DAYS`.
    """

    mean: float
    low: float
    high: float
    days: int
    independent: float

    @property
    def sure(self) -> bool | None:
        """Whether the interval leaves out that there is no difference; None where there is no interval."""
        return None if math.isnan(self.low) else self.low > 0.0 or self.high < 0.0


def difference(first: Array, second: Array) -> Difference | None:
    """The difference of two courses by the day [unit of theirs]; None where they have no day in common.

    Args:
        first: n days, NaN is not known.
        second: the same n days of the other.

    Raises:
        ValueError: courses of two lengths.

    Source: a first-order autoregressive process has (1 - r) / (1 + r) as many independent values as values, r its correlation
    from one to the next; von Storch & Zwiers 1999, Statistical Analysis in Climate Research, sections 6.6 and 17.1 (from
    memory). The estimate of r is corrected for its bias, (1 + 3 r) / n, Kendall 1954 (from memory); Student's t at that many
    values less one.
    """
    if first.shape != second.shape:
        raise ValueError(f"courses of {first.size} and {second.size} days; want the same days of both")
    apart = first - second
    known = np.isfinite(apart)
    days = int(known.sum())
    if not days:
        return None
    mean = float(apart[known].mean())
    if days < LEAST_DAYS:
        return Difference(mean, math.nan, math.nan, days, math.nan)
    like = _from_day_to_day(apart - mean, known, days)
    independent = max(days * (1.0 - like) / (1.0 + like), 3.0)
    error = float(apart[known].std(ddof=1)) / math.sqrt(independent)
    half = _student(independent - 1.0) * error
    return Difference(mean, mean - half, mean + half, days, independent)


def _from_day_to_day(stray: Array, known: NDArray[np.bool_], days: int) -> float:
    """Correlation of one day with the next, at least 0."""
    both = known[1:] & known[:-1]
    pairs = int(both.sum())
    if pairs < LEAST_DAYS - 1:
        return 0.0
    variance = float((stray[known] ** 2).mean())
    if variance <= 0.0:
        return 0.0
    found = float((stray[1:][both] * stray[:-1][both]).mean()) / variance
    return min(max(found + (1.0 + 3.0 * found) / days, 0.0), _MOST_LIKE)


def _student(freedom: float) -> float:
    """Where Student's t with at least two degrees of freedom, which need not be whole, has 90 % of itself below.

    Source: Abramowitz & Stegun 1964, 26.7.5 (from memory), which is right to 0.5 % here.
    """
    z, v = _NORMAL_90, freedom
    return (
        z
        + (z**3 + z) / (4 * v)
        + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * v**2)
        + (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / (384 * v**3)
    )
