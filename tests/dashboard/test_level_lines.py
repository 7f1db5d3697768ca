"""The lines along which a field has one value, against fields whose lines are known."""

import numpy as np
import pytest

from dashboard.figures.level_lines import level_lines

X = np.arange(-50, 51, dtype=np.int64)
Y = np.linspace(-5, 5, 61)


def lines(z: np.ndarray, level: float) -> list[list[tuple[float, float]]]:
    found: list[list[tuple[float, float]]] = [[]]
    for x, y in zip(*level_lines(X, Y, z, level), strict=True):
        if x is None or y is None:
            found.append([])
        else:
            found[-1].append((x, y))
    return [each for each in found if each]


def test_the_line_of_a_slope_is_straight_and_runs_from_rim_to_rim() -> None:
    slope = np.broadcast_to(Y[:, None], (Y.size, X.size))

    (line,) = lines(slope, 1.23)

    assert sorted(x for x, _ in line) == X.tolist()
    assert {y for _, y in line} == {1.23}


def test_the_line_of_a_hill_is_a_closed_ring_of_its_radius() -> None:
    hill = np.hypot(X[None, :] / 10, Y[:, None])

    (ring,) = lines(-hill, -3.0)

    assert ring[0] == ring[-1]
    # x is told in whole milliseconds, here tenths of the radius' unit
    assert [np.hypot(x / 10, y) for x, y in ring] == pytest.approx([3.0] * len(ring), abs=0.06)


def test_two_hills_have_two_rings_and_a_saddle_between_them_cuts_neither() -> None:
    two = np.maximum(*(-np.hypot(X[None, :] / 10 + side, Y[:, None]) for side in (-2.5, 2.5)))

    assert len(lines(two, -1.5)) == 2
    saddle = X[None, :] * Y[:, None]
    assert len(lines(saddle, 0.4)) == 2


def test_a_line_ends_at_the_rim_of_what_is_known() -> None:
    slope = np.broadcast_to(Y[:, None], (Y.size, X.size)).copy()
    slope[:, 40:60] = np.nan

    pieces = lines(slope, 1.23)

    assert sorted(min(x for x, _ in piece) for piece in pieces) == [-50, 10]
    assert sorted(max(x for x, _ in piece) for piece in pieces) == [-11, 50]


def test_a_field_that_never_meets_the_level_has_no_line() -> None:
    assert level_lines(X, Y, np.full((Y.size, X.size), 4.0), 5.0) == ([], [])
