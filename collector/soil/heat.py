"""Heat flow through a bed: covers above, soil below, sun and air on top.

The column is cut into cells that each have one temperature; heat flows between the middles
of neighbours. A step is implicit (backward Euler): it is stable at any length, and it is
linear in the temperatures and in the two temperatures at the ends, so that a step of one
column is one matrix (`transition`) for whoever needs it, and one quick elimination
(`step_c`) for whoever does not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from collector.soil.arrays import Array, Floats, within
from collector.soil.constants import KELVIN_OF_ZERO_CELSIUS, STEFAN_BOLTZMANN_W_M2_K4

# A thinner cover holds no air to speak of, and a cell of it next to one of soil would make the equations stiff for nothing.
THINNEST_M = 0.001


@dataclass(frozen=True, slots=True, eq=False)
class Column:
    """Cells from the top of the covers downward; parallel arrays of n values.

    `depth_m` is the middle of a cell below the soil surface, negative in the covers. The
    conductivity and capacity of a cell may change from step to step; its place may not.
    Raises ValueError for no cells, arrays of other lengths, depths that do not go down, and a
    thickness, conductivity or capacity that is not a finite number above 0.
    """

    depth_m: Array
    thickness_m: Array
    conductivity_w_m_k: Array
    capacity_j_m3_k: Array

    def __post_init__(self) -> None:
        if not self.depth_m.size or np.ndim(self.depth_m) != 1 or not (np.diff(self.depth_m) > 0).all():
            raise ValueError(f"depth_m is {self.depth_m}; want the middles of one cell or more, from the top downward [m]")
        for name in ("thickness_m", "conductivity_w_m_k", "capacity_j_m3_k"):
            values = getattr(self, name)
            if values.shape != self.depth_m.shape or not (np.isfinite(values) & (values > 0)).all():
                raise ValueError(f"{name} is {values}; want {self.depth_m.size} finite numbers above 0, one for each cell")


@dataclass(frozen=True, slots=True)
class Surface:
    """What the top of the column feels: a temperature [°C] behind a conductance [W m⁻² K⁻¹].

    The temperature is that of air which would give, without sun, sky or evaporation, the same flow of heat.
    """

    felt_c: float
    conductance_w_m2_k: float


@dataclass(frozen=True, slots=True, eq=False)
class Links:
    """Conductances [W m⁻² K⁻¹]: between neighbours (n - 1), from the first cell to what the top feels, and from the last down."""

    beside: Array
    top: float
    bottom: float

    def diagonal(self) -> Array:
        """What each cell loses for each kelvin [W m⁻² K⁻¹], n values.

        Source: Fourier's law.
        """
        diagonal: Array = np.concatenate([[0.0], self.beside]) + np.concatenate([self.beside, [0.0]])
        diagonal[0] += self.top
        diagonal[-1] += self.bottom
        return diagonal


def cells_m(covers_m: Sequence[float], soil_m: float, finest_m: float = 0.01, growth: float = 1.15) -> tuple[Array, Array]:
    """Middles and thicknesses of the cells of a column [m], from its top downward.

    A cover thinner than a millimetre gets no cell. Soil cells grow with depth by a constant ratio.

    Args:
        covers_m: thickness of the covers from the soil upward, each zero or more [m].
        soil_m: depth of the column below the soil surface [m].
        finest_m: thickness of the first soil cell, and about that of the cover cells twice over [m].
        growth: ratio of one soil cell to the one above it, 1 or more [ratio].

    Raises:
        ValueError: a cover thinner than nothing, or a soil depth, first cell or growth outside its range.

    Source: common practice, no source.
    """
    if any(not cover_m >= 0 for cover_m in covers_m):
        raise ValueError(f"covers_m is {list(covers_m)}; want thicknesses of 0 or more")
    if not 0 < finest_m <= soil_m < np.inf or not 1 <= growth < np.inf:
        raise ValueError(f"soil_m {soil_m}, finest_m {finest_m}, growth {growth}: want 0 < finest <= soil and growth >= 1")
    cover_cells: list[float] = []
    for cover_m in reversed(covers_m):
        count = cells_in_cover(cover_m, finest_m)
        cover_cells += [cover_m / count] * count if count else []
    soil_cells: list[float] = []
    while sum(soil_cells) < soil_m:
        soil_cells.append(finest_m * growth ** len(soil_cells))
    soil_cells = [cell_m * soil_m / sum(soil_cells) for cell_m in soil_cells]
    thickness_m = np.array(cover_cells + soil_cells)
    lower_m = np.cumsum(thickness_m) - sum(cover_cells)
    return lower_m - thickness_m / 2.0, thickness_m


def cells_in_cover(cover_m: float, finest_m: float = 0.01) -> int:
    """How many cells a cover gets [count]: none if it is thinner than a millimetre, else two or more.

    Args:
        cover_m: thickness of the cover [m].
        finest_m: half the thickness that a cover cell has at most [m].

    Raises:
        ValueError: a cover thinner than nothing, or no number.

    Source: common practice, no source.
    """
    if not 0.0 <= cover_m < np.inf:
        raise ValueError(f"cover_m is {cover_m}; want 0 or more [m]")
    return max(2, int(np.ceil(cover_m / (2.0 * finest_m)))) if cover_m >= THINNEST_M else 0


def surface_of(
    air_c: float,
    sun_w_m2: float,
    wind_m_s: float,
    longwave_loss_w_m2: float,
    evaporation_w_m2: float,
    albedo: float,
    shade: float = 0.0,
) -> Surface:
    """What the top of a bed feels: a temperature [°C] and a conductance [W m⁻² K⁻¹].

    Shade cloth takes its share of the sun, and of the long-wave loss too, as it hides that
    share of the sky and is itself about as warm as the air.

    Args:
        air_c: air temperature [°C].
        sun_w_m2: solar radiation on a horizontal surface [W/m²].
        wind_m_s: wind at 2 m [m/s].
        longwave_loss_w_m2: what a surface as warm as the air radiates beyond what the sky gives it [W/m²].
        evaporation_w_m2: heat that evaporation takes from the surface [W/m²].
        albedo: share of the sun that the surface reflects [ratio].
        shade: share of the sun that a cloth takes, 0 to 1 [ratio].

    Raises:
        ValueError: a shade or an albedo outside 0 to 1, or a wind outside 0 to 100 m/s.

    Source: energy balance of a surface; see `surface_conductance_w_m2_k` and `surface_gain_w_m2`.
    """
    conductance_w_m2_k = surface_conductance_w_m2_k(air_c, wind_m_s)
    gain_w_m2 = surface_gain_w_m2(sun_w_m2, longwave_loss_w_m2, evaporation_w_m2, albedo, shade)
    return Surface(air_c + gain_w_m2 / conductance_w_m2_k, conductance_w_m2_k)


def surface_conductance_w_m2_k(air_c: Floats, wind_m_s: Floats) -> Floats:
    """How well heat passes between the top of a bed and air and sky [W m⁻² K⁻¹]. NaN gives NaN.

    Args:
        air_c: air temperature [°C].
        wind_m_s: wind at 2 m, 0 to 100 [m/s].

    Raises:
        ValueError: a wind outside that range.

    Source: wind by 5.7 + 3.8 u, Jürges 1924 (from memory); long-wave made linear at air temperature.
    """
    within("wind_m_s", wind_m_s, 0.0, 100.0, "m/s")
    return 5.7 + 3.8 * wind_m_s + 4.0 * STEFAN_BOLTZMANN_W_M2_K4 * (air_c + KELVIN_OF_ZERO_CELSIUS) ** 3


def surface_gain_w_m2(
    sun_w_m2: Floats, longwave_loss_w_m2: Floats, evaporation_w_m2: Floats, albedo: float, shade: float
) -> Floats:
    """What the top of a bed as warm as the air takes up from sun and sky, less what evaporates [W/m²]. NaN gives NaN.

    Args:
        sun_w_m2: solar radiation on a horizontal surface [W/m²].
        longwave_loss_w_m2: what a surface as warm as the air radiates beyond what the sky gives it [W/m²].
        evaporation_w_m2: heat that evaporation takes from the surface [W/m²].
        albedo: share of the sun that the surface reflects [ratio].
        shade: share of the sun, and of the sky, that a cloth takes, 0 to 1 [ratio].

    Raises:
        ValueError: a shade or an albedo outside 0 to 1.

    Source: energy balance of a surface.
    """
    if not 0 <= shade <= 1:
        raise ValueError(f"shade is {shade}; want 0 to 1")
    within("albedo", albedo, 0.0, 1.0, "ratio")
    return (1.0 - shade) * ((1.0 - albedo) * sun_w_m2 - longwave_loss_w_m2) - evaporation_w_m2


def step_c(column: Column, before_c: Array, surface: Surface, bottom_c: float | None, step_s: float) -> Array:
    """Temperatures of the cells after one step [°C], n values. A temperature that is NaN makes all of them NaN.

    Args:
        column: the cells, n of them [Column].
        before_c: their temperatures before it, n values [°C].
        surface: what the top feels during the step [Surface].
        bottom_c: temperature at the lower end of the column; None lets no heat through there [°C].
        step_s: length of the step, above 0 [s].

    Raises:
        ValueError: a step of zero or less, a conductance below 0, or another number of temperatures than of cells.

    Source: Fourier's law in finite volumes, backward Euler; textbook numerics, as in Patankar 1980 (from memory).
    """
    diagonal, links, storage = _balance(column, surface.conductance_w_m2_k, bottom_c is not None, step_s)
    _check_one_for_each(column, before_c, "before_c")
    right = storage * before_c
    right[0] += links.top * surface.felt_c
    if bottom_c is not None:
        right[-1] += links.bottom * bottom_c
    return _solve(diagonal, links.beside, right)


@dataclass(frozen=True, slots=True, eq=False)
class Transition:
    """One step as a linear map: after = state @ before + surface * felt_c + bottom * bottom_c; n by n, n, and n values."""

    state: Array
    surface: Array
    bottom: Array


def transition(column: Column, conductance_w_m2_k: float, open_below: bool, step_s: float) -> Transition:
    """The step of `step_c` as a linear map [ratio]: n by n for the state, n for each end.

    Args:
        column: the cells, n of them [Column].
        conductance_w_m2_k: between the top of the column and what it feels [W m⁻² K⁻¹].
        open_below: whether the lower end is held at a temperature, or lets no heat through [yes or no].
        step_s: length of the step, above 0 [s].

    Raises:
        ValueError: a step of zero or less, or a conductance below 0.

    Source: as `step_c`.
    """
    diagonal, links, storage = _balance(column, conductance_w_m2_k, open_below, step_s)
    inverse = np.linalg.inv(np.diag(diagonal) - np.diag(links.beside, 1) - np.diag(links.beside, -1)).astype(np.float64)
    return Transition(inverse * storage, inverse[:, 0] * links.top, inverse[:, -1] * links.bottom)


def surface_flow_w_m2(column: Column, cells_c: Array, surface: Surface) -> float:
    """Heat that flows into the top of the column [W/m²]. NaN gives NaN.

    Args:
        column: the cells, n of them [Column].
        cells_c: their temperatures, n values [°C].
        surface: what the top feels [Surface].

    Raises:
        ValueError: a conductance below 0, or another number of temperatures than of cells.

    Source: Fourier's law.
    """
    _check_one_for_each(column, cells_c, "cells_c")
    return links_of(column, surface.conductance_w_m2_k, open_below=False).top * (surface.felt_c - float(cells_c[0]))


def stored_heat_j_m2(column: Column, cells_c: Array) -> float:
    """Heat in the column above that at 0 °C [J/m²]. NaN gives NaN.

    Args:
        column: the cells, n of them [Column].
        cells_c: their temperatures, n values [°C].

    Raises:
        ValueError: another number of temperatures than of cells.

    Source: by definition of heat capacity.
    """
    _check_one_for_each(column, cells_c, "cells_c")
    return float(np.sum(column.capacity_j_m3_k * column.thickness_m * cells_c))


def temperature_at_c(column: Column, cells_c: Array, depth_m: float) -> float:
    """Temperature at a depth [°C], linear between the middles of the cells.

    Args:
        column: the cells, n of them [Column].
        cells_c: their temperatures, n values [°C].
        depth_m: depth below the soil surface, negative in the covers [m].

    Raises:
        ValueError: a depth that is not within the column, or another number of temperatures than of cells.

    Source: linear interpolation; common practice, no source.
    """
    _check_one_for_each(column, cells_c, "cells_c")
    top_m = column.depth_m.item(0) - column.thickness_m.item(0) / 2.0
    end_m = column.depth_m.item(-1) + column.thickness_m.item(-1) / 2.0
    if not top_m <= depth_m <= end_m:
        raise ValueError(f"depth_m is {depth_m}; the column goes from {top_m:.3f} to {end_m:.3f} m")
    return float(np.interp(depth_m, column.depth_m, cells_c))


def links_of(column: Column, conductance_w_m2_k: float, open_below: bool) -> Links:
    """How well heat passes between the middles of neighbours, and to either end [W m⁻² K⁻¹].

    Args:
        column: the cells, n of them [Column].
        conductance_w_m2_k: between the top of the column and what it feels, 0 lets nothing through [W m⁻² K⁻¹].
        open_below: whether the lower end is held at a temperature, or lets no heat through [yes or no].

    Raises:
        ValueError: a conductance below 0, or none.

    Source: resistances in series.
    """
    if not conductance_w_m2_k >= 0:
        raise ValueError(f"conductance_w_m2_k is {conductance_w_m2_k}; want 0 or more")
    resistance = column.thickness_m / (2.0 * column.conductivity_w_m_k)
    top = 1.0 / (1.0 / conductance_w_m2_k + resistance.item(0)) if conductance_w_m2_k > 0 else 0.0
    return Links(1.0 / (resistance[:-1] + resistance[1:]), top, 1.0 / resistance.item(-1) if open_below else 0.0)


def _check_one_for_each(column: Column, values: Array, name: str) -> None:
    if values.shape != column.depth_m.shape:
        raise ValueError(f"{name} has shape {values.shape}; want {column.depth_m.shape}, one temperature for each cell")


def _balance(column: Column, conductance_w_m2_k: float, open_below: bool, step_s: float) -> tuple[Array, Links, Array]:
    """The tridiagonal equations of one step: diagonal, (minus) what is beside it, and the storage on the right."""
    if not step_s > 0:
        raise ValueError(f"step_s is {step_s}; want more than 0")
    links = links_of(column, conductance_w_m2_k, open_below)
    storage = column.capacity_j_m3_k * column.thickness_m / step_s
    return storage + links.diagonal(), links, storage


def _solve(diagonal: Array, beside: Array, right: Array) -> Array:
    """Elimination for a symmetric tridiagonal matrix; on plain floats, which for tens of cells beats arrays by far."""
    side = beside.tolist()
    pivots = diagonal.tolist()
    values = right.tolist()
    for i, link in enumerate(side):
        ratio = link / pivots[i]
        pivots[i + 1] -= ratio * link
        values[i + 1] += ratio * values[i]
    values[-1] /= pivots[-1]
    for i in range(len(side) - 1, -1, -1):
        values[i] = (values[i] + side[i] * values[i + 1]) / pivots[i]
    return np.array(values)
