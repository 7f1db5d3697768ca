"""The one type of the formulas: a number, or an array of them, in and the same out. NaN gives NaN."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# Arguments that share it must all be numbers or all be arrays of one shape.
Floats = TypeVar("Floats", float, Array)
