"""The depths at which a cut through a bed is known. Pure."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from collector.model import Bed
from collector.units import Quantity

# A cut has steps of 1 cm to as deep as is known, here where no thermometer is.
_STEP_M, _DEPTH_M = 0.01, 0.40
_REACH_M = 0.05


def cut_depths_m(bed: Bed) -> NDArray[np.float64]:
    """Depths [m] of a cut: each centimetre down to where the deepest thermometer still tells, and past the cloves."""
    deepest_m = [probe.depth_m for probe in bed.probes_of(Quantity.SOIL_TEMPERATURE) if probe.depth_m is not None]
    ends_m = [depth_m + _REACH_M for depth_m in (*deepest_m, bed.clove_depth_m) if depth_m is not None]
    end_m = max(ends_m) if deepest_m else _DEPTH_M
    return np.arange(math.floor(round(end_m / _STEP_M, 6)) + 1, dtype=np.float64) * _STEP_M


def followed_depths_m(bed: Bed) -> NDArray[np.float64]:
    """Depths [m] of a cut, and last that of the cloves."""
    return np.append(cut_depths_m(bed), [] if bed.clove_depth_m is None else [bed.clove_depth_m])
