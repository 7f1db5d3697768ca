"""A look at probes after mounting, over measured soil: sound ones are not called odd, nor told to be still taking up warmth.

Bondville, Illinois, 1998, hourly: NOAA, public domain (its probes above 16 cm are in phase with each other).
San Joaquin Experimental Range, California, June 2022, half-hourly: NEON DP1.00041.001, CC0.
"""

from __future__ import annotations

import numpy as np
import pytest

from collector.advice.mounted import fastest_k_h
from tests.bench.measured import BONDVILLE
from tests.published.test_depth_order import NEON, needs_bondville, needs_neon, table


def faster(times_ms, values_c, depth_m):
    """Share of hours in which soil moved faster than is taken to be possible."""
    known = np.isfinite(values_c)
    rates_k_h = np.abs(np.diff(values_c[known])) / (np.diff(times_ms[known]) / 3_600_000)
    return np.mean(rates_k_h > fastest_k_h(depth_m))


@needs_bondville
@pytest.mark.parametrize("cm", [4, 8, 16, 32])
def test_hardly_an_hour_of_a_year_is_faster_than_is_taken_to_be_possible(cm):
    times, soil_c = table(BONDVILLE, [f"ts_{cm:02d}cm_c"])
    assert faster(times, soil_c[:, 0], cm / 100) <= 0.003


@needs_neon
@pytest.mark.parametrize("plot", ["2", "3", "4", "5"])
def test_nor_in_june_in_california_under_bare_soil(plot):
    times, soil_c = table(NEON, ["ts_02cm_c", "ts_06cm_c", "ts_16cm_c", "ts_26cm_c"], plot)
    for column, depth_m in zip(soil_c.T, (0.02, 0.06, 0.16, 0.26), strict=True):
        assert faster(times, column, depth_m) <= 0.003
