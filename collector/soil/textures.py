"""What a soil of a named texture holds: FAO-56, Table 19, as printed.

The table prints a range for each value; a garden that states no value of its own gets the
middle of the range. Clay fractions are not in that table: they are the middle of the
class in the USDA texture triangle, rounded to 0.01 (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Texture:
    """One row of the table: ranges are (low, high), water contents in m³/m³, evaporable water in mm.

    `readily_evaporable_mm` is REW and `total_evaporable_mm` is TEW of a surface layer 0.10 m deep.
    """

    name: str
    field_capacity_m3_m3: tuple[float, float]
    wilting_point_m3_m3: tuple[float, float]
    readily_evaporable_mm: tuple[float, float]
    total_evaporable_mm: tuple[float, float]
    clay_fraction: float

    @property
    def field_capacity_mid(self) -> float:
        """Middle of the range of field capacity [m³/m³]."""
        return _middle(self.field_capacity_m3_m3)

    @property
    def wilting_point_mid(self) -> float:
        """Middle of the range of the wilting point [m³/m³]."""
        return _middle(self.wilting_point_m3_m3)


def _middle(span: tuple[float, float]) -> float:
    low, high = span
    return round((low + high) / 2, 4)  # rounded, so that 0.23 reads 0.23 and not 0.22999999999999998


# Source: Allen et al. 1998, FAO-56, Table 19, p. 144 (the last two columns: see the module's docstring).
_ROWS = (
    Texture("sand", (0.07, 0.17), (0.02, 0.07), (2, 7), (6, 12), 0.03),
    Texture("loamy sand", (0.11, 0.19), (0.03, 0.10), (4, 8), (9, 14), 0.06),
    Texture("sandy loam", (0.18, 0.28), (0.06, 0.16), (6, 10), (15, 20), 0.10),
    Texture("loam", (0.20, 0.30), (0.07, 0.17), (8, 10), (16, 22), 0.18),
    Texture("silt loam", (0.22, 0.36), (0.09, 0.21), (8, 11), (18, 25), 0.14),
    Texture("silt", (0.28, 0.36), (0.12, 0.22), (8, 11), (22, 26), 0.06),
    Texture("silt clay loam", (0.30, 0.37), (0.17, 0.24), (8, 11), (22, 27), 0.34),
    Texture("silty clay", (0.30, 0.42), (0.17, 0.29), (8, 12), (22, 28), 0.47),
    Texture("clay", (0.32, 0.40), (0.20, 0.24), (8, 12), (22, 29), 0.60),
)

TEXTURES: dict[str, Texture] = {texture.name: texture for texture in _ROWS}
