"""Curves of thermistors, platinum and permittivity against values that others printed or measured."""

import numpy as np
import pytest

from collector.calibration import beta_c, platinum_c, steinhart_hart_c, topp_m3_m3

# IEC 60751, Pt100, table of resistances (second-hand, as public test suites quote it): °C and Ω to four decimals.
PT100 = [(-100.0, 60.2558), (-20.0, 92.1599), (0.0, 100.0), (100.0, 138.5055), (200.0, 175.8560)]


@pytest.mark.parametrize(("celsius", "ohm"), PT100)
def test_platinum_is_that_of_iec_60751(celsius, ohm):
    # half the last digit printed is 0.00005 Ω, some 0.00013 K
    assert platinum_c(np.array(ohm)) == pytest.approx(celsius, abs=0.00015)


def test_platinum_of_another_resistance_is_the_same_by_share():
    sent = np.array([ohm for _, ohm in PT100]) * 10
    assert platinum_c(sent, 1000.0) == pytest.approx([celsius for celsius, _ in PT100], abs=0.00015)


def test_platinum_joins_at_zero_and_ends_where_the_standard_does():
    # IEC 60751: -200 to 850 °C, 18.52 to 390.48 Ω (from memory)
    assert platinum_c(np.array([99.9999, 100.0, 100.0001])) == pytest.approx([0.0, 0.0, 0.0], abs=0.0003)
    assert platinum_c(np.array([18.53, 390.4])) == pytest.approx([-200.0, 850.0], abs=0.4)
    assert np.isnan(platinum_c(np.array([10.0, 400.0, -5.0, np.nan]))).all()


# The constants of a common 10 kΩ thermistor, and the temperatures that its calculators print (from memory).
A, B, C = 1.129148e-3, 2.34125e-4, 8.76741e-8


@pytest.mark.parametrize(("ohm", "celsius"), [(32650.0, 0.0), (10000.0, 25.0), (5000.0, 41.572)])
def test_a_thermistor_by_steinhart_and_hart(ohm, celsius):
    assert steinhart_hart_c(np.array(ohm), A, B, C) == pytest.approx(celsius, abs=0.003)


# R = R25 exp(B (1/T - 1/298.15)) for 10 kΩ and 3950 K, worked out by hand of the equation; Ω to a tenth.
BETA = [(-10, 58245.7), (0, 33620.6), (5, 25924.6), (10, 20174.6), (20, 12535.3), (25, 10000.0), (40, 5301.5), (50, 3588.2)]


@pytest.mark.parametrize(("celsius", "ohm"), BETA)
def test_a_thermistor_by_its_beta(celsius, ohm):
    assert beta_c(np.array(ohm), 3950.0, 10_000.0) == pytest.approx(celsius, abs=0.0005)


def test_a_resistance_that_is_none_is_no_temperature():
    for curve in (lambda r: steinhart_hart_c(r, A, B, C), lambda r: beta_c(r, 3950.0, 10_000.0)):
        assert np.isnan(curve(np.array([0.0, -1.0, np.nan, np.inf]))[[0, 1, 2]]).all()


# Topp, Davis, Annan 1980, eq. 7, worked out by hand of its coefficients; m³/m³ to four decimals.
TOPP = [(3, 0.0298), (5, 0.0798), (8, 0.1476), (10, 0.1883), (15, 0.2758), (20, 0.3454), (25, 0.4004), (30, 0.4441), (40, 0.5102)]


@pytest.mark.parametrize(("permittivity", "water"), TOPP)
def test_water_by_permittivity(permittivity, water):
    assert topp_m3_m3(np.array(float(permittivity))) == pytest.approx(water, abs=0.00006)


def test_topps_own_inverse_is_near():
    # Topp et al. 1980, eq. 8 (from memory): permittivity by water; the two are fitted apart, and not exact inverses.
    water = np.array([0.1, 0.2, 0.3, 0.4])
    permittivity = 3.03 + 9.3 * water + 146 * water**2 - 76.7 * water**3
    assert topp_m3_m3(permittivity) == pytest.approx([0.0880, 0.1906, 0.3040, 0.4024], abs=0.0001)
    assert np.abs(topp_m3_m3(permittivity) - water).max() < 0.013  # what the paper states as its accuracy


def test_no_soil_conducts_less_than_nothing():
    assert np.isnan(topp_m3_m3(np.array([0.9, 0.0, -3.0, np.nan]))).all()
