"""What is known of a bed at one moment, worked out from its readings. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from collector.model import Bed
from collector.soil.profile import Estimate, Profile


@dataclass(frozen=True, slots=True)
class WaterState:
    """Water in the root zone: litres per square metre are millimetres (FAO-56, eq. 82, 83, 87)."""

    depletion_mm: float
    taw_mm: float
    raw_mm: float
    p: float
    root_depth_m: float


@dataclass(frozen=True, slots=True)
class BedState:
    """One bed at `now_ms`. None means not known; it never stands for zero or for fine.

    `temperature` and `moisture` (volume ratio) are profiles of the newest trusted readings no
    older than the bed's patience. `clove_mean_c` is the mean over the last 24 h at clove depth,
    None unless `clove_mean_cover` (0 to 1), the share of those hours with a value, is at least 0.75.
    `heard_ms` is the newest reading of any kind.
    """

    bed: Bed
    now_ms: int
    temperature: Profile | None
    moisture: Profile | None
    clove: Estimate | None
    clove_mean_c: float | None
    clove_mean_cover: float
    clove_mean_before_c: float | None  # the same mean 24 h earlier, for the direction it goes
    water: WaterState | None
    heard_ms: int | None
    temperature_heard_ms: int | None
    moisture_heard_ms: int | None
