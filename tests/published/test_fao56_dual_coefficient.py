"""The dual crop coefficient against the worked example of Allen et al. 1998, FAO-56, at printed precision."""

from __future__ import annotations

import numpy as np
import pytest

from collector.soil import crop_coefficient as crop
from collector.soil import dual_coefficient as dual
from collector.soil.textures import TEXTURES

# Example 35, ch. 7: sandy loam of Table 19, TEW 18 mm and REW 8 mm, Kc max 1.21, the surface dry on day 1 (18 mm), then a
# watering that wets 0.8 of it with 50 mm, and 6 mm of rain on day 6. Read second-hand; the
# printed page was not seen. In it nothing is brought on day 10. The errata of February 2006 changed this example; the
# crop evapotranspiration that the corrected Example 38 (p. 173) takes from it differs on days 3 and 5 to 10, and what
# inputs they belong to could not be found out.
EXAMPLE_35 = [  # day, ETo, gain, 1 - fc, fw, Kcb, Kr, Ke, De at the end, ETc
    (1, 4.5, 50.0, 0.92, 0.8, 0.30, 1.00, 0.91, 5, 5.5),
    (2, 5.0, 0.0, 0.91, 0.8, 0.31, 1.00, 0.90, 11, 6.1),
    (3, 3.9, 0.0, 0.91, 0.8, 0.32, 0.72, 0.64, 14, 3.8),
    (4, 4.2, 0.0, 0.90, 0.8, 0.33, 0.41, 0.36, 16, 2.9),
    (5, 4.8, 0.0, 0.89, 0.8, 0.34, 0.22, 0.19, 17, 2.6),
    (6, 2.7, 6.0, 0.89, 1.0, 0.36, 0.71, 0.60, 13, 2.6),
    (7, 5.8, 0.0, 0.88, 1.0, 0.37, 0.52, 0.44, 16, 4.7),
    (8, 5.1, 0.0, 0.87, 1.0, 0.38, 0.23, 0.19, 17, 2.9),
    (9, 4.7, 0.0, 0.87, 1.0, 0.39, 0.12, 0.10, 17, 2.3),
    (10, 5.2, 0.0, 0.86, 1.0, 0.40, 0.07, 0.05, 18, 2.4),
]


def test_example_35_a_surface_dries_in_two_stages() -> None:
    surface, depletion_mm = dual.Surface(18.0, 8.0), 18.0
    for day, eto_mm, gain_mm, bare, wetted, kcb, reduction, coefficient, end_mm, etc_mm in EXAMPLE_35:
        one = dual.surface_day(surface, depletion_mm, kcb, 1.21, eto_mm, gain_mm, wetted, bare)
        depletion_mm = one.depletion_mm
        # the example rounds between its columns: one unit of the last printed digit, and half of it where that is plenty
        assert one.reduction == pytest.approx(reduction, abs=0.0100001), day
        assert one.evaporation_coefficient == pytest.approx(coefficient, abs=0.0100001), day
        assert one.depletion_mm == pytest.approx(end_mm, abs=0.5), day
        assert kcb * eto_mm + one.evaporation_mm == pytest.approx(etc_mm, abs=0.06), day


def test_example_35_the_most_that_is_used() -> None:
    # eq. 72 with wind 1.6 m/s, lowest humidity 35 %, height 0.3 m: printed 1.21
    assert dual.highest_coefficient(0.35, 1.6, 35.0, 0.3) == pytest.approx(1.21, abs=0.005)
    assert dual.highest_coefficient(1.30, 1.6, 35.0, 0.3) == pytest.approx(1.35)


# Table 19, p. 144: the last column of a layer 0.10 m deep; with the middles of FC and WP eq. 73 must come within it.
# Its own row of silty clay loam is 1 mm off at the upper end by this reckoning, as the ranges are rounded.
@pytest.mark.parametrize("name", sorted(TEXTURES))
def test_evaporable_water_of_table_19(name: str) -> None:
    soil = TEXTURES[name]
    low, high = soil.total_evaporable_mm
    assert low - 1.0 <= dual.total_evaporable_mm(soil.field_capacity_mid, soil.wilting_point_mid) <= high + 1.0


def test_organic_mulch_halves_what_a_covered_surface_evaporates() -> None:
    # pp. 195-198: 5 % less for each 10 % covered
    for cover, left in ((0.0, 1.0), (0.5, 0.75), (1.0, 0.5)):
        one = dual.surface_day(dual.Surface(18.0, 8.0, cover), 0.0, 0.15, 1.2, 5.0, 0.0, 1.0, 1.0)
        assert one.evaporation_coefficient == pytest.approx(1.05 * left)


def test_a_surface_never_evaporates_more_than_it_holds() -> None:
    one = dual.surface_day(dual.Surface(18.0, 8.0), 17.5, 0.15, 1.2, 400.0, 0.0, 1.0, 1.0)
    assert one.evaporation_mm <= 0.5
    assert one.depletion_mm <= 18.0


def test_surfaces_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="want 0 <= REW < TEW"):
        dual.Surface(8.0, 8.0)
    with pytest.raises(ValueError, match=r"cover is 1\.5"):
        dual.Surface(18.0, 8.0, 1.5)
    with pytest.raises(ValueError, match=r"wetted is 0\.0, bare is 0\.9"):
        dual.surface_day(dual.Surface(18.0, 8.0), 5.0, 0.15, 1.2, 5.0, 0.0, 0.0, 0.9)


def test_the_stages_of_garlic_by_heat() -> None:
    # Pereira et al. 2025, FAO-56 Rev.1, Tables 6.10 and 6.11 (second-hand): sums 1140 and 1750 K d, base 4 °C, upper 30 °C
    assert sum(crop.GARLIC_SHORT_K_D) == 1140.0
    assert sum(crop.GARLIC_LONG_K_D) == 1750.0
    sums = crop.heat_sum_k_d(np.array([20.0, 35.0, np.nan, 2.0, 14.0]), np.array([10.0, 24.0, 5.0, -3.0, 0.0]))
    assert sums == pytest.approx([11.0, 34.0, 34.0, 34.0, 39.0])
    assert crop.stage_coefficient(150 + 170, crop.GARLIC_SHORT_K_D, crop.GARLIC_KC) == pytest.approx(0.85)
    with pytest.raises(ValueError, match="want base < upper"):
        crop.heat_sum_k_d(np.array([20.0]), np.array([10.0]), base_c=30.0)
