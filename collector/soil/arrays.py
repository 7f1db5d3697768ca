"""The one type of the formulas: a number, or an array of them, in and the same out. NaN gives NaN.

A value that cannot be is refused, not worked with: `within` is how a formula says what it can work with.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# Arguments that share it must all be numbers or all be arrays of one shape.
Floats = TypeVar("Floats", float, Array)


def within(name: str, values: float | Array, least: float, most: float, unit: str) -> None:
    """Refuses values outside a range [their own unit]; NaN, which is not known, is none and passes.

    Args:
        name: what to call them in the error [words].
        values: a number, or an array of them [their own unit].
        least: the least that can be [their own unit].
        most: the most that can be [their own unit].
        unit: that unit, for the error [words].

    Raises:
        ValueError: a value outside the range; the first of them is told.

    Source: by definition.
    """
    if isinstance(values, np.ndarray):
        wrong = values[(values < least) | (values > most)]
        if wrong.size:
            raise ValueError(f"{name} holds {wrong[0]}; want {least:g} to {most:g} [{unit}]")
    elif values < least or values > most:
        raise ValueError(f"{name} is {values}; want {least:g} to {most:g} [{unit}]")


def mean_known(several: Sequence[Array]) -> Array:
    """The mean of what is known at each place of several arrays [their own unit], n values; NaN where none of them knows.

    Args:
        several: one array or more of n values each, NaN is not known [their own unit].

    Raises:
        ValueError: no array, or arrays of different lengths.

    Source: by definition.
    """
    values = np.stack(several)
    known = np.isfinite(values)
    count = known.sum(axis=0)
    mean: Array = np.divide(np.where(known, values, 0.0).sum(axis=0), count, out=np.full(count.shape, np.nan), where=count > 0)
    return mean
