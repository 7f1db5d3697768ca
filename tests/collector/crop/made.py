"""Readings made up for the tests of the crop."""

from __future__ import annotations

import numpy as np

from collector.crop.spans import Array, Times

HOUR_MS = 3_600_000
DAY_MS = 24 * HOUR_MS


def hours(count: int, start_ms: int = 0) -> Times:
    """`count` times, an hour apart."""
    return start_ms + HOUR_MS * np.arange(count, dtype=np.int64)


def values(*numbers: float) -> Array:
    return np.array(numbers, dtype=np.float64)


def flat(value: float, count: int) -> Array:
    return np.full(count, value, dtype=np.float64)
