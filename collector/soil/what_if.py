"""How much warmer or cooler the soil would be if one thing were changed from now on.

The same column of heat flow is followed twice under the same weather, with the change and without, from the state in
which the last days have left it. Only the difference is told: what the model gets wrong of this bed, it gets wrong
twice. Callers add it to the forecast.

What is left out: conductances are those of the mean wind; a cloth does not slow the wind below it; the soil surface
is taken as dry, but for what a watering wets; water comes as warm as the soil it meets, and heat goes with it nowhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np

from collector.soil.arrays import Array
from collector.soil.constants import LATENT_HEAT_MJ_KG
from collector.soil.exposure import Exposure
from collector.soil.ground import Ground, column_of, seen_at
from collector.soil.heat import Column, surface_conductance_w_m2_k, surface_gain_w_m2
from collector.soil.modes import Modes, follow_c, held, modes_of
from collector.soil.profile import Profile
from collector.soil.textures import TEXTURES

_HOUR_S = 3600.0
# Where neither the air nor any thermometer is known, temperatures are counted from here [°C]; differences do not heed it.
_SOMEWHERE_C = 18.0
# The most that a wet surface evaporates, over the reference: Allen et al. 1998, FAO-56, eq. 72, its usual climate.
_WET_SURFACE = 1.2
# Organic mulch takes 5 % of the evaporation for each 10 % covered: Allen et al. 1998, FAO-56, pp. 195-198.
_MULCHED = 0.5


@dataclass(frozen=True, slots=True)
class Cloth:
    """Over the bed lies a cloth that takes this share of the sun [ratio]; 0 takes it away."""

    share: float


@dataclass(frozen=True, slots=True)
class Covers:
    """On the soil lies this, from the soil upward: (material, thickness [m]); empty leaves it bare."""

    covers: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class PlantingDepth:
    """What is planted lies at this depth below the soil surface [m]."""

    depth_m: float


@dataclass(frozen=True, slots=True)
class Watering:
    """So much water is given now [mm]."""

    amount_mm: float


Change: TypeAlias = Cloth | Covers | PlantingDepth | Watering


@dataclass(frozen=True, slots=True, eq=False)
class Today:
    """A bed as it is now and as it goes on if nothing is changed: made by `today_of`, asked by `difference_k`.

    `air_c` is the air of past and coming hours, or what stands in for it; `cells_c` (n) are the temperatures of its column
    now, `coming_c` (h by n) those at the coming full hours [°C].
    """

    ground: Ground
    exposure: Exposure
    air_c: Array
    column: Column
    modes: Modes
    cells_c: Array
    coming_c: Array


def today_of(ground: Ground, exposure: Exposure, thermometers: Profile | None = None) -> Today:
    """A bed as the last days have left it, and as it goes on if nothing is changed [°C].

    Args:
        ground: the bed [Ground].
        exposure: what it is exposed to [Exposure].
        thermometers: what its thermometers say now; the soil of the model starts from there [°C over m].

    Raises:
        ValueError: a thermometer outside the 1.5 m of the column.

    Source: Fourier's law, `collector.soil.modes`; drawing the soil to its thermometers, straight between them: common practice,
    no source.
    """
    air_c = _air_c(ground, exposure, thermometers)
    column = column_of(ground, float(exposure.wind_m_s.mean()), wetted_m=0.0)
    modes = _modes(column, exposure, air_c)
    felt_c = _felt_c(ground, exposure, air_c)
    past_c, ahead_c = felt_c[: -exposure.ahead], felt_c[-exposure.ahead :]
    cells_c = follow_c(modes, np.full(column.depth_m.size, past_c.mean()), held(past_c), None, _HOUR_S)[-1]
    if thermometers is not None:
        depths_m = np.array(thermometers.depths_m)
        off_k = np.array(thermometers.values) - seen_at(column, depths_m) @ cells_c
        cells_c = cells_c + np.where(column.depth_m > 0.0, np.interp(column.depth_m, depths_m, off_k), 0.0)
    coming_c = follow_c(modes, cells_c, held(ahead_c), None, _HOUR_S)
    return Today(ground, exposure, air_c, column, modes, cells_c, coming_c)


def difference_k(today: Today, change: Change, depth_m: float) -> Array:
    """How much warmer a depth is than it would be without the change, at the coming full hours [K], h values; cooler is below 0.

    Args:
        today: the bed as it is [Today].
        change: what is done now [Cloth, Covers, PlantingDepth or Watering].
        depth_m: depth below the soil surface, 0 to 1.5; of what is planted there, if the change is its depth [m].

    Raises:
        ValueError: a depth outside the column, or a change that cannot be.

    Source: as `profile_difference_k`.
    """
    return profile_difference_k(today, change, [depth_m])[:, 0]


def profile_difference_k(today: Today, change: Change, depths_m: Sequence[float]) -> Array:
    """How much warmer each depth is than it would be without the change, at the coming full hours [K], h by d.

    Args:
        today: the bed as it is [Today].
        change: what is done now [Cloth, Covers, PlantingDepth or Watering].
        depths_m: depths below the soil surface, d of them, each 0 to 1.5 [m].

    Raises:
        ValueError: no depth, one outside the column, or a change that cannot be.

    Source: Fourier's law, `collector.soil.modes`; evaporation of a watering by Allen et al. 1998, FAO-56, eq. 71, 73 and 74,
    its heat taken from the top of the covers as in `heat.surface_of`.
    """
    wanted_m = np.asarray(depths_m, dtype=np.float64)
    without_c = today.coming_c @ seen_at(today.column, wanted_m).T
    if isinstance(change, PlantingDepth):
        return today.coming_c @ seen_at(today.column, np.full(wanted_m.size, change.depth_m)).T - without_c
    column, coming_c = _changed(today, change)
    return coming_c @ seen_at(column, wanted_m).T - without_c


def _changed(today: Today, change: Cloth | Covers | Watering) -> tuple[Column, Array]:
    """The column after the change, and its temperatures at the coming full hours."""
    exposure, air_c, column, modes = today.exposure, today.air_c, today.column, today.modes
    ground, wetted_m, evaporation_w_m2 = today.ground, 0.0, np.zeros(exposure.ahead)
    match change:
        case Cloth(share):
            ground = replace(ground, cloth=share)
        case Covers(covers):
            ground = replace(ground, covers=covers)
        case Watering(amount_mm):
            wetted_m = _wetted_m(ground, amount_mm)
            evaporation_w_m2 = _evaporation_w_m2(ground, exposure, amount_mm)
    if ground.covers != today.ground.covers or wetted_m > 0.0:
        column = column_of(ground, float(exposure.wind_m_s.mean()), wetted_m)
        modes = _modes(column, exposure, air_c)
    # soil stays as warm as it is, and so does what already lies on it; what is laid on comes as warm as the air
    cells_c = np.interp(column.depth_m, today.column.depth_m, today.cells_c)
    top_m = today.column.depth_m[0] - today.column.thickness_m[0] / 2.0
    cells_c[column.depth_m < top_m] = air_c[-exposure.ahead]
    felt_c = _felt_c(ground, exposure, air_c)[-exposure.ahead :]
    felt_c = felt_c - evaporation_w_m2 / _conductance_w_m2_k(exposure, air_c)
    return column, follow_c(modes, cells_c, held(felt_c), None, _HOUR_S)


# ---------------------------------------------------------------- what it feels


def _air_c(ground: Ground, exposure: Exposure, thermometers: Profile | None) -> Array:
    """The air; where it is not known, such that the bed has felt, in the mean of the last days, what its soil has."""
    if np.isfinite(exposure.air_c).all():
        return exposure.air_c
    soil_c = _SOMEWHERE_C if thermometers is None else float(np.mean(thermometers.values))
    gain_w_m2 = _gain_w_m2(ground, exposure)[: -exposure.ahead]
    steady_c = np.full(exposure.time_ms.size, soil_c)
    return steady_c - float(gain_w_m2.mean()) / _conductance_w_m2_k(exposure, steady_c)


def _gain_w_m2(ground: Ground, exposure: Exposure) -> Array:
    nothing = np.zeros(exposure.sun_w_m2.size)
    return surface_gain_w_m2(exposure.sun_w_m2, exposure.sky_loss_w_m2, nothing, ground.albedo, ground.shade)


def _conductance_w_m2_k(exposure: Exposure, air_c: Array) -> float:
    """That of the mean air and wind, so that what sun and sky give, divided and multiplied by it, stays what it is."""
    return surface_conductance_w_m2_k(float(air_c.mean()), float(exposure.wind_m_s.mean()))


def _felt_c(ground: Ground, exposure: Exposure, air_c: Array) -> Array:
    return air_c + _gain_w_m2(ground, exposure) / _conductance_w_m2_k(exposure, air_c)


def _modes(column: Column, exposure: Exposure, air_c: Array) -> Modes:
    return modes_of(column, _conductance_w_m2_k(exposure, air_c), open_below=False)


# ---------------------------------------------------------------- what a watering does


def _wetted_m(ground: Ground, amount_mm: float) -> float:
    """How deep a watering fills the soil; nothing where it is full, for then it goes on below."""
    if not 0.0 <= amount_mm < np.inf:
        raise ValueError(f"amount_mm is {amount_mm}; want 0 or more [mm]")
    missing_m3_m3 = ground.fills_to_m3_m3 - ground.water_m3_m3
    return amount_mm / 1000.0 / missing_m3_m3 if missing_m3_m3 > 0.0 else 0.0


def _evaporation_w_m2(ground: Ground, exposure: Exposure, amount_mm: float) -> Array:
    """Heat that the wetted surface gives off as vapour in each coming hour, until it is dry again."""
    texture = TEXTURES[ground.texture]
    total_mm, ready_mm = sum(texture.total_evaporable_mm) / 2.0, sum(texture.readily_evaporable_mm) / 2.0
    most = _WET_SURFACE * (1.0 - ground.shade) * (_MULCHED if ground.lying() else 1.0)
    left_mm = min(amount_mm, total_mm)
    gone_mm = []
    for reference_mm in exposure.reference_mm[-exposure.ahead :].tolist():
        gone_mm.append(min(most * reference_mm * min(1.0, left_mm / (total_mm - ready_mm)), left_mm))
        left_mm -= gone_mm[-1]
    return np.array(gone_mm) * LATENT_HEAT_MJ_KG * 1e6 / _HOUR_S
