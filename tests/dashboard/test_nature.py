"""What a bed is like: the damped daily wave against its table, and the comparison with a loam against its formula."""

from dataclasses import replace

import numpy as np
import pytest

from collector.soil.thermal import campbell_conductivity_w_m_k, damping_depth_m, heat_capacity_j_m3_k
from collector.units import UnitSystem
from dashboard.components.nature import daily_wave, nature
from tests.dashboard.charts import history, with_ahead
from tests.dashboard.test_today import words


# exp(-z/d) and z/(d w) with d = sqrt(2 k / w), worked out by hand for w = 2 pi / 86400 s
@pytest.mark.parametrize(
    ("diffusivity_mm2_s", "depth_m", "share", "lag_h"),
    [(0.20, 0.10, 0.260, 5.15), (0.50, 0.10, 0.426, 3.26), (0.50, 0.20, 0.182, 6.52), (0.80, 0.20, 0.260, 5.15)],
)
def test_the_daily_wave_fades_and_lags_as_in_a_uniform_soil(
    diffusivity_mm2_s: float, depth_m: float, share: float, lag_h: float
) -> None:
    assert daily_wave(diffusivity_mm2_s * 1e-6, depth_m) == (pytest.approx(share, abs=0.001), pytest.approx(lag_h, abs=0.01))
    damping_m = float(damping_depth_m(diffusivity_mm2_s * 1e-6, 86_400.0))
    assert daily_wave(diffusivity_mm2_s * 1e-6, damping_m)[0] == pytest.approx(np.exp(-1))


def test_the_paragraph_tells_lag_swing_and_number() -> None:
    text = words(nature(with_ahead(), UnitSystem.METRIC))

    assert "reaches the cloves, 12 cm down, about 4 hours later and with a third of its swing." in text
    assert "0.52 mm²/s" in text
    assert "4.5 in down" in words(nature(with_ahead(), UnitSystem.US))


def test_the_loam_it_is_compared_with_is_that_of_the_formula() -> None:
    def loam_mm2_s(water_m3_m3: float) -> float:
        conductivity = campbell_conductivity_w_m_k(water_m3_m3, 1300.0, 0.20)
        return float(conductivity / heat_capacity_j_m3_k(water_m3_m3, 1300.0)) * 1e6

    assert round(loam_mm2_s(0.0), 1) == 0.2
    assert round(loam_mm2_s(0.20), 1) == 0.5
    assert loam_mm2_s(0.30) < loam_mm2_s(0.20)


def test_no_number_is_told_where_none_is_known() -> None:
    assert nature(history("due"), UnitSystem.METRIC) == []
    assert nature(with_ahead(changes={"diffusivity_m2_s": None}), UnitSystem.METRIC) == []
    bare = with_ahead()
    assert nature(replace(bare, bed=replace(bare.bed, plantings=())), UnitSystem.METRIC) == []
