"""How much of a bed a picture shows, and at what scale."""

from __future__ import annotations

import zlib
from dataclasses import dataclass

from collector.model import Bed
from collector.units import UnitSystem

CM_PER_IN = 2.54


@dataclass(frozen=True, slots=True)
class Frame:
    """A window on the ground. Depths are to scale; along the bed the drawing repeats every `tile_px`.

    `px_per_cm` is the scale, `above_cm` and `below_cm` reach from the soil surface to the edges,
    `plants_px` are the plants of one tile, `grain_px` the usual distance of two soil grains,
    `staff_cm` the unit of the staff at the left edge [cm], None where there is no staff.
    """

    px_per_cm: float
    above_cm: float
    below_cm: float
    tile_px: int
    copies: int
    plants_px: tuple[int, ...]
    grain_px: float
    staff_cm: float | None = None

    @property
    def ground_px(self) -> float:
        """Where the soil surface lies, from the top edge [px]."""
        return self.above_cm * self.px_per_cm

    @property
    def height_px(self) -> float:
        """Height of the whole picture [px]."""
        return (self.above_cm + self.below_cm) * self.px_per_cm

    @property
    def width_px(self) -> int:
        """Width of the whole drawing [px]; a narrow screen shows its left part."""
        return self.tile_px * self.copies

    def y(self, depth_m: float) -> float:
        """Where a depth [m] lies, from the top edge [px]; depths above the soil are negative."""
        return self.ground_px + depth_m * 100 * self.px_per_cm


def cover_cm(bed: Bed) -> float:
    """Thickness [cm] of all covers together."""
    return sum(cover.thickness_m for cover in bed.covers) * 100


def today_frame(bed: Bed, below_cm: float) -> Frame:
    """The small picture of Today: enough soil for the cloves and their roots, no staff, no stake."""
    return Frame(4.7, round(cover_cm(bed)) + 15, below_cm, 280, 8, (75, 145, 215, 285), 21.0)


def today_below_cm(beds: tuple[Bed, ...]) -> float:
    """How deep [cm] all pictures of Today go: they share one floor, so that they stand on one ground line side by side."""
    deepest_cm = max((planting.depth_m * 100 for bed in beds for planting in bed.plantings), default=12.0)
    return min(max(round(deepest_cm) + 9.5, 18.0), 32.0)


def bed_frame(bed: Bed, units: UnitSystem) -> Frame:
    """The large picture of a bed's own page: down past its deepest probe; very deep beds are drawn smaller."""
    deepest_cm = max((probe.depth_m * 100 for probe in bed.probes if probe.depth_m is not None), default=0.0)
    below_cm = max(34.0, round(deepest_cm) + 4.0)
    above_cm = round(cover_cm(bed)) + 19
    staff_cm = CM_PER_IN if units is UnitSystem.US else 1.0
    return Frame(min(7.2, 576 / (below_cm + above_cm)), above_cm, below_cm, 400, 3, (76, 253), 26.0, staff_cm)


def seed(bed: Bed) -> int:
    """The same number for the same bed on every machine and day: each bed keeps its own straw."""
    return zlib.crc32(bed.id.encode())
