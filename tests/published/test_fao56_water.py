"""Root-zone water against the worked examples of Allen et al. 1998, FAO-56, at printed precision."""

from __future__ import annotations

import pytest

from collector.soil import crop_coefficient as crop
from collector.soil import water
from collector.soil.profile import profile_of
from collector.soil.textures import TEXTURES

LOAMY_SAND, SILT, SILTY_CLAY = (0.15, 0.06), (0.32, 0.15), (0.35, 0.23)
ONION, TOMATO, MAIZE = (0.4, 0.30), (0.8, 0.40), (1.2, 0.55)


# Example 36, p. 166: field capacity and wilting point of three soils; root depth and p of three crops; TAW and RAW in mm
@pytest.mark.parametrize(
    ("crop_rows", "soil", "taw_mm", "raw_mm"),
    [
        (ONION, LOAMY_SAND, 36, 11), (ONION, SILT, 68, 20), (ONION, SILTY_CLAY, 48, 14),
        (TOMATO, LOAMY_SAND, 72, 29), (TOMATO, SILT, 136, 54), (TOMATO, SILTY_CLAY, 96, 38),
        (MAIZE, LOAMY_SAND, 108, 59), (MAIZE, SILT, 204, 112), (MAIZE, SILTY_CLAY, 144, 79),
    ],
)  # fmt: skip
def test_example_36_available_water(
    crop_rows: tuple[float, float], soil: tuple[float, float], taw_mm: float, raw_mm: float
) -> None:
    root_depth_m, p = crop_rows
    taw = water.total_available_mm(*soil, root_depth_m)
    assert taw == pytest.approx(taw_mm, abs=0.5)
    assert water.readily_available_mm(taw, p) == pytest.approx(raw_mm, abs=0.5)


# Example 37, p. 168: tomato in silt, Zr 0.8 m, p 0.40, FC 0.32, WP 0.12; depletion 55 mm at the start; ETo 5, Kc 1.2, no water
def test_example_37_ten_days_without_water() -> None:
    taw_mm = water.total_available_mm(0.32, 0.12, 0.8)
    assert taw_mm == pytest.approx(160, abs=0.5)
    assert water.readily_available_mm(taw_mm, 0.40) == pytest.approx(64, abs=0.5)
    depletion = [61.0, 67.0, 72.8, 78.3, 83.4, 88.2, 92.6, 96.9, 100.8, 104.5]
    stress = [1.0, 1.0, 0.97, 0.91, 0.85, 0.80, 0.75, 0.70, 0.66, 0.62]
    drunk = [6.0, 6.0, 5.8, 5.4, 5.1, 4.8, 4.5, 4.2, 3.9, 3.7]
    state_mm = 55.0
    for printed_depletion, printed_stress, printed_drunk in zip(depletion, stress, drunk, strict=True):
        day = water.balance_day(state_mm, taw_mm, 0.40, etc_mm=6.0, rain_mm=0.0, irrigation_mm=0.0)
        state_mm = day.depletion_mm
        # the page carries rounded numbers from day to day, which adds up to another 0.05 at most
        assert state_mm == pytest.approx(printed_depletion, abs=0.1)
        assert day.stress == pytest.approx(printed_stress, abs=0.005)
        assert day.evapotranspiration_mm == pytest.approx(printed_drunk, abs=0.05)
        assert day.percolation_mm == 0.0
    assert state_mm == pytest.approx(104.505, abs=0.001)  # the same in full precision, computed from eq. 84 and 85


# Example 38, pp. 172-173, as corrected in 2006: FC 0.23, WP 0.10, p 0.6; roots grow from 0.30 to 0.35 m; whole mm printed
def test_example_38_ten_days_with_two_irrigations() -> None:
    etc = [5.5, 6.1, 4.0, 2.9, 2.5, 2.7, 4.7, 2.8, 2.2, 6.3]
    irrigation = [40, 0, 0, 0, 0, 0, 0, 0, 0, 27]
    rain = [0, 0, 0, 0, 0, 6, 0, 0, 0, 0]
    printed = [5, 12, 16, 18, 21, 18, 22, 25, 27, 6]
    state_mm = 0.6 * water.total_available_mm(0.23, 0.10, 0.30)  # irrigated at the refill point
    for i in range(10):
        taw_mm = water.total_available_mm(0.23, 0.10, 0.30 + 0.05 * i / 9)
        day = water.balance_day(state_mm, taw_mm, 0.6, etc[i], rain[i], irrigation[i])
        state_mm = day.depletion_mm
        # half a millimetre printed, and 0.05 mm for each rounded ETc summed so far; on day 10 the irrigation is rounded too
        assert state_mm == pytest.approx(printed[i], abs=0.5 + 0.05 * (i + 1) + (0.5 if i == 9 else 0.0))
        if i == 0:
            assert day.percolation_mm == pytest.approx(17, abs=0.5)
        elif i < 9:
            assert day.percolation_mm == 0.0
        assert day.stress == 1.0


# Example 30, p. 141: stages of 25, 25, 30 and 20 days, Kcb 0.15, 1.14 and 0.25
@pytest.mark.parametrize(("day", "kcb"), [(12, 0.15), (37, 0.63), (65, 1.14), (90, 0.70)])
def test_example_30_basal_coefficient_through_the_season(day: float, kcb: float) -> None:
    coefficients = crop.StageCoefficients(0.15, 1.14, 0.25)
    assert crop.stage_coefficient(day, (25, 25, 30, 20), coefficients) == pytest.approx(kcb, abs=0.0050001)


# Table 22, p. 163: p of garlic 0.30, for 5 mm/d; at other demands computed from its note,
# 0.04 (5 - ETc), kept within 0.1 and 0.8
@pytest.mark.parametrize(
    ("etc_mm_d", "p"),
    [(1, 0.46), (2, 0.42), (3, 0.38), (4, 0.34), (5, 0.30), (6, 0.26), (7, 0.22), (8, 0.18), (10, 0.10), (12, 0.10)],
)
def test_p_of_garlic_at_the_days_demand(etc_mm_d: float, p: float) -> None:
    assert water.stress_free_fraction(water.GARLIC_P_TABLE, etc_mm_d) == pytest.approx(p, abs=1e-9)
    assert water.stress_free_fraction(0.75, 1.0) == 0.8


# Garlic, p 0.30, with the middle of Table 19, p. 144: TAW and RAW in mm, computed from eq. 82 and 83
@pytest.mark.parametrize(
    ("soil", "root_depth_m", "taw_mm", "raw_mm"),
    [
        ("sandy loam", 0.3, 36, 10.8), ("sandy loam", 0.4, 48, 14.4), ("sandy loam", 0.5, 60, 18.0),
        ("loam", 0.3, 39, 11.7), ("loam", 0.4, 52, 15.6), ("loam", 0.5, 65, 19.5),
        ("clay", 0.3, 42, 12.6), ("clay", 0.4, 56, 16.8), ("clay", 0.5, 70, 21.0),
    ],
)  # fmt: skip
def test_available_water_of_garlic_in_soils_of_table_19(soil: str, root_depth_m: float, taw_mm: float, raw_mm: float) -> None:
    texture = TEXTURES[soil]
    taw = water.total_available_mm(texture.field_capacity_mid, texture.wilting_point_mid, root_depth_m)
    assert taw == pytest.approx(taw_mm, abs=1e-6)
    assert water.readily_available_mm(taw, water.GARLIC_P_TABLE) == pytest.approx(raw_mm, abs=1e-6)


# Table 19, p. 144 prints the width FC - WP as a range of its own; FC and WP in the middle of theirs must lie in it.
# The table's own silt is 0.01 off: 0.28-0.36 less 0.12-0.22, and 0.16-0.20 between them.
@pytest.mark.parametrize(
    ("soil", "low", "high"),
    [
        ("sand", 0.05, 0.11), ("loamy sand", 0.06, 0.12), ("sandy loam", 0.11, 0.15), ("loam", 0.13, 0.18),
        ("silt loam", 0.13, 0.19), ("silt", 0.16, 0.20), ("silt clay loam", 0.13, 0.18), ("silty clay", 0.13, 0.19),
        ("clay", 0.12, 0.20),
    ],
)  # fmt: skip
def test_the_middles_of_table_19_agree_with_its_column_of_available_water(soil: str, low: float, high: float) -> None:
    texture = TEXTURES[soil]
    assert low - 0.0101 <= texture.field_capacity_mid - texture.wilting_point_mid <= high
    assert texture.field_capacity_m3_m3[0] < texture.field_capacity_mid < texture.field_capacity_m3_m3[1]
    assert texture.wilting_point_m3_m3[0] < texture.wilting_point_mid < texture.wilting_point_m3_m3[1]


# Chapter 10, pp. 195-198, garlic of Tables 12 and 17: computed from the rule of 5 % less evaporation for each 10 % covered
@pytest.mark.parametrize(
    ("cover", "initial", "mid", "end"),
    [(0.0, 0.70, 1.00, 0.70), (0.5, 0.525, 0.975, 0.675), (0.8, 0.42, 0.96, 0.66), (1.0, 0.35, 0.95, 0.65)],
)
def test_organic_mulch_lowers_the_crop_coefficient(cover: float, initial: float, mid: float, end: float) -> None:
    kc, kcb = crop.GARLIC_KC, crop.GARLIC_KCB
    assert crop.mulched_initial_coefficient(kc.initial, cover) == pytest.approx(initial)
    assert crop.mulched_coefficient(kc.mid, kcb.mid, cover) == pytest.approx(mid)
    assert crop.mulched_coefficient(kc.end, kcb.end, cover) == pytest.approx(end)


# eq. 87, p. 171: Dr = 1000 (FC - theta) Zr
def test_depletion_by_one_probe_is_equation_87() -> None:
    moisture = profile_of([(0.15, 0.20)])
    assert moisture is not None
    assert water.root_zone_depletion_mm(moisture, 0.25, 0.12, 0.30) == pytest.approx(15.0)
