"""One simulated bed: heat through its covers and soil, water through its layers.

Truth, as far as the simulated garden has one; what probes say of it is in probes.py.
"""

from __future__ import annotations

import datetime as dt
from bisect import bisect
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from collector.model import Bed
from collector.simulate.weather import STEP_S, Climate, Moment
from collector.soil import crop_coefficient as crop
from collector.soil import heat, thermal, water
from collector.soil.arrays import Array
from collector.soil.constants import LATENT_HEAT_MJ_KG
from collector.soil.covers import BARE_SOIL_ALBEDO, cover_conductivity_w_m_k, material_of
from collector.soil.textures import TEXTURES

COLUMN_M = 3.0
BULK_DENSITY_KG_M3 = 1300.0
# Diffusivity with which the yearly wave reaches the column's lower end [m²/s]; a moist loam, by Campbell 1985.
YEARLY_DIFFUSIVITY_M2_S = 0.5e-6
# The soil surface is this much warmer than the air in the mean of a sunny year [K]; invented.
SOIL_WARMER_K = 1.0

# Lower ends of the water layers [m].
LAYER_ENDS_M = (0.0, 0.05, 0.10, 0.15, 0.20, 0.30, 0.45, 0.65, 1.0)
# What is above field capacity drains with this time constant [s]: most of it within two days.
DRAINAGE_S = 0.4 * 86_400.0
# Dry straw and the like hold this much of a shower before any goes through [mm per m of cover]; invented.
INTERCEPTION_MM_M = 12.0
# Evaporation dries the upper two layers only, in these shares.
EVAPORATION_SHARES = (0.7, 0.3)
# Properties of the soil follow its water, and those of the straw the wind, once an hour.
STEPS_BETWEEN_PROPERTIES = 6
# Stages of an autumn-planted garlic in a mild winter [d]; invented, as FAO-56, Table 11, has no garlic row.
STAGES_D = (45.0, 90.0, 60.0, 40.0)
# Share of the soil that full-grown leaves shade; garlic stands thin. Invented.
CANOPY_SHADE = 0.40


@dataclass(frozen=True, slots=True)
class _Demand:
    """What the crop's stage makes of the reference evapotranspiration [ratio]."""

    transpiration: float
    evaporation: float
    canopy: float


class SimulatedBed:
    """A bed of the garden file that warms, cools, dries and is watered, step by step."""

    def __init__(self, bed: Bed, climate: Climate, first: dt.date) -> None:
        texture = TEXTURES[bed.soil or "loam"]
        self.bed = bed
        self.cloth = 0.0
        self._climate = climate
        self._clay_fraction = texture.clay_fraction
        self._field_capacity = bed.field_capacity
        self._wilting_point = bed.wilting_point
        self._materials = [material_of(cover.material) for cover in bed.covers]
        self._cover_cells = [heat.cells_in_cover(cover.thickness_m) for cover in bed.covers]
        self._albedo = self._materials[-1].albedo if self._materials else BARE_SOIL_ALBEDO
        self._cover_share = 1.0 if self._materials else 0.0
        self._planted = bed.plantings[0].planted

        depth_m, thickness_m = heat.cells_m([cover.thickness_m for cover in bed.covers], COLUMN_M)
        self._column = heat.Column(depth_m, thickness_m, np.ones_like(depth_m), np.ones_like(depth_m))
        self._cells_c = self._yearly_wave_c(np.maximum(depth_m, 0.0), first)

        self._layers_m = [lower - upper for upper, lower in pairwise(LAYER_ENDS_M)]
        self._middles_m = [(lower + upper) / 2 for upper, lower in pairwise(LAYER_ENDS_M)]
        self._theta = [0.5 * (self._field_capacity + self._wilting_point)] * 4 + [0.8 * self._field_capacity] * 4
        self._full = 0.92 * thermal.porosity_m3_m3(BULK_DENSITY_KG_M3)  # some air stays caught
        self._caught_mm = 0.0
        self._roots = self._root_shares()
        self._poured_mm = 0.0
        self._step = 0
        self._date = first
        self._demand = _Demand(0.0, 0.0, 0.0)
        self._bottom_c = 0.0

    # ------------------------------------------------------------ what can be asked of it

    def temperature_c(self, depth_m: float) -> float:
        """Temperature at a depth below the soil surface."""
        return heat.temperature_at_c(self._column, self._cells_c, depth_m)

    def moisture_m3_m3(self, depth_m: float) -> float:
        """Volume ratio of water at a depth."""
        below = bisect(self._middles_m, depth_m)
        if below in (0, len(self._middles_m)):
            return self._theta[min(below, len(self._theta) - 1)]
        upper_m, lower_m = self._middles_m[below - 1 : below + 1]
        upper, lower = self._theta[below - 1 : below + 1]
        return upper + (lower - upper) * (depth_m - upper_m) / (lower_m - upper_m)

    @property
    def depletion_mm(self) -> float:
        """Water missing from field capacity in the root zone, by its layers."""
        missing_m = 0.0
        for (upper_m, lower_m), theta in zip(pairwise(LAYER_ENDS_M), self._theta, strict=True):
            missing_m += max(0.0, min(lower_m, self.bed.root_depth_m) - upper_m) * (self._field_capacity - theta)
        return min(max(1000.0 * missing_m, 0.0), 1000.0 * (self._field_capacity - self._wilting_point) * self.bed.root_depth_m)

    # ------------------------------------------------------------ what can be done to it

    def lay_cloth(self, shade: float) -> None:
        """Lay a cloth that takes this share of the sun; 0 takes it away."""
        self.cloth = shade

    def pour(self, litres: float) -> None:
        """Water the bed; it reaches the soil in the next step."""
        self._poured_mm += litres * self.bed.watering_efficiency / self.bed.area_m2

    def pass_time(self, moment: Moment) -> None:
        """Live through one step of weather."""
        today = dt.datetime.fromtimestamp((moment.time_ms - 1) / 1000, dt.UTC).date()
        if today != self._date or self._step == 0:
            self._date = today
            self._demand = self._demand_of((today - self._planted).days + 1)
            self._bottom_c = float(self._yearly_wave_c(np.array([COLUMN_M]), today)[0])
        if self._step % STEPS_BETWEEN_PROPERTIES == 0:
            self._column = self._column_now(moment.wind_m_s)
        self._step += 1

        evaporated_mm = self._pass_water(moment)
        shade = 1.0 - (1.0 - self.cloth) * (1.0 - self._demand.canopy)
        surface = heat.surface_of(
            moment.air_c,
            moment.sun_w_m2,
            moment.wind_m_s,
            moment.longwave_loss_w_m2,
            evaporated_mm * LATENT_HEAT_MJ_KG * 1e6 / STEP_S,
            self._albedo,
            shade,
        )
        self._cells_c = heat.step_c(self._column, self._cells_c, surface, self._bottom_c, STEP_S)

    # ------------------------------------------------------------ how it works

    def _yearly_wave_c(self, depth_m: Array, day: dt.date) -> Array:
        """The year's damped wave in uniform ground: where the column starts, and what it meets at its lower end."""
        damping_m = thermal.damping_depth_m(YEARLY_DIFFUSIVITY_M2_S, 365.25 * 86_400.0)
        phase = 2.0 * np.pi * (day.timetuple().tm_yday - self._climate.warmest_day) / 365.25
        wave: Array = np.exp(-depth_m / damping_m) * np.cos(phase - depth_m / damping_m)
        return self._climate.year_mean_c + SOIL_WARMER_K + self._climate.year_swing_k * wave

    def _demand_of(self, day: int) -> _Demand:
        kcb = crop.stage_coefficient(day, STAGES_D, crop.GARLIC_KCB)
        kc = crop.stage_coefficient(day, STAGES_D, crop.GARLIC_KC)
        grown = (kcb - crop.GARLIC_KCB.initial) / (crop.GARLIC_KCB.mid - crop.GARLIC_KCB.initial)
        return _Demand(kcb, crop.mulched_coefficient(kc, kcb, self._cover_share) - kcb, CANOPY_SHADE * grown)

    def _root_shares(self) -> list[float]:
        """Share of the uptake of each layer: falling in a straight line from the surface to the root depth."""
        reach_m = self.bed.root_depth_m
        above = [min(depth_m, reach_m) / reach_m for depth_m in LAYER_ENDS_M]
        return [(2 * lower - lower**2) - (2 * upper - upper**2) for upper, lower in pairwise(above)]

    def _column_now(self, wind_m_s: float) -> heat.Column:
        soil = self._column.depth_m > 0.0
        theta = np.interp(self._column.depth_m[soil], self._middles_m, self._theta)
        conductivity = self._column.conductivity_w_m_k.copy()
        capacity = self._column.capacity_j_m3_k.copy()
        conductivity[soil] = thermal.campbell_conductivity_w_m_k(theta, BULK_DENSITY_KG_M3, self._clay_fraction)
        capacity[soil] = thermal.heat_capacity_j_m3_k(theta, BULK_DENSITY_KG_M3)
        cell = 0
        for material, count in reversed(list(zip(self._materials, self._cover_cells, strict=True))):
            conductivity[cell : cell + count] = cover_conductivity_w_m_k(material, wind_m_s)
            capacity[cell : cell + count] = material.capacity_j_m3_k
            cell += count
        return replace(self._column, conductivity_w_m_k=conductivity, capacity_j_m3_k=capacity)

    def _pass_water(self, moment: Moment) -> float:
        """Let water come and go in one step; answers what evaporated from straw and soil [mm]."""
        from_cover_mm = min(self._caught_mm, moment.eto_mm * (1.0 - self.cloth))
        self._caught_mm -= from_cover_mm
        held_mm = min(moment.rain_mm, INTERCEPTION_MM_M * self._straw_m() - self._caught_mm)
        self._caught_mm += held_mm
        if arriving_mm := moment.rain_mm - held_mm + self._poured_mm:
            self._soak(arriving_mm)
            self._poured_mm = 0.0
        self._drain()
        # what the wet straw gave to the air is energy that the crop no longer has
        demand_mm = (moment.eto_mm - from_cover_mm) * (1.0 - self.cloth)
        self._drink(demand_mm * self._demand.transpiration)
        return from_cover_mm + self._evaporate(demand_mm * self._demand.evaporation)

    def _straw_m(self) -> float:
        return sum(cover.thickness_m for cover in self.bed.covers)

    def _soak(self, arriving_mm: float) -> None:
        """Fill the layers to the brim from the top; what is left runs off the bed."""
        for i, layer_m in enumerate(self._layers_m):
            taken_mm = min(arriving_mm, max(0.0, self._full - self._theta[i]) * layer_m * 1000.0)
            self._theta[i] += taken_mm / (layer_m * 1000.0)
            arriving_mm -= taken_mm
            if arriving_mm <= 0.0:
                return

    def _drain(self) -> None:
        """Let a part of what is above field capacity go one layer down, from the lowest layer upward."""
        share = STEP_S / DRAINAGE_S
        for i in range(len(self._theta) - 1, -1, -1):
            spare = self._theta[i] - self._field_capacity
            if spare > 0.0:
                self._theta[i] -= share * spare
                if i + 1 < len(self._theta):
                    self._theta[i + 1] += share * spare * self._layers_m[i] / self._layers_m[i + 1]

    def _drink(self, transpiration_mm: float) -> None:
        """Roots take their share from each layer, less where it is drier than they like."""
        available = self._field_capacity - self._wilting_point
        for i, share in enumerate(self._roots):
            left = self._theta[i] - self._wilting_point
            ease = min(1.0, max(0.0, left / ((1.0 - water.GARLIC_P_TABLE) * available)))
            taken = min(share * ease * transpiration_mm / (self._layers_m[i] * 1000.0), max(left, 0.0))
            self._theta[i] -= taken

    def _evaporate(self, evaporation_mm: float) -> float:
        """The upper layers dry, to half the wilting point and ever slower; answers how much [mm]."""
        driest = 0.5 * self._wilting_point
        gone_mm = 0.0
        for i, share in enumerate(EVAPORATION_SHARES):
            ease = min(1.0, max(0.0, (self._theta[i] - driest) / (self._field_capacity - driest)))
            taken_mm = share * ease * evaporation_mm
            self._theta[i] -= taken_mm / (self._layers_m[i] * 1000.0)
            gone_mm += taken_mm
        return gone_mm
