"""Dose arithmetic against published worked examples, in the units that they are printed in."""

from __future__ import annotations

import pytest

from collector.crop import feed_plan
from collector.crop.feeding import K_OF_K2O, P_OF_P2O5, Label, Ratio, concentrate_g_l, product_g, product_g_l, product_ml

GRAM_PER_OUNCE = 28.349523125  # avoirdupois, by definition
LITRE_PER_US_GALLON = 3.785411784  # by definition
G_M2_PER_LB_ACRE = 453.59237 / 4046.8564224  # international pound and acre, by definition


def ounces_per_gallon(g_l: float) -> float:
    return g_l * LITRE_PER_US_GALLON / GRAM_PER_OUNCE


# A grower supply's newsletter (weak, but worked through): a 15-5-15 through an injector of 1:100, ounces in each US gallon of
# concentrate for the parts per million of nitrogen. The ounces fit 100 parts to 1 % and are printed rounded to a quarter.
@pytest.mark.parametrize(("n_mg_l", "printed_oz_gal"), [(50.0, 4.5), (100.0, 9.0), (200.0, 18.0), (225.0, 20.25)])
@pytest.mark.parametrize("ratio", list(Ratio))
def test_ounces_in_a_gallon_of_concentrate_agree_with_a_published_table(
    n_mg_l: float, printed_oz_gal: float, ratio: Ratio
) -> None:
    found = ounces_per_gallon(concentrate_g_l(n_mg_l, Label(15.0, 5.0, 15.0), 100.0, ratio))
    assert found == pytest.approx(printed_oz_gal, rel=0.013)


# The same: five gallons at 200 ppm are 90 oz
def test_a_five_gallon_bucket_agrees_with_the_published_ounces() -> None:
    g_l = concentrate_g_l(200.0, Label(15.0, 5.0, 15.0), 100.0, Ratio.PART_TO_WATER)
    assert 5.0 * ounces_per_gallon(g_l) == pytest.approx(90.0, abs=0.5)


# University of Georgia Extension B1237, Fertilizer injectors: 1:100 is 1 part of stock and 99 of water, 1 %
def test_one_to_a_hundred_in_extensions_reading_is_one_percent_of_the_mix() -> None:
    assert Ratio.PART_IN_MIX.mix_parts(100.0) == 100.0
    assert Ratio.PART_TO_WATER.mix_parts(100.0) == 101.0


def test_the_two_readings_of_one_to_sixteen_part_by_six_and_a_quarter_percent() -> None:
    assert Ratio.PART_TO_WATER.mix_parts(16.0) / Ratio.PART_IN_MIX.mix_parts(16.0) - 1.0 == pytest.approx(0.0625)


# The usual factors of fertilizer tables (from memory: 0.4364, and 0.8301 or 0.8302)
def test_the_oxides_of_the_label_hold_the_usual_share_of_the_element() -> None:
    assert 0.43635 < P_OF_P2O5 < 0.43645
    assert 0.8301 < K_OF_K2O < 0.8302
    label = Label(10.0, 10.0, 10.0)
    assert label.p_pct == pytest.approx(4.364, abs=0.0005)
    assert label.k_pct == pytest.approx(8.3015, abs=0.0005)


# The common rule: grams per litre = ppm / (10 times the percentage)
def test_grams_per_litre_follow_the_common_rule() -> None:
    assert product_g_l(150.0, Label(20.0)) == pytest.approx(0.75)
    assert concentrate_g_l(150.0, Label(20.0), 16.0, Ratio.PART_IN_MIX) == pytest.approx(12.0)
    assert concentrate_g_l(150.0, Label(20.0), 100.0, Ratio.PART_IN_MIX) == pytest.approx(75.0)


# Worked by hand: 3 m² with 2 g N/m² of a liquid of 9 % and 1.2 kg/L
def test_a_liquid_is_told_by_mass_and_by_volume() -> None:
    liquid = Label(9.0, density_kg_l=1.2)
    assert product_g(3.0 * 2.0, liquid) == pytest.approx(66.7, abs=0.05)
    assert product_ml(3.0 * 2.0, liquid) == pytest.approx(55.6, abs=0.05)


# Cornell Cooperative Extension ENYCHP 2018: at most 50 lb/acre in spring; season of 75 to 125 lb/acre from memory
def test_the_limits_are_the_printed_pounds_per_acre() -> None:
    limits = feed_plan.USUAL
    assert limits.spring_most_g_m2.value == pytest.approx(50.0 * G_M2_PER_LB_ACRE, abs=0.05)
    assert limits.season_least_g_m2.value == pytest.approx(75.0 * G_M2_PER_LB_ACRE, abs=0.05)
    assert limits.season_most_g_m2.value == pytest.approx(125.0 * G_M2_PER_LB_ACRE, abs=0.05)
