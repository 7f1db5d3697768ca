"""How readily heat moves through a bed, told from thermometers at two depths.

The wave of the day fades and lags with depth; how much, over a known distance, is the apparent
diffusivity. Four readings six hours apart are enough for a formula, and a formula is easily upset:
comparing such methods, Horton, Wierenga and Nielsen 1983 found the explicit ones erratic and the fit
of several harmonics reliable. A later comparison found the arctangent worst of all. So the fit is
what a grower is shown, and the formulas are for checking it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from collector.soil.arrays import Array

_DAY_S = 86_400.0
# Angular frequency of the day [1/s].
_OMEGA_PER_S = 2.0 * math.pi / _DAY_S
# Between dry peat and wet quartz sand [m²/s] with a wide margin; the search stays within.
_LEAST_M2_S, _MOST_M2_S = 2e-8, 5e-6
# The search halves its bracket about every 1.4 rounds: so many leave a millionth of it.
_ROUNDS = 40
_GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0
# A lower wave of less than this [K] is in the noise of a thermometer; common practice, no source.
_LEAST_WAVE_K = 0.1


def harmonic_diffusivity_m2_s(
    time_ms: NDArray[np.int64], upper_c: Array, lower_c: Array, spacing_m: float, harmonics: int = 2
) -> float:
    """Apparent diffusivity between two depths [m²/s] that carries the upper daily wave best onto the lower one; NaN if none does.

    The waves are fitted to all readings by least squares, beside a mean and a steady warming, so
    times need not be even. NaN also where less than a day is covered, where there are too few
    readings, where the lower wave is below 0.1 K, or where the best lies at an end of the range searched.

    Args:
        time_ms: n times, in any order [ms since 1970-01-01 UTC].
        upper_c: n temperatures at the upper depth, NaN is missing [°C].
        lower_c: n temperatures at the lower depth, NaN is missing [°C].
        spacing_m: how far the lower depth is below the upper, above 0 [m].
        harmonics: waves of a day, half a day and so on, 1 or more [count].

    Raises:
        ValueError: a spacing or a number of harmonics out of range, or arrays of different length.

    Source: Horton, Wierenga and Nielsen 1983, Soil Sci. Soc. Am. J. 47, the harmonic equation (from memory).
    """
    _check_spacing(spacing_m)
    if harmonics < 1:
        raise ValueError(f"harmonics is {harmonics}; want 1 or more")
    if not time_ms.shape == upper_c.shape == lower_c.shape:
        raise ValueError(f"shapes {time_ms.shape}, {upper_c.shape}, {lower_c.shape} of times and temperatures; want them equal")
    upper, lower = (harmonics_k(time_ms, values_c, harmonics) for values_c in (upper_c, lower_c))
    if upper is None or lower is None or abs(lower[0]) < _LEAST_WAVE_K:
        return math.nan
    order = np.arange(1, harmonics + 1)

    def misfit_k2(log_diffusivity: float) -> float:
        steps = spacing_m * np.sqrt(order * _OMEGA_PER_S / (2.0 * math.exp(log_diffusivity)))
        return float(np.sum(np.abs(upper * np.exp(-(1.0 + 1.0j) * steps) - lower) ** 2))

    least, most = math.log(_LEAST_M2_S), math.log(_MOST_M2_S)
    best = _lowest(misfit_k2, least, most)
    at_an_end = min(best - least, most - best) < 0.01
    return math.nan if at_an_end else math.exp(best)


def arctangent_diffusivity_m2_s(upper_c: Sequence[float], lower_c: Sequence[float], spacing_m: float) -> float:
    """Apparent diffusivity [m²/s] by the lag of the wave, from four readings at each of two depths, six hours apart.

    NaN where the lower wave does not lag.
    A wave of half a day and a constant offset of a probe cancel; a warming trend does not.

    Args:
        upper_c: four temperatures at the upper depth [°C].
        lower_c: four temperatures at the lower depth, at the same times [°C].
        spacing_m: how far the lower depth is below the upper, above 0 [m].

    Raises:
        ValueError: a spacing of zero or less, or another number of readings than four.

    Source: Horton, Wierenga and Nielsen 1983, the arctangent equation (from memory).
    """
    upper, lower = _quarters(upper_c, lower_c, spacing_m)
    lag = math.atan2((upper.conjugate() * lower).imag, (upper.conjugate() * lower).real)
    return _OMEGA_PER_S * spacing_m**2 / (2.0 * lag**2) if lag > 0 else math.nan


def log_diffusivity_m2_s(upper_c: Sequence[float], lower_c: Sequence[float], spacing_m: float) -> float:
    """Apparent diffusivity [m²/s] by the fading of the wave, from four readings at each of two depths, six hours apart.

    NaN where the lower wave is no lower.
    The constant is exact here, the square root of 4 pi over a day in seconds, 0.0120600. Printed as
    0.0121 it makes every diffusivity 0.665 % too large.

    Args:
        upper_c: four temperatures at the upper depth [°C].
        lower_c: four temperatures at the lower depth, at the same times [°C].
        spacing_m: how far the lower depth is below the upper, above 0 [m].

    Raises:
        ValueError: a spacing of zero or less, or another number of readings than four.

    Source: Horton, Wierenga and Nielsen 1983, the logarithmic equation (from memory); the constant derived.
    """
    upper, lower = _quarters(upper_c, lower_c, spacing_m)
    if not 0 < abs(lower) < abs(upper):
        return math.nan
    constant = math.sqrt(4.0 * math.pi / _DAY_S)
    return (constant * spacing_m / math.log(abs(upper) ** 2 / abs(lower) ** 2)) ** 2


def _check_spacing(spacing_m: float) -> None:
    if not spacing_m > 0:
        raise ValueError(f"spacing_m is {spacing_m}; want how far the lower depth is below the upper, above 0 m")


def _quarters(upper_c: Sequence[float], lower_c: Sequence[float], spacing_m: float) -> tuple[complex, complex]:
    """T1 - T3 and T2 - T4 of both depths, as one complex number each whose angle is the lag."""
    _check_spacing(spacing_m)
    if len(upper_c) != 4 or len(lower_c) != 4:
        raise ValueError(f"{len(upper_c)} and {len(lower_c)} readings; want four at each depth, six hours apart")
    upper = complex(upper_c[0] - upper_c[2], upper_c[1] - upper_c[3])
    lower = complex(lower_c[0] - lower_c[2], lower_c[1] - lower_c[3])
    return upper, lower


def harmonics_k(time_ms: NDArray[np.int64], values_c: Array, harmonics: int) -> NDArray[np.complex128] | None:
    """Height and phase of each harmonic of the day [K], fitted beside a mean and a trend; None where the readings do not tell.

    Args:
        time_ms: n times [ms since 1970-01-01 UTC].
        values_c: the temperature then [°C]; NaN where it is not known.
        harmonics: how many of them, the day's first [count].

    Source: least squares by a mean, a trend, and cosines and sines of a day and its parts; the angle of each is its lag.
    """
    there = np.isfinite(values_c)
    time_s = time_ms[there] / 1000.0
    if time_s.size < 2 * (2 + 2 * harmonics) or np.ptp(time_s) < 0.95 * _DAY_S:
        return None
    angles = _OMEGA_PER_S * time_s[:, None] * np.arange(1, harmonics + 1)
    days = (time_s - time_s.mean()) / _DAY_S
    shapes = np.column_stack([np.ones_like(days), days, np.cos(angles), np.sin(angles)])
    fitted, _, rank, _ = np.linalg.lstsq(shapes, values_c[there], rcond=None)
    if rank < shapes.shape[1]:
        return None
    waves: NDArray[np.complex128] = fitted[2 : 2 + harmonics] - 1j * fitted[2 + harmonics :]
    return waves


def _lowest(function: Callable[[float], float], left: float, right: float) -> float:
    """Where a function with one valley is lowest: the golden section."""
    for _ in range(_ROUNDS):
        span = _GOLDEN * (right - left)
        if function(right - span) < function(left + span):
            right = left + span
        else:
            left = right - span
    return (left + right) / 2.0
