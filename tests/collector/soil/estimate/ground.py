"""A bed of uniform soil whose temperature is known everywhere: damped waves of a day, of five days and of a year.

Source of the wave: Carslaw & Jaeger 1959, Conduction of Heat in Solids (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from collector.soil.estimate.season import Thermometer

DIFFUSIVITY_M2_S = 0.6e-6
HOUR_MS, DAY_MS = 3_600_000, 86_400_000
# height [K], period [d], phase [rad]
WAVES = ((7.0, 1.0, 0.0), (3.0, 5.0, 1.0), (1.5, 3.0, 2.0), (10.0, 365.0, 4.5))


def truth_c(time_ms: np.ndarray, depth_m: float) -> np.ndarray:
    """Temperature at a depth [°C]."""
    total_c = np.full(time_ms.shape, 15.0)
    for height_k, days, phase in WAVES:
        turn_per_s = 2 * math.pi / (days * 86_400)
        steps = depth_m * math.sqrt(turn_per_s / (2 * DIFFUSIVITY_M2_S))
        total_c += height_k * math.exp(-steps) * np.sin(turn_per_s * time_ms / 1000 - steps + phase)
    return total_c


def times_ms(days: float, every_ms: int = HOUR_MS) -> np.ndarray:
    return np.arange(0, int(days * DAY_MS), every_ms, dtype=np.int64)


def stake(depths_m: Sequence[float], time_ms: np.ndarray, noise_k: float = 0.04, seed: int = 1) -> list[Thermometer]:
    """Thermometers that say the truth but for a little noise."""
    luck = np.random.default_rng(seed)
    return [
        Thermometer(depth_m, time_ms, truth_c(time_ms, depth_m) + luck.normal(0, noise_k, time_ms.size)) for depth_m in depths_m
    ]


def changed(thermometer: Thermometer, value_c: np.ndarray) -> Thermometer:
    return Thermometer(thermometer.depth_m, thermometer.time_ms, value_c)
