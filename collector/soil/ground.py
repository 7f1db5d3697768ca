"""A bed of the garden as a column of heat flow: what lies on it, what it is made of, and how wet it is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from collector.soil.arrays import Array
from collector.soil.covers import BARE_SOIL_ALBEDO, Material, cover_conductivity_w_m_k, material_of
from collector.soil.heat import THINNEST_M, Column, cells_in_cover, cells_m
from collector.soil.textures import TEXTURES
from collector.soil.thermal import campbell_conductivity_w_m_k, heat_capacity_j_m3_k, porosity_m3_m3

# A week reaches about a metre down; cells fine enough to follow the day. Common practice, no source.
COLUMN_M = 1.5
_FINEST_M, _GROWTH = 0.01, 1.2
# Of a tilled soil [kg/m³]; common practice, no source.
BULK_DENSITY_KG_M3 = 1300.0


@dataclass(frozen=True, slots=True)
class Ground:
    """A bed as it is. `covers` are (material, thickness [m]) from the soil upward; `water_m3_m3` is the mean of the soil.

    `cloth` and `leaves` are the shares of the sun that each takes [ratio]. `diffusivity_m2_s`, where it was learned of
    this bed, stands in for the one by texture and water; `field_capacity_m3_m3` for the middle of the texture's.

    Raises ValueError for an unknown texture or material, a thickness below 0, a share outside 0 to 1, water that is not
    above 0 and within the pores, and a diffusivity or field capacity that cannot be.
    """

    texture: str
    water_m3_m3: float
    covers: tuple[tuple[str, float], ...] = ()
    cloth: float = 0.0
    leaves: float = 0.0
    diffusivity_m2_s: float | None = None
    field_capacity_m3_m3: float | None = None

    def __post_init__(self) -> None:
        if self.texture not in TEXTURES:
            raise ValueError(f"texture {self.texture!r} is not known; want one of: {', '.join(TEXTURES)}")
        pores = porosity_m3_m3(BULK_DENSITY_KG_M3)
        for name in ("water_m3_m3", "field_capacity_m3_m3"):
            value = getattr(self, name)
            if value is not None and not 0.0 < value <= pores:
                raise ValueError(f"{name} is {value}; want above 0, up to the {pores:.2f} that the pores hold")
        for name in ("cloth", "leaves"):
            if not 0.0 <= getattr(self, name) <= 1.0:
                raise ValueError(f"{name} is {getattr(self, name)}; want the share of the sun that it takes, 0 to 1")
        if self.diffusivity_m2_s is not None and not 1e-8 < self.diffusivity_m2_s < 1e-5:
            raise ValueError(f"diffusivity_m2_s is {self.diffusivity_m2_s}; soils have about 1e-7 to 1e-6 m²/s")
        for material, thickness_m in self.covers:
            material_of(material)
            if not 0.0 <= thickness_m < np.inf:
                raise ValueError(f"cover {material!r} is {thickness_m} m thick; want 0 or more")

    @property
    def shade(self) -> float:
        """Share of the sun that cloth and leaves take together [ratio]."""
        return 1.0 - (1.0 - self.cloth) * (1.0 - self.leaves)

    @property
    def fills_to_m3_m3(self) -> float:
        """Water content to which a watering fills the soil [m³/m³]."""
        return self.field_capacity_m3_m3 or TEXTURES[self.texture].field_capacity_mid

    @property
    def albedo(self) -> float:
        """Share of the sun that the uppermost cover, or the bare soil, reflects [ratio]."""
        lying = self.lying()
        return lying[-1][0].albedo if lying else BARE_SOIL_ALBEDO

    def lying(self) -> list[tuple[Material, float]]:
        """Covers thick enough to count, from the soil upward [Material and m].

        Source: `heat.cells_in_cover`.
        """
        return [(material_of(name), thickness_m) for name, thickness_m in self.covers if thickness_m >= THINNEST_M]


def column_of(ground: Ground, wind_m_s: float, wetted_m: float) -> Column:
    """The bed as cells of heat flow [m, W m⁻¹ K⁻¹, J m⁻³ K⁻¹]; its soil cells are the same whatever lies on them.

    Args:
        ground: the bed [Ground].
        wind_m_s: wind at 2 m, which blows through the covers [m/s].
        wetted_m: depth down to which a watering has filled the soil, 0 for none [m].

    Raises:
        ValueError: a wind below 0, or none.

    Source: Campbell 1985 and de Vries 1963 by `thermal`; covers by `covers`; what was learned of a bed scales the former.
    """
    lying = ground.lying()
    depth_m, thickness_m = cells_m([cover_m for _, cover_m in lying], COLUMN_M, _FINEST_M, _GROWTH)
    soil = depth_m > 0.0
    water = np.where(depth_m < wetted_m, max(ground.fills_to_m3_m3, ground.water_m3_m3), ground.water_m3_m3)
    conductivity = _conductivity_w_m_k(ground, water)
    capacity = heat_capacity_j_m3_k(water, BULK_DENSITY_KG_M3)
    counts = [cells_in_cover(cover_m, _FINEST_M) for _, cover_m in reversed(lying)]
    materials = [material for material, _ in reversed(lying)]
    conductivity[~soil] = np.repeat([cover_conductivity_w_m_k(material, wind_m_s) for material in materials], counts)
    capacity[~soil] = np.repeat([material.capacity_j_m3_k for material in materials], counts)
    return Column(depth_m, thickness_m, conductivity, capacity)


def seen_at(column: Column, depths_m: Array) -> Array:
    """Shares of the n cells in the temperatures at d depths [ratio], d by n: straight between the middles of soil cells.

    Args:
        column: of a bed [Column].
        depths_m: depths below the soil surface, d of them, one or more, each 0 to 1.5 [m].

    Raises:
        ValueError: no depth, or one outside that range.

    Source: linear interpolation; common practice, no source.
    """
    if not depths_m.size or not ((depths_m >= 0.0) & (depths_m <= COLUMN_M)).all():
        raise ValueError(f"depths are {depths_m.tolist()} m; want one or more, each 0 to {COLUMN_M} below the soil surface")
    first = int(np.argmax(column.depth_m > 0.0))
    middles_m = column.depth_m[first:]
    above = np.clip(np.searchsorted(middles_m, depths_m) - 1, 0, middles_m.size - 2)
    # above the first middle and below the last one, that one holds
    share = np.clip((depths_m - middles_m[above]) / (middles_m[above + 1] - middles_m[above]), 0.0, 1.0)
    seen = np.zeros((depths_m.size, column.depth_m.size))
    rows = np.arange(depths_m.size)
    seen[rows, first + above], seen[rows, first + above + 1] = 1.0 - share, share
    return seen


def diffusivity_m2_s(ground: Ground) -> float:
    """How fast warmth goes through the soil of a bed as wet as it is [m²/s].

    Args:
        ground: the bed as it is (lengths in [m], water in [m³/m³]).

    Source: conductivity by heat capacity, of `soil.thermal`; what was learned of the bed goes before.
    """
    conductivity = _conductivity_w_m_k(ground, np.array(ground.water_m3_m3))
    return float(conductivity / heat_capacity_j_m3_k(ground.water_m3_m3, BULK_DENSITY_KG_M3))


def _conductivity_w_m_k(ground: Ground, water_m3_m3: Array) -> Array:
    """By texture and water, scaled so that the bed as it is has the diffusivity that was learned of it."""
    clay = TEXTURES[ground.texture].clay_fraction
    by_texture = campbell_conductivity_w_m_k(water_m3_m3, BULK_DENSITY_KG_M3, clay)
    if ground.diffusivity_m2_s is None:
        return by_texture
    learned = ground.diffusivity_m2_s * heat_capacity_j_m3_k(ground.water_m3_m3, BULK_DENSITY_KG_M3)
    return by_texture * learned / campbell_conductivity_w_m_k(ground.water_m3_m3, BULK_DENSITY_KG_M3, clay)
