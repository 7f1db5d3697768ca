"""Time in the cold that ends the cloves' rest, and soil cool enough to plant."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pytest

from collector.crop import chilling, planting
from collector.crop.chilling import Chill, StockRisk, chill, chill_stand, stock_risk, stored_chill
from tests.collector.crop.made import DAY_MS, HOUR_MS, flat, hours, values

DAY_S = 86_400.0


def test_sixty_days_at_five_degrees_are_sixty_days_of_chill() -> None:
    assert stored_chill(60.0, 5.0) == Chill(60 * DAY_S, 0.0)


@pytest.mark.parametrize(("at_c", "counts"), [(-0.1, False), (0.0, True), (10.0, True), (10.1, False)])
def test_both_edges_of_the_band_count_and_nothing_beyond(at_c: float, counts: bool) -> None:
    assert stored_chill(1.0, at_c).in_band_s == (DAY_S if counts else 0.0)


def test_a_store_of_unknown_temperature_is_a_gap_and_no_chill() -> None:
    assert stored_chill(60.0, None) == Chill(0.0, 60 * DAY_S)


def test_soil_that_swings_about_the_edge_counts_for_the_time_below_it() -> None:
    # 10 ± 4 °C once a day: half of each day is in the band
    times = hours(24 * 10 + 1)
    soil_c = 10.0 + 4.0 * np.sin(2.0 * np.pi * times / DAY_MS)
    found = chill(times, soil_c, 0, 10 * DAY_MS)
    assert found.in_band_s == pytest.approx(5 * DAY_S, rel=1e-6)
    assert found.gap_s == 0.0


def test_readings_may_come_when_they_come() -> None:
    times = np.array([0, 10, 11, 95, 180, 240], dtype=np.int64) * 60_000
    assert chill(times, values(5.0, 5.0, 5.0, 15.0, 15.0, 5.0), 0, 240 * 60_000).in_band_s == pytest.approx(
        11 * 60 + 42 * 60 + 30 * 60
    )


def test_a_gap_counts_for_nothing_and_is_told() -> None:
    times = np.concatenate((hours(25), hours(25, 3 * DAY_MS)))
    found = chill(times, flat(5.0, 50), 0, 5 * DAY_MS)
    assert found == Chill(2 * DAY_S, 3 * DAY_S)


def test_a_narrower_band_of_the_growers_counts_less() -> None:
    own = replace(chilling.USUAL, warm_c=chilling.USUAL.warm_c.by_grower(7.0))
    assert stored_chill(10.0, 8.0, own).in_band_s == 0.0
    assert stored_chill(10.0, 8.0).in_band_s == 10 * DAY_S


def test_store_and_soil_add_up_and_what_is_wanting_remains() -> None:
    stand = chill_stand([stored_chill(40.0, 5.0), Chill(6 * DAY_S, 2 * DAY_S)], "hardneck")
    assert stand.gathered_s == 46 * DAY_S
    assert stand.remaining_s == (56 - 46) * DAY_S
    assert stand.gap_s == 2 * DAY_S


def test_a_softneck_wants_less_and_more_than_enough_leaves_nothing_wanting() -> None:
    assert chill_stand([stored_chill(40.0, 5.0)], "softneck").remaining_s == 0.0
    assert chill_stand([], "softneck").remaining_s == 28 * DAY_S


def test_a_kind_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="kind is 'shallot'; want hardneck or softneck"):
        chill_stand([], "shallot")


@pytest.mark.parametrize(
    ("at_c", "risk"), [(4.0, StockRisk.TOO_COLD), (5.0, StockRisk.NONE), (18.0, StockRisk.NONE), (22.0, StockRisk.TOO_WARM)]
)
def test_the_handbooks_limits_for_planting_stock_are_told(at_c: float, risk: StockRisk) -> None:
    assert stock_risk(at_c) is risk


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match=r"days is -1.0; want 0 to 1000 \[d\]"):
        stored_chill(-1.0, 5.0)
    with pytest.raises(ValueError, match=r"at_c is 500.0; want -50 to 60 \[°C\]"):
        stored_chill(1.0, 500.0)
    with pytest.raises(ValueError, match="want an end after the beginning"):
        chill(hours(2), flat(5.0, 2), HOUR_MS, 0)


FIRST = dt.date(2026, 10, 1)


def test_soil_is_cool_enough_on_the_first_of_three_cool_days_in_a_row() -> None:
    assert planting.first_cool_day(FIRST, [12.0, 9.0, 12.0, 10.0, 9.0, 8.0, 13.0]) == dt.date(2026, 10, 4)


def test_a_day_that_is_not_known_is_not_taken_for_cool() -> None:
    assert planting.first_cool_day(FIRST, [9.0, 9.0, math.nan, 9.0, 9.0]) is None
    assert planting.first_cool_day(FIRST, []) is None


def test_the_grower_may_plant_into_warmer_soil() -> None:
    own = replace(planting.USUAL, soil_c=planting.USUAL.soil_c.by_grower(18.0), run_d=planting.USUAL.run_d.by_grower(1.0))
    assert planting.first_cool_day(FIRST, [19.0, 18.0], own) == dt.date(2026, 10, 2)
    with pytest.raises(ValueError, match=r"run_d is 0.0; want 1 to 366 \[d\]"):
        planting.first_cool_day(FIRST, [9.0], replace(own, run_d=own.run_d.by_grower(0.0)))
