"""Drift by means of days, in a soil of our own making: what the formula promises of tables that fit and that do not."""

from __future__ import annotations

import numpy as np
import pytest

from collector.soil.estimate.drifting import GAP_DAYS, drifting

DEPTHS_M = (0.05, 0.10, 0.20, 0.35)


def means_c(days, seed=1):
    """Weather of some days' memory over a season, smaller and later with depth, and a little noise."""
    chance = np.random.default_rng(seed)
    at = np.arange(days + 60)
    weather = np.convolve(chance.normal(0, 2.5, at.size), [0.4, 0.3, 0.2, 0.1], mode="same")
    surface = 12 + 6 * np.sin(2 * np.pi * at / 365) + weather
    table = []
    for depth_m in DEPTHS_M:
        level, column = surface[0], []
        for value in surface:
            level += (value - level) / (1 + 20 * depth_m)
            column.append(level)
        table.append(np.array(column[60:]) + chance.normal(0, 0.03, days))
    return np.column_stack(table)


@pytest.mark.parametrize("place", range(4))
@pytest.mark.parametrize("sign", [-1, 1])
def test_one_that_creeps_away_by_a_degree_in_a_month_is_told_and_no_other(place, sign):
    table = means_c(220)
    assert not drifting(DEPTHS_M, table).any()
    table[:, place] += sign * np.clip((np.arange(220) - 170) / 30, 0, 1)
    found = drifting(DEPTHS_M, table)
    assert not found[:170].any()
    assert found[205, place]
    assert found[:, place].sum() > 10
    assert not np.delete(found, place, axis=1).any()


def test_what_all_share_and_what_is_too_young_is_not_told():
    table = means_c(220)
    table += np.clip((np.arange(220) - 170) / 30, 0, 1)[:, None]
    assert not drifting(DEPTHS_M, table).any()
    young = means_c(GAP_DAYS + 20)
    young[-10:, 1] += 5.0
    assert not drifting(DEPTHS_M, young).any()


def test_two_probes_do_not_tell_which_and_frost_tells_nothing():
    table = means_c(220)
    table[190:, 0] += 3.0
    assert not drifting(DEPTHS_M[:2], table[:, :2]).any()
    frozen = table - table[180:, 0].max()
    assert not drifting(DEPTHS_M, frozen).any()


def test_a_gap_of_some_days_changes_nothing_and_what_is_not_known_is_not_told():
    table = means_c(220)
    table[:, 2] += np.clip((np.arange(220) - 170) / 30, 0, 1)
    table[150:155] = np.nan
    assert drifting(DEPTHS_M, table)[210, 2]
    table[180:] = np.nan
    assert not drifting(DEPTHS_M, table)[195:].any()


def test_tables_that_do_not_fit_are_refused():
    with pytest.raises(ValueError, match="want days by 4 probes"):
        drifting(DEPTHS_M, means_c(40)[:, :3])
    with pytest.raises(ValueError, match="shallowest thermometer first"):
        drifting(DEPTHS_M[::-1], means_c(40))
    with pytest.raises(ValueError, match="want 0 to 2"):
        drifting((0.1, 0.2, 0.3, 3.0), means_c(40))
