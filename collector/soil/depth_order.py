"""Do thermometers lie in the order that is said of them? The day's wave grows smaller and later with depth."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from collector.soil.arrays import Array
from collector.soil.diffusivity import harmonics_k

# Chosen on measured soils (Bondville, Illinois, 1998; San Joaquin, California, 2022), so that none of them was ever called
# swapped as it lay: a deeper wave that is so much larger than a shallower one, and high enough to be told from weather; the one
# that lies deeper in truth has to be later by so much; and in the other order all has to be right, but for this much.
_LARGER, _LEAST_K, _LATER_H, _ALMOST = 1.12, 0.3, 0.5, 0.9
# Of a wave so small the hour is not to be told.
_NO_HOUR_K = 0.1
_DAY_H = 24.0


def swapped(time_ms: Sequence[NDArray[np.int64]], values_c: Sequence[Array]) -> tuple[int, int] | None:
    """Which two thermometers seem to lie in each other's place [places in the order given]; None where none do.

    Args:
        time_ms: of each thermometer, shallowest first as it is said of them, when it spoke [ms since 1970-01-01 UTC].
        values_c: what it said then [°C]. A day or a little less is wanted; of less nothing is told.

    Source: a wave into even ground is damped and delayed with depth, Carslaw & Jaeger 1959, Conduction of Heat in Solids,
    ch. 2 (from memory); how much is enough was chosen on measured soils.
    """
    waves = []
    for times, values in zip(time_ms, values_c, strict=True):
        found = harmonics_k(times, values, 1)
        if found is None:
            return None
        waves.append(complex(found[0]))
    odd = [
        (abs(deep) / max(abs(shallow), 1e-6), places)
        for places in combinations(range(len(waves)), 2)
        for shallow, deep in [(waves[places[0]], waves[places[1]])]
        if abs(deep) >= max(_LEAST_K, _LARGER * abs(shallow)) and _is_later(shallow, deep)
    ]
    if not odd:
        return None
    first, second = max(odd)[1]
    waves[first], waves[second] = waves[second], waves[first]
    falls = all(abs(shallow) >= _ALMOST * abs(deep) for shallow, deep in combinations(waves, 2))
    return (first, second) if falls else None


def _is_later(wave: complex, before: complex) -> bool:
    """Whether a wave comes after another, by half an hour up to half a day."""
    if abs(wave) <= _NO_HOUR_K:
        return True
    later_h = -np.angle(wave / before) * _DAY_H / (2 * np.pi)
    return bool(_LATER_H <= later_h <= _DAY_H / 2)
