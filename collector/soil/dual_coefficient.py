"""The crop coefficient in two parts: what the crop drinks, Kcb, and what the wet surface evaporates, Ke.

For a bed under organic mulch the second part is small, and this module says how small.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from collector.soil.arrays import within


@dataclass(frozen=True, slots=True)
class Surface:
    """The top layer of the soil: what it can evaporate, TEW [mm], and at the full rate, REW [mm]; its organic cover [ratio].

    Raises ValueError where REW is not below TEW, or the cover is outside 0 to 1.
    """

    total_evaporable_mm: float
    readily_evaporable_mm: float
    cover: float = 0.0

    def __post_init__(self) -> None:
        if not 0.0 <= self.readily_evaporable_mm < self.total_evaporable_mm:
            raise ValueError(f"REW {self.readily_evaporable_mm} mm and TEW {self.total_evaporable_mm} mm: want 0 <= REW < TEW")
        if not 0.0 <= self.cover <= 1.0:
            raise ValueError(f"cover is {self.cover}; want a share of the surface, 0 to 1")


@dataclass(frozen=True, slots=True)
class SurfaceDay:
    """One day of the surface: Kr and Ke [ratio], evaporation as a depth over the bed [mm], and its depletion at the end [mm]."""

    reduction: float
    evaporation_coefficient: float
    evaporation_mm: float
    depletion_mm: float


def total_evaporable_mm(field_capacity_m3_m3: float, wilting_point_m3_m3: float, layer_m: float = 0.10) -> float:
    """Water that evaporation can take from a wet surface layer, TEW [mm].

    Args:
        field_capacity_m3_m3: volume ratio of water that the soil holds against gravity [m³/m³].
        wilting_point_m3_m3: volume ratio at which roots can take no more [m³/m³].
        layer_m: depth that evaporation dries, 0.10 to 0.15 [m].

    Raises:
        ValueError: water contents or a layer outside 0 to 1.

    Source: Allen et al. 1998, FAO-56, eq. 73, ch. 7.
    """
    within("field_capacity_m3_m3", field_capacity_m3_m3, 0.0, 1.0, "m³/m³")
    within("wilting_point_m3_m3", wilting_point_m3_m3, 0.0, 1.0, "m³/m³")
    within("layer_m", layer_m, 0.0, 1.0, "m")
    return 1000.0 * (field_capacity_m3_m3 - 0.5 * wilting_point_m3_m3) * layer_m


def highest_coefficient(kcb: float, wind_2m_m_s: float, lowest_humidity_pct: float, height_m: float) -> float:
    """The most that any crop on any wet soil uses, Kc max [ratio].

    Args:
        kcb: basal crop coefficient [ratio].
        wind_2m_m_s: wind at 2 m, trusted from 1 to 6 [m/s].
        lowest_humidity_pct: mean of the day's lowest relative humidity, trusted from 20 to 80 [%].
        height_m: height of the crop, above 0 [m].

    Raises:
        ValueError: a wind below 0, a humidity outside 0 to 100 %, or a height below 0.

    Source: Allen et al. 1998, FAO-56, eq. 72, ch. 7.
    """
    within("wind_2m_m_s", wind_2m_m_s, 0.0, math.inf, "m/s")
    within("lowest_humidity_pct", lowest_humidity_pct, 0.0, 100.0, "%")
    within("height_m", height_m, 0.0, math.inf, "m")
    climate = (0.04 * (wind_2m_m_s - 2.0) - 0.004 * (lowest_humidity_pct - 45.0)) * float((height_m / 3.0) ** 0.3)
    return math.nan if math.isnan(kcb) else max(1.2 + climate, kcb + 0.05)


def surface_day(
    surface: Surface, depletion_mm: float, kcb: float, kc_max: float, eto_mm: float, gain_mm: float, wetted: float, bare: float
) -> SurfaceDay:
    """The surface after a day of water and evaporation [ratio and mm].

    Args:
        surface: the top layer [mm and ratio].
        depletion_mm: water missing from it at the end of the day before, 0 to TEW [mm].
        kcb: basal crop coefficient of the day [ratio].
        kc_max: the most that is used of a wet surface, above Kcb [ratio].
        eto_mm: reference evapotranspiration of the day [mm].
        gain_mm: rain, or watering over the part of the surface that it wets, early in the day [mm].
        wetted: share of the surface that the last water wetted, fw, 1 for rain [ratio].
        bare: share that the leaves leave bare, 1 - fc [ratio].

    Raises:
        ValueError: a wetted or bare share outside 0 to 1, or both of nothing; an amount below 0 or NaN.

    Source: Allen et al. 1998, FAO-56, eq. 71 and 74-79, ch. 7; under organic mulch, 5 % less of Ke for each 10 % that is
    covered, pp. 195-198.
    """
    for name, amount in (
        ("depletion_mm", depletion_mm),
        ("kcb", kcb),
        ("kc_max", kc_max),
        ("eto_mm", eto_mm),
        ("gain_mm", gain_mm),
    ):
        if not amount >= 0.0:
            raise ValueError(f"{name} is {amount}; want 0 or more, a day that is not known cannot be reckoned")
    if not (0.0 < wetted <= 1.0 and 0.0 < bare <= 1.0):
        raise ValueError(f"wetted is {wetted}, bare is {bare}; want two shares of the surface, above 0, up to 1")
    exposed = min(bare, wetted)
    total_mm, ready_mm = surface.total_evaporable_mm, surface.readily_evaporable_mm
    start_mm = min(max(depletion_mm - gain_mm, 0.0), total_mm)
    reduction = min(1.0, (total_mm - start_mm) / (total_mm - ready_mm))
    coefficient = min(reduction * (kc_max - kcb), exposed * kc_max) * (1.0 - 0.5 * surface.cover)
    evaporation_mm = min(coefficient * eto_mm, exposed * (total_mm - start_mm))
    return SurfaceDay(reduction, coefficient, evaporation_mm, start_mm + evaporation_mm / exposed)
