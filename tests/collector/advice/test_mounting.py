"""Where probes go: what counts as there already."""

from __future__ import annotations

import pytest

from collector.advice.mounting import Spot, in_order, is_there
from tests.fakes_advice import M, T, bed


@pytest.mark.parametrize(
    ("of", "depth_m", "has_m", "there"),
    [
        (T, 0.12, 0.13, True),  # the cloves lie at 12 cm
        (T, 0.12, 0.14, False),
        (T, 0.05, 0.06, True),
        (T, 0.05, 0.07, False),
        (T, 0.30, 0.37, True),
        (T, 0.30, 0.40, False),
        (M, 0.10, 0.12, True),
        (M, 0.20, 0.25, True),
        (M, 0.20, 0.12, False),
    ],
)
def test_a_place_has_a_probe_where_one_is_near_enough_for_its_depth(of, depth_m, has_m, there):
    thermometers, moistures = ((has_m,), ()) if of is T else ((), (has_m,))
    assert is_there(Spot(of, depth_m, ""), bed(thermometers_m=thermometers, moistures_m=moistures)) is there


def test_probes_are_read_by_what_they_measure_and_from_the_top_down():
    here = bed(thermometers_m=(0.2, 0.05), moistures_m=(0.15, 0.1))
    assert [(one.quantity, one.depth_m) for one in in_order(here.probes)] == [(T, 0.05), (T, 0.2), (M, 0.1), (M, 0.15)]
