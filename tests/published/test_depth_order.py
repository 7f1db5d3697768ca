"""Thermometers swapped on purpose, on measured soil: how many are found, and how often a sound bed is suspected.

Bondville, Illinois, 1998: NOAA, public domain. San Joaquin Experimental Range, California, June 2022: NEON DP1.00041.001, CC0.
"""

from __future__ import annotations

import csv
import datetime as dt
from itertools import combinations, pairwise

import numpy as np
import pytest

from collector.soil.depth_order import swapped
from tests.bench.measured import BONDVILLE, DATA

NEON = DATA / "neon_sjer_ca_2022-06_30min.csv"
DAY_MS, WEEK = 86_400_000, 7
needs_bondville = pytest.mark.skipif(not BONDVILLE.exists(), reason=f"needs {BONDVILLE.name} in the folder of COOLDEPTH_DATA")
needs_neon = pytest.mark.skipif(not NEON.exists(), reason=f"needs {NEON.name} in the folder of COOLDEPTH_DATA")


def table(path, columns, plot=None):
    """Times [ms] and temperatures [°C], a column for each depth."""
    with path.open() as file:
        rows = [row for row in csv.DictReader(file) if plot is None or row["plot"] == plot]
    times = np.array([round(dt.datetime.fromisoformat(row["time_utc"]).timestamp() * 1000) for row in rows], dtype=np.int64)
    return times, np.array([[float(row[name] or "nan") for name in columns] for row in rows])


def told(time_ms, soil_c, order):
    """What is told of each day of a record, its columns in that order, as the beds tell it: two days together."""
    days = []
    for begin_ms in range(int(time_ms[0]) // DAY_MS * DAY_MS + DAY_MS, int(time_ms[-1]) - DAY_MS, DAY_MS):
        here = (time_ms >= begin_ms) & (time_ms < begin_ms + DAY_MS)
        columns = [(time_ms[here][known], soil_c[here, at][known]) for at in order for known in [np.isfinite(soil_c[here, at])]]
        days.append(swapped([times for times, _ in columns], [values for _, values in columns]))
    return [today if today == before else None for before, today in pairwise(days)]


def exchanged(count, first, second):
    order = list(range(count))
    order[first], order[second] = order[second], order[first]
    return order


def within_a_week(days, pair):
    """Of all weeks, the share in which the pair was found on some day."""
    weeks = [any(day == pair for day in days[at : at + WEEK]) for at in range(len(days) - WEEK)]
    return float(np.mean(weeks))


BEDS = [("ts_04cm_c", "ts_16cm_c"), ("ts_08cm_c", "ts_16cm_c", "ts_32cm_c"), ("ts_04cm_c", "ts_08cm_c", "ts_16cm_c", "ts_32cm_c")]


@needs_bondville
@pytest.mark.parametrize("columns", BEDS, ids=len)
def test_no_day_of_a_year_is_a_sound_bed_suspected(columns):
    time_ms, soil_c = table(BONDVILLE, columns)
    days = told(time_ms, soil_c, range(len(columns)))
    assert len(days) > 355
    assert [day for day in days if day is not None] == []


@needs_bondville
@pytest.mark.parametrize("columns", BEDS[:2], ids=len)
def test_two_that_are_swapped_are_found_within_a_week_of_nearly_any_day_of_the_year_and_no_others_named(columns):
    time_ms, soil_c = table(BONDVILLE, columns)
    for pair in combinations(range(len(columns)), 2):
        days = told(time_ms, soil_c, exchanged(len(columns), *pair))
        assert within_a_week(days, pair) >= 0.95
        assert {day for day in days if day is not None} == {pair}


@needs_neon
@pytest.mark.parametrize("plot", ["2", "3", "4"])
def test_in_dry_summer_soil_they_are_found_too_and_none_is_suspected_wrongly(plot):
    columns = ("ts_02cm_c", "ts_06cm_c", "ts_16cm_c", "ts_26cm_c")
    time_ms, soil_c = table(NEON, columns, plot)
    assert set(told(time_ms, soil_c, range(4))) == {None}
    for pair in [(0, 2), (0, 3), (1, 2), (1, 3), (2, 3)]:
        days = told(time_ms, soil_c, exchanged(4, *pair))
        assert within_a_week(days, pair) >= 0.95
        assert {day for day in days if day is not None} == {pair}


def wave(depth_m, time_ms, swing_k=5.0, damping_m=0.10):
    # Carslaw & Jaeger 1959, ch. 2 (from memory): damped by exp(-z / d), delayed by z / d
    phase = 2 * np.pi * time_ms / DAY_MS - depth_m / damping_m
    return 15 + swing_k * np.exp(-depth_m / damping_m) * np.sin(phase)


TIMES = np.arange(0, DAY_MS, 600_000, dtype=np.int64)


@pytest.mark.parametrize(
    ("depths_m", "pair"),
    [
        ((0.05, 0.12, 0.20, 0.30), None),
        ((0.12, 0.05, 0.20, 0.30), (0, 1)),
        ((0.30, 0.12, 0.20, 0.05), (0, 3)),
        ((0.05, 0.12, 0.30, 0.20), (2, 3)),
        ((0.30, 0.20, 0.12, 0.05), None),  # all of them the other way round: which two, nobody can tell
    ],
)
def test_waves_in_even_ground_are_told_apart(depths_m, pair):
    assert swapped([TIMES] * 4, [wave(depth_m, TIMES) for depth_m in depths_m]) == pair


def test_a_day_without_sun_and_half_a_day_tell_nothing():
    calm = [wave(depth_m, TIMES, swing_k=0.3) for depth_m in (0.12, 0.05)]
    assert swapped([TIMES] * 2, calm) is None
    half = TIMES[: TIMES.size // 2]
    assert swapped([half] * 2, [wave(depth_m, half) for depth_m in (0.12, 0.05)]) is None


def test_a_deeper_wave_that_is_larger_and_earlier_is_none_of_a_swap():
    # water running down a crack, or a probe that feels the air: not the other one's place
    odd = [wave(0.05, TIMES), 15 + 6.0 * np.sin(2 * np.pi * TIMES / DAY_MS - 2.5)]
    assert swapped([TIMES] * 2, odd) is None
