"""Weather that rust and white rot like: runs, gaps, and sources that part."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from collector.crop import disease
from collector.crop.disease import Fit, rust_weather, white_rot_soil
from tests.collector.crop.made import DAY_MS, HOUR_MS, flat, hours, values


def rust(air_c: list[float], humidity_pct: list[float], count: int | None = None) -> disease.RustWeather:
    count = count or len(air_c)
    return rust_weather(hours(len(air_c)), values(*air_c), values(*humidity_pct), 0, (count - 1) * HOUR_MS)


def test_four_humid_mild_hours_in_a_row_are_rust_weather() -> None:
    found = rust([16.0] * 5, [98.0] * 5)
    assert found.fit is Fit.YES
    assert (found.infections, found.longest_run_h, found.best_h) == (1, 4.0, 4.0)
    # made after four hours, to be seen nine days later
    assert found.shows_ms == (4 * HOUR_MS + 9 * DAY_MS,)


def test_three_hours_are_too_few() -> None:
    found = rust([16.0] * 4, [98.0] * 4)
    assert found.fit is Fit.NO
    assert (found.infections, found.longest_run_h, found.shows_ms) == (0, 3.0, ())


def test_two_runs_broken_by_a_dry_hour_are_not_one() -> None:
    found = rust([16.0] * 7, [98.0, 98.0, 98.0, 80.0, 98.0, 98.0, 98.0])
    assert found.infections == 0
    assert found.longest_run_h == 2.0


def test_each_run_that_is_long_enough_is_told() -> None:
    humid = [98.0] * 5
    assert rust([16.0] * 11, [*humid, 60.0, *humid]).infections == 2


@pytest.mark.parametrize(("air_c", "fit"), [(4.0, Fit.NO), (5.0, Fit.YES), (25.0, Fit.YES), (26.0, Fit.PERHAPS)])
def test_the_range_of_infection_has_its_printed_edges(air_c: float, fit: Fit) -> None:
    assert rust([air_c] * 6, [99.0] * 6).fit is fit  # above 15 °C the field advice, which knows no upper end, speaks too


def test_the_field_advice_alone_is_a_perhaps_and_its_run_is_told() -> None:
    found = rust([18.0] * 8, [75.0] * 8)
    assert found.fit is Fit.PERHAPS
    assert (found.field_run_h, found.longest_run_h) == (7.0, 0.0)


def test_a_gap_that_could_hide_an_infection_is_not_taken_for_safe() -> None:
    dry_then_gap = rust([16.0, 16.0], [60.0, 60.0], count=10)
    assert dry_then_gap.fit is Fit.NOT_KNOWN
    assert dry_then_gap.gap_h == 8.0


def test_a_gap_too_short_to_hide_one_is_no_doubt() -> None:
    assert rust([10.0, 10.0, 10.0], [60.0, 60.0, 60.0], count=6).fit is Fit.NO


def test_a_gap_beside_a_run_could_make_it_long_enough() -> None:
    assert rust([10.0, 10.0, 10.0], [60.0, 98.0, 98.0], count=6).fit is Fit.NOT_KNOWN


def test_humidity_that_is_not_known_is_a_gap() -> None:
    found = rust([16.0] * 10, [math.nan] * 10)
    assert found.fit is Fit.NOT_KNOWN
    assert found.gap_h == 9.0


def test_no_readings_at_all_are_not_known() -> None:
    nothing = np.empty(0)
    found = rust_weather(np.empty(0, dtype=np.int64), nothing, nothing, 0, DAY_MS)
    assert (found.fit, found.gap_h) == (Fit.NOT_KNOWN, 24.0)


def test_a_grower_with_a_probe_that_reads_low_may_lower_the_humidity() -> None:
    own = replace(disease.RUST, humid_pct=disease.RUST.humid_pct.by_grower(94.0))
    found = rust_weather(hours(6), flat(16.0, 6), flat(95.0, 6), 0, 5 * HOUR_MS, own)
    assert found.fit is Fit.YES


def test_readings_of_unequal_number_are_refused() -> None:
    with pytest.raises(ValueError, match="6 readings of the one and 5 of the other"):
        rust_weather(hours(6), flat(16.0, 6), flat(95.0, 5), 0, 5 * HOUR_MS)


# ---------------------------------------------------------------- white rot


@pytest.mark.parametrize(
    ("soil_c", "fit"),
    [
        (5.0, Fit.NO),
        (8.0, Fit.PERHAPS),  # by Crowe & Hall, not by UC IPM
        (10.0, Fit.YES),
        (17.0, Fit.YES),
        (24.0, Fit.YES),
        (25.0, Fit.PERHAPS),  # too warm by Crowe & Hall and a handbook, not yet by UC IPM
        (26.0, Fit.NO),
    ],
)
def test_soil_fits_white_rot_between_its_printed_edges(soil_c: float, fit: Fit) -> None:
    assert white_rot_soil(hours(25), flat(soil_c, 25), 0, DAY_MS).fit is fit


def test_hours_in_each_range_are_told() -> None:
    # rising from 5 to 29 °C in a day: 18 h from 6 to 24, 2.7 h in the best, 3.4 h above 25.6
    found = white_rot_soil(hours(25), 5.0 + np.arange(25, dtype=np.float64), 0, DAY_MS)
    assert found.infects_h == pytest.approx(18.0)
    assert found.best_h == pytest.approx(2.7)
    assert found.stopped_h == pytest.approx(3.4)
    assert found.mean_c == pytest.approx(17.0)


def test_less_than_half_of_the_time_known_is_not_known() -> None:
    assert white_rot_soil(hours(10), flat(17.0, 10), 0, DAY_MS).fit is Fit.NOT_KNOWN
    nothing = white_rot_soil(hours(2), flat(math.nan, 2), 0, DAY_MS)
    assert nothing.fit is Fit.NOT_KNOWN
    assert math.isnan(nothing.mean_c)
