"""The checks of one reading after the other, scored on measured soil: false alarms in a year, and faults put in on purpose.

Bondville, Illinois, 1998, hourly: NOAA, public domain. San Joaquin Experimental Range, California, June 2022, half-hourly:
NEON DP1.00041.001, CC0. Drift and scatter are found over weeks, by `soil.estimate.failing`, and scored in test_estimate_skill.
"""

from __future__ import annotations

import numpy as np
import pytest

from collector import checks
from collector.model import DISTRUSTED, Flag, Probe
from collector.units import Quantity
from tests.bench.measured import BONDVILLE
from tests.published.test_depth_order import NEON, needs_bondville, needs_neon, table

HOUR_MS, YEAR_MS = 3_600_000, 365 * 86_400_000
ODD = DISTRUSTED | Flag.STUCK
DEPTHS_CM = (4, 8, 16, 32)


def flagged(times, values, depth_m):
    """What is found odd about each reading of a probe, as it comes in."""
    probe = Probe("p", "b", Quantity.SOIL_TEMPERATURE, "a", depth_m)
    memory, flags = None, []
    for at_ms, value in zip(times.tolist(), values.tolist(), strict=True):
        memory, found = checks.check(memory, probe, at_ms, value, at_ms)
        flags.append(found)
    return flags


@pytest.fixture(scope="module")
def bondville():
    times, soil_c = table(BONDVILLE, [f"ts_{cm:02d}cm_c" for cm in DEPTHS_CM])
    return {
        cm: (times[known], column[known])
        for cm, column in zip(DEPTHS_CM, soil_c.T, strict=True)
        for known in [np.isfinite(column)]
    }


@needs_bondville
@pytest.mark.parametrize("cm", DEPTHS_CM)
def test_a_sound_probe_is_called_odd_no_more_than_once_in_a_year(bondville, cm):
    times, values = bondville[cm]
    assert times[-1] - times[0] > 0.99 * YEAR_MS
    alarms = [at for at, flag in zip(times, flagged(times, values, cm / 100), strict=True) if flag & ODD]
    # readings that follow each other are one alarm
    assert sum(1 for at, before in zip(alarms, [-HOUR_MS * 48, *alarms], strict=False) if at - before > 24 * HOUR_MS) <= 1


@needs_neon
@pytest.mark.parametrize("plot", ["2", "3", "4", "5"])
def test_nor_in_the_hot_top_of_dry_soil(plot):
    names = ["ts_02cm_c", "ts_06cm_c", "ts_16cm_c", "ts_26cm_c"]
    times, soil_c = table(NEON, names, plot)
    for depth_m, column in zip((0.02, 0.06, 0.16, 0.26), soil_c.T, strict=True):
        known = np.isfinite(column)
        found = [flag for flag in flagged(times[known], column[known], depth_m) if flag & ODD & ~Flag.OUT_OF_RANGE]
        assert found == []


# What a fault makes of a reading, which flag is to tell it, and where in the year it can be told at all.
FAULTS = {
    "power-on value": (lambda _: 85.0, Flag.RESET_VALUE, -50.0),
    "disconnected": (lambda _: -127.0, Flag.DISCONNECTED, -50.0),
    "no such soil": (lambda _: 70.0, Flag.OUT_OF_RANGE, -50.0),
    "leaps by 20 K": (lambda value: value + 20.0, Flag.JUMP | Flag.OUT_OF_RANGE, -50.0),
    # a scratchpad of zeros passes its check (CRC-8 of zeros is 0): in a soil near 0 °C nobody can tell it
    "all zero": (lambda _: 0.0, Flag.JUMP, 18.5),
}


@needs_bondville
@pytest.mark.parametrize("fault", FAULTS)
def test_of_single_readings_gone_wrong_nearly_all_are_found(bondville, fault):
    wrong, flag, warmer_than_c = FAULTS[fault]
    chance, found, tried = np.random.default_rng(7), 0, 0
    for cm in DEPTHS_CM:
        times, values = bondville[cm]
        likely = np.flatnonzero(values > warmer_than_c)
        places = chance.choice(likely[likely > 100], size=60, replace=False)
        for place in places:
            part = slice(place - 60, place + 1)
            spoilt = values[part].copy()
            spoilt[-1] = wrong(spoilt[-1])
            found += bool(flagged(times[part], spoilt, cm / 100)[-1] & flag)
            tried += 1
    assert found / tried >= 0.95, f"{found} of {tried}"


@needs_bondville
def test_a_probe_that_stands_still_for_three_days_is_found_and_one_in_soil_that_does_is_not(bondville):
    chance, found, tried = np.random.default_rng(7), 0, 0
    for cm in DEPTHS_CM:
        times, values = bondville[cm]
        for place in chance.choice(np.arange(200, times.size - 200), size=40, replace=False):
            part = slice(place - 60, place + 73)
            stuck = values[part].copy()
            stuck[60:] = stuck[60]
            found += bool(flagged(times[part], stuck, cm / 100)[-1] & Flag.STUCK)
            tried += 1
    assert found / tried >= 0.95, f"{found} of {tried}"
