"""How soil stores and conducts heat, by its density, texture and water.

Two published models of conductivity stand here because they differ by 10 to 55 % in a
drying soil: whoever uses one must carry that uncertainty.
"""

from __future__ import annotations

import numpy as np

from collector.soil.arrays import Floats, within

# Density of soil minerals [kg/m³]: 2650 is quartz and the usual mean (from memory).
PARTICLE_DENSITY_KG_M3 = 2650.0


def porosity_m3_m3(bulk_density_kg_m3: float) -> float:
    """Share of the soil that is pores [m³/m³]: the water content when they are full.

    Args:
        bulk_density_kg_m3: mass of dry soil in its volume, up to 2650 [kg/m³].

    Raises:
        ValueError: a density outside that range.

    Source: by definition, with a particle density of 2650 kg/m³ (from memory).
    """
    within("bulk_density_kg_m3", bulk_density_kg_m3, 0.0, PARTICLE_DENSITY_KG_M3, "kg/m³")
    return 1.0 - bulk_density_kg_m3 / PARTICLE_DENSITY_KG_M3


def heat_capacity_j_m3_k(water_m3_m3: Floats, bulk_density_kg_m3: float, organic_m3_m3: float = 0.0) -> Floats:
    """Heat that a volume of soil takes up to warm by one degree [J m⁻³ K⁻¹].

    Args:
        water_m3_m3: volume ratio of water [m³/m³].
        bulk_density_kg_m3: mass of dry mineral soil in its volume [kg/m³].
        organic_m3_m3: volume ratio of organic matter [m³/m³].

    Raises:
        ValueError: water or organic matter outside 0 to 1, or a density beyond that of the minerals.

    Source: de Vries 1963, as used by Campbell 1985: 1.92, 2.51 and 4.18 MJ m⁻³ K⁻¹ of minerals, organic matter and water.
    """
    within("bulk_density_kg_m3", bulk_density_kg_m3, 0.0, PARTICLE_DENSITY_KG_M3, "kg/m³")
    within("water_m3_m3", water_m3_m3, 0.0, 1.0, "m³/m³")
    within("organic_m3_m3", organic_m3_m3, 0.0, 1.0, "m³/m³")
    minerals_m3_m3 = bulk_density_kg_m3 / PARTICLE_DENSITY_KG_M3
    return 1.92e6 * minerals_m3_m3 + 2.51e6 * organic_m3_m3 + 4.18e6 * water_m3_m3


def campbell_conductivity_w_m_k(water_m3_m3: Floats, bulk_density_kg_m3: float, clay_fraction: float) -> Floats:
    """Thermal conductivity of a mineral soil [W m⁻¹ K⁻¹].

    Args:
        water_m3_m3: volume ratio of water [m³/m³].
        bulk_density_kg_m3: mass of dry soil in its volume [kg/m³].
        clay_fraction: mass of clay in that of the soil, above 0 up to 1 [kg/kg].

    Raises:
        ValueError: water outside 0 to 1, a density beyond that of the minerals, or a clay fraction outside that range.

    Source: Campbell 1985, Soil Physics with BASIC, ch. 4, coefficients for mineral soils.
    """
    within("bulk_density_kg_m3", bulk_density_kg_m3, 0.0, PARTICLE_DENSITY_KG_M3, "kg/m³")
    within("water_m3_m3", water_m3_m3, 0.0, 1.0, "m³/m³")
    if not 0 < clay_fraction <= 1:
        raise ValueError(f"clay_fraction is {clay_fraction}; want above 0, up to 1 [kg/kg]")
    density = bulk_density_kg_m3 / 1000.0
    a = 0.65 - 0.78 * density + 0.60 * density**2
    b = 1.06 * density
    c = 1.0 + 2.6 / clay_fraction**0.5
    d = 0.03 + 0.1 * density**2
    conductivity: Floats = a + b * water_m3_m3 - (a - d) * np.exp(-((c * water_m3_m3) ** 4))
    return conductivity


def johansen_conductivity_w_m_k(water_m3_m3: Floats, bulk_density_kg_m3: float, quartz_fraction: float, coarse: bool) -> Floats:
    """Thermal conductivity of an unfrozen soil [W m⁻¹ K⁻¹].

    Args:
        water_m3_m3: volume ratio of water, up to the porosity [m³/m³].
        bulk_density_kg_m3: mass of dry soil in its volume [kg/m³].
        quartz_fraction: quartz in the solids, 0 to 1 [ratio].
        coarse: whether the soil is sandy [yes or no].

    Raises:
        ValueError: water or quartz outside 0 to 1, or a density beyond that of the minerals.

    Source: Johansen 1975, dry and saturated soil by density and quartz; the Kersten number of coarse soil from memory.
    """
    within("bulk_density_kg_m3", bulk_density_kg_m3, 0.0, PARTICLE_DENSITY_KG_M3, "kg/m³")
    within("water_m3_m3", water_m3_m3, 0.0, 1.0, "m³/m³")
    within("quartz_fraction", quartz_fraction, 0.0, 1.0, "ratio")
    pores_m3_m3 = porosity_m3_m3(bulk_density_kg_m3)
    dry = (0.135 * bulk_density_kg_m3 + 64.7) / (2700.0 - 0.947 * bulk_density_kg_m3)
    other_minerals = 2.0 if quartz_fraction > 0.2 else 3.0
    solids = 7.7**quartz_fraction * other_minerals ** (1.0 - quartz_fraction)
    saturated = solids ** (1.0 - pores_m3_m3) * 0.57**pores_m3_m3
    # below these saturations the logarithm has no meaning: the soil counts as dry
    driest, slope = (0.05, 0.7) if coarse else (0.1, 1.0)
    saturation = water_m3_m3 / pores_m3_m3
    kersten = np.clip(slope * np.log10(np.maximum(saturation, driest)) + 1.0, 0.0, 1.0)
    conductivity: Floats = dry + kersten * (saturated - dry)
    return conductivity


def damping_depth_m(diffusivity_m2_s: Floats, period_s: float) -> Floats:
    """Depth at which a temperature wave has fallen to 1/e of its height at the surface [m].

    Args:
        diffusivity_m2_s: conductivity over heat capacity [m²/s].
        period_s: period of the wave, a day or a year [s].

    Raises:
        ValueError: a diffusivity or period below 0.

    Source: the damped wave of uniform ground, Carslaw & Jaeger 1959, Conduction of Heat in Solids (from memory).
    """
    within("diffusivity_m2_s", diffusivity_m2_s, 0.0, np.inf, "m²/s")
    within("period_s", period_s, 0.0, np.inf, "s")
    depth_m: Floats = np.sqrt(diffusivity_m2_s * period_s / np.pi)
    return depth_m
