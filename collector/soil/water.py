"""Water in the root zone: what it holds, what is missing, and what puts it back.

One millimetre over one square metre is one litre. Depletion is counted from field capacity
downward: 0 is full, TAW is as dry as roots can make it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from collector.soil.arrays import within
from collector.soil.profile import Profile

# Allen et al. 1998, FAO-56, Table 22, p. 163: p of garlic at ETc = 5 mm/d.
GARLIC_P_TABLE = 0.30
# Allen et al. 1998, FAO-56, ch. 8: p stays within these.
_P_LOWEST, _P_HIGHEST = 0.1, 0.8


def total_available_mm(field_capacity_m3_m3: float, wilting_point_m3_m3: float, root_depth_m: float) -> float:
    """Water between field capacity and wilting point in the root zone, TAW [mm].

    Args:
        field_capacity_m3_m3: volume ratio of water that the soil holds against gravity [m³/m³].
        wilting_point_m3_m3: volume ratio at which roots can take no more [m³/m³].
        root_depth_m: depth of the root zone [m].

    Raises:
        ValueError: a wilting point not below field capacity, or a root depth of zero or less.

    Source: Allen et al. 1998, FAO-56, eq. 82, p. 162.
    """
    if not 0 <= wilting_point_m3_m3 < field_capacity_m3_m3:
        raise ValueError(
            f"wilting point {wilting_point_m3_m3} and field capacity {field_capacity_m3_m3}: want 0 <= wilting < capacity"
        )
    if not root_depth_m > 0:
        raise ValueError(f"root_depth_m is {root_depth_m}; want more than 0")
    return 1000.0 * (field_capacity_m3_m3 - wilting_point_m3_m3) * root_depth_m


def readily_available_mm(taw_mm: float, p: float) -> float:
    """Water that the crop takes without stress, RAW [mm]: at this depletion it is time to water.

    Args:
        taw_mm: total available water [mm].
        p: share of it that is taken without stress [ratio].

    Raises:
        ValueError: a share outside 0 to 1, or water below 0.

    Source: Allen et al. 1998, FAO-56, eq. 83, ch. 8.
    """
    within("p", p, 0.0, 1.0, "ratio")
    within("taw_mm", taw_mm, 0.0, math.inf, "mm")
    return p * taw_mm


def stress_free_fraction(p_table: float, etc_mm_d: float) -> float:
    """Share of TAW that the crop takes without stress, p [ratio], at the day's demand.

    Args:
        p_table: the tabled value, for a demand of 5 mm/d [ratio].
        etc_mm_d: crop evapotranspiration without stress [mm/d].

    Raises:
        ValueError: a share outside 0 to 1, or a demand below 0.

    Source: Allen et al. 1998, FAO-56, Table 22, p. 163, its note: p + 0.04 (5 - ETc), limited to 0.1 and 0.8.
    """
    within("p_table", p_table, 0.0, 1.0, "ratio")
    within("etc_mm_d", etc_mm_d, 0.0, math.inf, "mm/d")
    return min(max(p_table + 0.04 * (5.0 - etc_mm_d), _P_LOWEST), _P_HIGHEST)


def stress_coefficient(depletion_mm: float, taw_mm: float, p: float) -> float:
    """Share of the unstressed evapotranspiration that a drying root zone still gives, Ks [ratio].

    Args:
        depletion_mm: water missing from field capacity [mm].
        taw_mm: total available water [mm].
        p: share of it that is taken without stress, below 1 [ratio].

    Raises:
        ValueError: a share outside 0 to below 1, or no available water.

    Source: Allen et al. 1998, FAO-56, eq. 84, ch. 8.
    """
    within("p", p, 0.0, 0.999, "ratio")
    if not taw_mm > 0.0:
        raise ValueError(f"taw_mm is {taw_mm}; want more than 0")
    if math.isnan(depletion_mm + p):  # which no comparison below would notice
        return math.nan
    if depletion_mm <= p * taw_mm:
        return 1.0
    return max(0.0, (taw_mm - depletion_mm) / ((1.0 - p) * taw_mm))


def root_zone_depletion_mm(
    moisture: Profile, field_capacity_m3_m3: float, wilting_point_m3_m3: float, root_depth_m: float
) -> float:
    """Water missing from field capacity in the root zone, Dr [mm], by the moisture probes.

    The profile is integrated from the surface to the root depth, linear between the probes;
    above the shallowest and below the deepest their value is taken to hold. The answer is
    kept within 0 and TAW.

    Args:
        moisture: volume ratio of water over depth [m³/m³].
        field_capacity_m3_m3: volume ratio of water that the soil holds against gravity [m³/m³].
        wilting_point_m3_m3: volume ratio at which roots can take no more [m³/m³].
        root_depth_m: depth of the root zone [m].

    Raises:
        ValueError: as `total_available_mm`.

    Source: Allen et al. 1998, FAO-56, eq. 86 and 87, ch. 8, with the mean of theta taken over depth.
    """
    taw_mm = total_available_mm(field_capacity_m3_m3, wilting_point_m3_m3, root_depth_m)
    inside = [point for point in zip(moisture.depths_m, moisture.values, strict=True) if 0.0 < point[0] < root_depth_m]
    points = [(0.0, _held(moisture, 0.0)), *inside, (root_depth_m, _held(moisture, root_depth_m))]
    held_m = sum((lower_m - upper_m) * (upper + lower) / 2 for (upper_m, upper), (lower_m, lower) in pairwise(points))
    return min(max(1000.0 * (field_capacity_m3_m3 * root_depth_m - held_m), 0.0), taw_mm)


def _held(moisture: Profile, depth_m: float) -> float:
    """The profile's value, with the outermost values holding however far out."""
    estimate = moisture.at(min(max(depth_m, moisture.depths_m[0]), moisture.depths_m[-1]))
    if estimate is None:  # only a NaN depth falls through, and profile_of lets none in
        raise ValueError(f"moisture profile is not known at {depth_m} m")
    return estimate.value


@dataclass(frozen=True, slots=True)
class WaterDay:
    """One day of the root zone: depletion at its end, water lost below, what the crop drank, and its stress (1 is none)."""

    depletion_mm: float
    percolation_mm: float
    evapotranspiration_mm: float
    stress: float


def balance_day(depletion_mm: float, taw_mm: float, p: float, etc_mm: float, rain_mm: float, irrigation_mm: float) -> WaterDay:
    """The root zone at the end of a day [mm]: depletion, percolation and evapotranspiration.

    Rain and irrigation are taken to come before the day's evapotranspiration, as the daily
    table of Example 38 does; what the root zone cannot hold percolates. Runoff and capillary
    rise are taken as zero: a mulched bed sheds little, and its water table is taken as deep.

    Args:
        depletion_mm: depletion at the end of the day before [mm].
        taw_mm: total available water [mm].
        p: share of it that is taken without stress, below 1 [ratio].
        etc_mm: the day's crop evapotranspiration without stress [mm].
        rain_mm: rain that reached the soil [mm].
        irrigation_mm: net irrigation [mm].

    Raises:
        ValueError: an amount below 0 or NaN, as of `stress_coefficient`.

    Source: Allen et al. 1998, FAO-56, eq. 84-86 and 88, ch. 8; order of the day as in Example 38, pp. 172-173.
    """
    if not all(amount_mm >= 0.0 for amount_mm in (depletion_mm, etc_mm, rain_mm, irrigation_mm)):
        raise ValueError(
            f"depletion {depletion_mm}, demand {etc_mm}, rain {rain_mm} and irrigation {irrigation_mm} mm: want 0 or more; "
            "a balance cannot go on over a day that is not known"
        )
    gain_mm = rain_mm + irrigation_mm
    percolation_mm = max(0.0, gain_mm - depletion_mm)
    start_mm = max(0.0, depletion_mm - gain_mm)
    stress = stress_coefficient(start_mm, taw_mm, p)
    evapotranspiration_mm = min(stress * etc_mm, taw_mm - min(start_mm, taw_mm))
    return WaterDay(min(start_mm + evapotranspiration_mm, taw_mm), percolation_mm, evapotranspiration_mm, stress)


def refill_litres(depletion_mm: float, area_m2: float, efficiency: float = 1.0) -> float:
    """Water to bring that fills the root zone of a bed again [L].

    Args:
        depletion_mm: water missing from field capacity [mm].
        area_m2: wetted area of the bed [m²].
        efficiency: share of the water brought that stays in the root zone, above 0 up to 1 [ratio].

    Raises:
        ValueError: a depletion or area below 0, or an efficiency outside that range.

    Source: by definition 1 mm over 1 m² is 1 L.
    """
    within("depletion_mm", depletion_mm, 0.0, math.inf, "mm")
    within("area_m2", area_m2, 0.0, math.inf, "m²")
    if not 0 < efficiency <= 1:
        raise ValueError(f"efficiency is {efficiency}; want above 0, up to 1")
    return depletion_mm * area_m2 / efficiency


def watering_minutes(litres: float, hose_l_min: float) -> float:
    """Time to run the hose [min].

    Args:
        litres: water to bring [L].
        hose_l_min: flow of the hose, above 0 [L/min].

    Raises:
        ValueError: litres below 0, or a flow of zero or less.

    Source: by definition, volume over flow.
    """
    within("litres", litres, 0.0, math.inf, "L")
    if not hose_l_min > 0:
        raise ValueError(f"hose_l_min is {hose_l_min}; want more than 0")
    return litres / hose_l_min
