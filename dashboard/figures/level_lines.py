"""The lines along which a field on a grid has one value, traced cell by cell (marching squares)."""

from __future__ import annotations

from collections import defaultdict

import numpy as np
from numpy.typing import NDArray

from dashboard.figures.chart import Points

# An edge of the grid: does it lie along x, and the row and column of its first corner.
Edge = tuple[bool, int, int]


def level_lines(x: NDArray[np.int64], y: NDArray[np.float64], z: NDArray[np.float64], level: float) -> Points:
    """The lines z = level, with None between two of them; `z` is len(y) by len(x), NaN where not known.

    Between two corners of the grid a line passes where a straight slope would meet the level. It
    ends at the rim of the grid and of what is known.
    """
    over = z > level
    links: dict[Edge, list[Edge]] = defaultdict(list)
    for row, column in _crossed_cells(z, over):
        for one, other in _pairs(z, over, row, column, level):
            links[one].append(other)
            links[other].append(one)
    xs: list[float | None] = []
    ys: list[float | None] = []
    for line in _walks(links):
        if xs:
            xs.append(None)
            ys.append(None)
        for edge in line:
            at_x, at_y = _point(edge, x, y, z, level)
            xs.append(round(at_x))
            ys.append(round(at_y, 4))
    return xs, ys


def _crossed_cells(z: NDArray[np.float64], over: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Cells with all corners known, some of them over the level and some not."""
    known = np.isfinite(z)
    corners = [(slice(None, -1), slice(None, -1)), (slice(None, -1), slice(1, None))]
    corners += [(slice(1, None), slice(None, -1)), (slice(1, None), slice(1, None))]
    whole = np.logical_and.reduce([known[corner] for corner in corners])
    count = np.sum([over[corner] for corner in corners], axis=0)
    return [(int(row), int(column)) for row, column in np.argwhere(whole & (count > 0) & (count < 4))]


def _pairs(z: NDArray[np.float64], over: NDArray[np.bool_], row: int, column: int, level: float) -> list[tuple[Edge, Edge]]:
    """The edges of a cell that a line crosses, as pairs: one, or two where opposite corners are over the level."""
    top, bottom = (True, row, column), (True, row + 1, column)
    left, right = (False, row, column), (False, row, column + 1)
    upper_left, upper_right = bool(over[row, column]), bool(over[row, column + 1])
    lower_left, lower_right = bool(over[row + 1, column]), bool(over[row + 1, column + 1])
    if upper_left == lower_right and upper_right == lower_left:  # a saddle: its middle tells which corners belong together
        middle_is_over = bool(z[row : row + 2, column : column + 2].mean() > level)
        if middle_is_over == upper_left:
            return [(top, right), (left, bottom)]
        return [(top, left), (right, bottom)]
    sides = [(top, upper_left, upper_right), (right, upper_right, lower_right)]
    sides += [(bottom, lower_left, lower_right), (left, upper_left, lower_left)]
    one, other = (edge for edge, begin, end in sides if begin != end)
    return [(one, other)]


def _walks(links: dict[Edge, list[Edge]]) -> list[list[Edge]]:
    """Every line from end to end; a ring ends where it began."""
    left = {edge: list(others) for edge, others in links.items()}
    walks = []
    for start in sorted(left, key=lambda edge: len(left[edge])):  # open ends first, so that no line is cut in two
        while left[start]:
            walk = [start]
            while left[walk[-1]]:
                following = left[walk[-1]].pop()
                left[following].remove(walk[-1])
                walk.append(following)
            walks.append(walk)
    return walks


def _point(edge: Edge, x: NDArray[np.int64], y: NDArray[np.float64], z: NDArray[np.float64], level: float) -> tuple[float, float]:
    along_x, row, column = edge
    other = (row, column + 1) if along_x else (row + 1, column)
    share = float((level - z[row, column]) / (z[other] - z[row, column]))
    return float(x[column] + share * (x[other[1]] - x[column])), float(y[row] + share * (y[other[0]] - y[row]))
