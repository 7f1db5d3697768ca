"""A member's forecast as a straight line in the weather ahead: what comes anyway, and what each drive adds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from collector.soil.arrays import Array


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Forecasts of one member from o origins over h hours with m drives.

    `free_c` (o by h) [°C] is what comes when every drive is zero from the origin on; `response` (o by m by h)
    [K per unit of the drive] is what one hour of a drive adds in that hour and after it. NaN: the member cannot tell.
    """

    free_c: Array
    response: Array


def forecasts_c(lines: Lines, ahead: Array) -> Array:
    """Temperatures under given drives [°C], o by h.

    Args:
        lines: the member's forecasts from o origins [Lines].
        ahead: drives from each origin on, o by m by h [units of the drives].

    Raises:
        ValueError: drives of another shape.

    Source: superposition; a linear system's answer is the convolution with its response.
    """
    if ahead.shape != lines.response.shape:
        raise ValueError(f"ahead has shape {ahead.shape}; want {lines.response.shape}, origins by drives by hours")
    hours = lines.free_c.shape[1]
    size = 2 * hours
    spectrum = np.fft.rfft(lines.response, size) * np.fft.rfft(ahead, size)
    added: Array = np.fft.irfft(spectrum.sum(axis=1), size)[:, :hours]
    return lines.free_c + added
