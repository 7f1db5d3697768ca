"""How much of the reference evapotranspiration a crop on a mulched bed uses.

The coefficients of garlic, and how straw lowers them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from collector.soil.arrays import Array, within


@dataclass(frozen=True, slots=True)
class StageCoefficients:
    """A crop coefficient in its three printed stages [ratio]; between them it runs straight."""

    initial: float
    mid: float
    end: float


# Allen et al. 1998, FAO-56, Table 12, p. 110 (initial: of the group of small vegetables). FAO-56
# Rev.1, Pereira et al. 2025, Table 6.1, has 1.05 for mid (second-hand).
GARLIC_KC = StageCoefficients(0.70, 1.00, 0.70)
# Allen et al. 1998, FAO-56, Table 17: basal coefficients of garlic (second-hand, the printed table was not seen).
GARLIC_KCB = StageCoefficients(0.15, 0.90, 0.60)

# Heat sums of garlic's stages, initial, development, mid and late [K d], above 4 and up to 30 °C: of a short and of a long
# season. Pereira et al. 2025, FAO-56 Rev.1, Tables 6.10 and 6.11 (second-hand, the tables were not seen).
GARLIC_SHORT_K_D = (150.0, 340.0, 335.0, 315.0)
GARLIC_LONG_K_D = (580.0, 615.0, 315.0, 240.0)
GARLIC_BASE_C, GARLIC_UPPER_C = 4.0, 30.0


def heat_sum_k_d(highest_c: Array, lowest_c: Array, base_c: float = GARLIC_BASE_C, upper_c: float = GARLIC_UPPER_C) -> Array:
    """Heat gathered up to the end of each day [K d], n values that never fall; a day not known gives nothing.

    `stage_coefficient` takes it for the day where its lengths are heat sums too.

    Args:
        highest_c: highest air temperature of each day, n values, NaN is not known [°C].
        lowest_c: lowest air temperature of each day, n values, NaN is not known [°C].
        base_c: temperature at which growth begins [°C].
        upper_c: temperature above which more adds nothing, above the base [°C].

    Raises:
        ValueError: a base not below the upper temperature, or arrays of two lengths.

    Source: mean of the day's extremes, each kept within base and upper, less the base; the limits as Pereira et al. 2025,
    FAO-56 Rev.1, Table 6.10 (second-hand), the averaging from memory.
    """
    if not base_c < upper_c or highest_c.shape != lowest_c.shape:
        raise ValueError(
            f"base {base_c} and upper {upper_c} °C, {highest_c.size} and {lowest_c.size} days: want base < upper, as many"
        )
    gathered_k = (np.clip(highest_c, base_c, upper_c) + np.clip(lowest_c, base_c, upper_c)) / 2.0 - base_c
    sums: Array = np.cumsum(np.nan_to_num(gathered_k))
    return sums


def stage_coefficient(day: float, lengths_d: tuple[float, float, float, float], coefficients: StageCoefficients) -> float:
    """Crop coefficient on a day of the season [ratio].

    Before the season it is that of the initial stage, after it that of the end.

    Args:
        day: day of the season, the first day is 1 [d].
        lengths_d: lengths of the initial, development, mid and late stage, each above 0 [d].
        coefficients: the coefficient in its stages [ratio].

    Raises:
        ValueError: a stage of zero days or less.

    Source: Allen et al. 1998, FAO-56, eq. 66, ch. 6.
    """
    if min(lengths_d) <= 0:
        raise ValueError(f"lengths_d is {lengths_d}; want four lengths above 0 days")
    initial_d, development_d, mid_d, late_d = lengths_d
    into_development = min(max((day - initial_d) / development_d, 0.0), 1.0)
    into_late = min(max((day - initial_d - development_d - mid_d) / late_d, 0.0), 1.0)
    risen = coefficients.initial + into_development * (coefficients.mid - coefficients.initial)
    return risen + into_late * (coefficients.end - coefficients.mid)


def mulched_initial_coefficient(kc_initial: float, cover: float) -> float:
    """Crop coefficient of the initial stage under organic mulch [ratio].

    Args:
        kc_initial: the coefficient without mulch [ratio].
        cover: share of the surface that the mulch effectively covers, 0 to 1 [ratio].

    Raises:
        ValueError: a cover outside 0 to 1.

    Source: Allen et al. 1998, FAO-56, pp. 195-198: evaporation falls by 5 % for each 10 % covered.
    """
    within("cover", cover, 0.0, 1.0, "ratio")
    return kc_initial * (1.0 - 0.5 * cover)


def mulched_coefficient(kc: float, kcb: float, cover: float) -> float:
    """Crop coefficient of the later stages under organic mulch [ratio]: only its evaporation part falls.

    Args:
        kc: the coefficient without mulch [ratio].
        kcb: its basal part, transpiration from a dry surface [ratio].
        cover: share of the surface that the mulch effectively covers, 0 to 1 [ratio].

    Raises:
        ValueError: a cover outside 0 to 1.

    Source: Allen et al. 1998, FAO-56, pp. 195-198: evaporation falls by 5 % for each 10 % covered.
    """
    within("cover", cover, 0.0, 1.0, "ratio")
    return kc - 0.5 * cover * (kc - kcb)
