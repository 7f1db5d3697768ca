"""What lies on the soil: how well it conducts in still air and in wind, and what sun it reflects."""

from __future__ import annotations

from dataclasses import dataclass

from collector.soil.arrays import within


@dataclass(frozen=True, slots=True)
class Material:
    """A cover: conductivity in still air [W m⁻¹ K⁻¹] and its rise with wind, heat capacity [J m⁻³ K⁻¹], albedo [ratio].

    `rise_per_m_s` is the added conductivity for each m/s of wind at 2 m.
    """

    still_w_m_k: float
    rise_per_m_s: float
    capacity_j_m3_k: float
    albedo: float


# Still air: dry straw 0.04-0.1, moist compost 0.2-0.5 W m⁻¹ K⁻¹ (from memory).
# Wind: van Donk & Tollner 2000 measured 0.1 to 0.6 W m⁻¹ K⁻¹ for straw and chips as the air
# over them went from 0 to 5 m/s; wind at the straw is taken as 0.3 of that at 2 m (common practice, no source).
# Albedo: straw 0.25-0.35 fresh and 0.15-0.2 weathered (from memory).
# The other albedos and all heat capacities: common practice, no source.
MATERIALS: dict[str, Material] = {
    "straw": Material(0.09, 0.03, 0.15e6, 0.25),
    "hay": Material(0.09, 0.03, 0.15e6, 0.22),
    "leaves": Material(0.10, 0.02, 0.30e6, 0.15),
    "wood chips": Material(0.12, 0.03, 0.40e6, 0.18),
    "compost": Material(0.30, 0.0, 1.40e6, 0.10),
}

# Albedo of bare soil, neither wet nor dry: wet bare soil 0.05 (Allen et al. 1998, FAO-56, p. 43),
# dry light soil 0.25-0.35 (from memory).
BARE_SOIL_ALBEDO = 0.17


def material_of(name: str) -> Material:
    """The material of that name [conductivity, heat capacity and albedo].

    Args:
        name: its word in the garden file [a key of MATERIALS].

    Raises:
        ValueError: a material that is not in the table.

    Source: the table MATERIALS, with its sources.
    """
    if name not in MATERIALS:
        raise ValueError(f"cover material {name!r} is not known; want one of: {', '.join(sorted(MATERIALS))}")
    return MATERIALS[name]


def cover_conductivity_w_m_k(material: Material, wind_m_s: float) -> float:
    """Conductivity of a cover [W m⁻¹ K⁻¹], which rises as wind blows through it, up to 0.6.

    Args:
        material: what it is made of [a value of MATERIALS].
        wind_m_s: wind at 2 m, 0 to 100 [m/s].

    Raises:
        ValueError: a wind outside that range.

    Source: van Donk & Tollner 2000, Apparent thermal conductivity of mulch materials exposed to forced convection (range).
    """
    within("wind_m_s", wind_m_s, 0.0, 100.0, "m/s")
    return min(material.still_w_m_k + material.rise_per_m_s * wind_m_s, 0.6)
