"""A call that can be, for each public function of the formulas: for tests that change one thing in it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from collector.soil import (
    covers,
    crop_coefficient,
    diffusivity,
    dual_coefficient,
    heat,
    root_depth,
    root_zone,
    thermal,
    water,
)
from collector.soil import evapotranspiration as et
from collector.soil import radiation as r
from collector.soil.profile import Profile

SURFACE = dual_coefficient.Surface(18.0, 8.0)
STAGES = (30.0, 40.0, 60.0, 30.0)
# A call that can be, for each public function of the formulas.
CAN_BE: dict[Callable[..., Any], dict[str, Any]] = {
    covers.cover_conductivity_w_m_k: {"material": covers.material_of("straw"), "wind_m_s": 2.0},
    thermal.porosity_m3_m3: {"bulk_density_kg_m3": 1300.0},
    thermal.heat_capacity_j_m3_k: {"water_m3_m3": 0.2, "bulk_density_kg_m3": 1300.0, "organic_m3_m3": 0.02},
    thermal.campbell_conductivity_w_m_k: {"water_m3_m3": 0.2, "bulk_density_kg_m3": 1300.0, "clay_fraction": 0.2},
    thermal.johansen_conductivity_w_m_k: {
        "water_m3_m3": 0.2, "bulk_density_kg_m3": 1300.0, "quartz_fraction": 0.4, "coarse": False,
    },
    thermal.damping_depth_m: {"diffusivity_m2_s": 5e-7, "period_s": 86_400.0},
    r.inverse_relative_distance: {"day_of_year": 100.0},
    r.solar_declination_rad: {"day_of_year": 100.0},
    r.sunset_hour_angle_rad: {"latitude_deg": 40.0, "day_of_year": 100.0},
    r.daylight_hours: {"latitude_deg": 40.0, "day_of_year": 100.0},
    r.solar_hour_angle_rad: {"utc_h": 12.0, "longitude_deg": 10.0, "day_of_year": 100.0},
    r.extraterrestrial_mj_m2_d: {"latitude_deg": 40.0, "day_of_year": 100.0},
    r.extraterrestrial_mj_m2_span: {"latitude_deg": 40.0, "day_of_year": 100.0, "hour_angle_rad": 0.3, "span_h": 1.0},
    r.clear_sky_mj_m2: {"extraterrestrial_mj_m2": 30.0, "elevation_m": 100.0},
    r.solar_from_sunshine_mj_m2_d: {"extraterrestrial_mj_m2_d": 30.0, "sunshine_h": 6.0, "daylight_h": 12.0},
    r.solar_from_temperature_mj_m2_d: {"extraterrestrial_mj_m2_d": 30.0, "highest_c": 25.0, "lowest_c": 12.0},
    r.net_shortwave_mj_m2: {"solar_mj_m2": 20.0, "albedo": 0.23},
    r.net_longwave_mj_m2_d: {"highest_c": 25.0, "lowest_c": 12.0, "vapour_kpa": 1.5, "clearness": 0.7},
    r.net_longwave_mj_m2_h: {"air_c": 25.0, "vapour_kpa": 1.5, "clearness": 0.7},
    et.atmospheric_pressure_kpa: {"elevation_m": 100.0},
    et.psychrometric_constant_kpa_k: {"pressure_kpa": 101.0},
    et.saturation_vapour_pressure_kpa: {"air_c": 20.0},
    et.mean_saturation_vapour_pressure_kpa: {"highest_c": 25.0, "lowest_c": 12.0},
    et.saturation_slope_kpa_k: {"air_c": 20.0},
    et.vapour_pressure_by_dew_point_kpa: {"dew_point_c": 10.0},
    et.vapour_pressure_by_wet_bulb_kpa: {"dry_c": 25.0, "wet_c": 18.0, "pressure_kpa": 101.0, "coefficient_per_k": 0.000662},
    et.vapour_pressure_by_humidity_kpa: {"highest_c": 25.0, "lowest_c": 12.0, "highest_pct": 80.0, "lowest_pct": 50.0},
    et.vapour_pressure_by_mean_humidity_kpa: {"highest_c": 25.0, "lowest_c": 12.0, "mean_pct": 60.0},
    et.wind_at_2m_m_s: {"wind_m_s": 3.0, "height_m": 10.0},
    et.penman_monteith_mm_d: {
        "available_mj_m2_d": 14.0, "air_c": 20.0, "wind_2m_m_s": 2.0, "saturation_kpa": 2.3, "vapour_kpa": 1.4, "elevation_m": 9.0
    },
    et.penman_monteith_mm_h: {
        "available_mj_m2_h": 1.5, "air_c": 20.0, "wind_2m_m_s": 2.0, "vapour_kpa": 1.4, "elevation_m": 9.0
    },
    et.soil_heat_mj_m2_h: {"net_radiation_mj_m2_h": 1.0, "daylight": True},
    et.soil_heat_of_month_mj_m2_d: {"month_c": 20.0, "month_before_c": 18.0},
    et.soil_heat_between_months_mj_m2_d: {"month_after_c": 20.0, "month_before_c": 18.0},
    et.hargreaves_mm_d: {"extraterrestrial_mj_m2_d": 30.0, "highest_c": 25.0, "lowest_c": 12.0},
    water.total_available_mm: {"field_capacity_m3_m3": 0.3, "wilting_point_m3_m3": 0.1, "root_depth_m": 0.3},
    water.readily_available_mm: {"taw_mm": 60.0, "p": 0.3},
    water.stress_free_fraction: {"p_table": 0.3, "etc_mm_d": 5.0},
    water.stress_coefficient: {"depletion_mm": 30.0, "taw_mm": 60.0, "p": 0.3},
    water.root_zone_depletion_mm: {
        "moisture": Profile((0.1, 0.3), (0.2, 0.25)), "field_capacity_m3_m3": 0.3, "wilting_point_m3_m3": 0.1, "root_depth_m": 0.3
    },
    water.balance_day: {
        "depletion_mm": 30.0, "taw_mm": 60.0, "p": 0.3, "etc_mm": 5.0, "rain_mm": 0.0, "irrigation_mm": 0.0,
    },
    water.refill_litres: {"depletion_mm": 10.0, "area_m2": 9.0, "efficiency": 0.9},
    water.watering_minutes: {"litres": 90.0, "hose_l_min": 12.0},
    crop_coefficient.stage_coefficient: {"day": 50.0, "lengths_d": STAGES, "coefficients": crop_coefficient.GARLIC_KCB},
    crop_coefficient.mulched_initial_coefficient: {"kc_initial": 0.7, "cover": 0.5},
    crop_coefficient.mulched_coefficient: {"kc": 1.0, "kcb": 0.9, "cover": 0.5},
    dual_coefficient.total_evaporable_mm: {"field_capacity_m3_m3": 0.3, "wilting_point_m3_m3": 0.1, "layer_m": 0.1},
    dual_coefficient.highest_coefficient: {"kcb": 0.9, "wind_2m_m_s": 2.0, "lowest_humidity_pct": 45.0, "height_m": 0.3},
    dual_coefficient.surface_day: {
        "surface": SURFACE, "depletion_mm": 5.0, "kcb": 0.5, "kc_max": 1.2, "eto_mm": 5.0, "gain_mm": 0.0, "wetted": 1.0,
        "bare": 0.8,
    },
    root_depth.root_depth_m: {"day": 50.0, "lengths_d": STAGES, "deepest_m": 0.4, "sprouted_m": 0.15},
    root_zone.pass_step: {
        "zone": root_zone.RootZone(0.3, 0.1, 0.3), "depletion_mm": 10.0, "demand_mm": 0.3, "gain_mm": 0.0, "step_d": 0.04,
        "p": 0.3,
    },
    heat.surface_conductance_w_m2_k: {"air_c": 20.0, "wind_m_s": 2.0},
    heat.surface_gain_w_m2: {
        "sun_w_m2": 300.0, "longwave_loss_w_m2": 60.0, "evaporation_w_m2": 20.0, "albedo": 0.2, "shade": 0.5,
    },
    heat.surface_of: {
        "air_c": 20.0, "sun_w_m2": 300.0, "wind_m_s": 2.0, "longwave_loss_w_m2": 60.0, "evaporation_w_m2": 20.0, "albedo": 0.2,
        "shade": 0.5,
    },
    heat.cells_in_cover: {"cover_m": 0.1},
    diffusivity.arctangent_diffusivity_m2_s: {
        "upper_c": (22.5, 27.2, 21.5, 16.8), "lower_c": (20.9, 25.2, 23.1, 18.8), "spacing_m": 0.05,
    },
    diffusivity.log_diffusivity_m2_s: {
        "upper_c": (22.5, 27.2, 21.5, 16.8), "lower_c": (20.9, 25.2, 23.1, 18.8), "spacing_m": 0.05,
    },
}  # fmt: skip
