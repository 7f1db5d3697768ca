"""The soil between its grains: pores that water fills from below.

Grains stand on a shaken triangular lattice that closes upon itself sideways; what three
neighbouring grains leave between them is a pore.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from dashboard.figures.cut_path import path

# How far a grain strays from its place, as a share of the usual distance. Beyond 0.3
# neighbours could change places and the lattice would no longer be a triangulation.
_STRAY = 0.25
_GRAIN = 0.85  # of the radius at which three neighbouring grains would touch
_WALL = 0.86  # pores are drawn this much smaller, so that each stays apart from its neighbours

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Pore:
    """One pore: its outline as SVG path data, and the box around it [px]."""

    outline: str
    left: float
    right: float
    top: float
    bottom: float


def pores(rng: random.Random, width_px: int, top_px: float, bottom_px: float, grain_px: float) -> tuple[Pore, ...]:
    """The pores between two levels; the right edge of the drawing goes on at its left."""
    columns = max(3, round(width_px / grain_px))
    across = width_px / columns
    down = across * math.sqrt(3) / 2
    rows = math.ceil((bottom_px - top_px) / down) + 2
    shift = {(i, j): _shaken(rng, across) for j in range(rows) for i in range(columns)}

    def grain(i: int, j: int) -> Point:
        dx, dy = shift[i % columns, j]
        return (i + j % 2 / 2) * across + dx, top_px + (j - 0.5) * down + dy

    found = (_pore([grain(i, j) for i, j in corners]) for corners in _triangles(columns, rows))
    return tuple(pore for pore in found if pore.top >= top_px + 2 and pore.top < bottom_px)


def water(soil: tuple[Pore, ...], filling: Callable[[float], float | None]) -> str:
    """SVG path data of the water in these pores, to be clipped by their outlines.

    `filling` gives the share of its height (0 to 1) to which a pore at that level [px] is full;
    None, where it is not known, stays empty.
    """
    parts = []
    for pore in soil:
        share = filling((pore.top + pore.bottom) / 2)
        if share:
            level = pore.bottom - min(share, 1.0) * (pore.bottom - pore.top)
            left, right, bottom = math.floor(pore.left), math.ceil(pore.right), math.ceil(pore.bottom)
            parts.append(path("M", left, level, "H", right, "V", bottom, "H", left))
    return "".join(parts)


def _shaken(rng: random.Random, distance: float) -> Point:
    angle, reach = rng.uniform(0, math.tau), _STRAY * distance * math.sqrt(rng.random())
    return reach * math.cos(angle), reach * math.sin(angle)


def _triangles(columns: int, rows: int) -> Iterator[tuple[tuple[int, int], ...]]:
    for j in range(rows - 1):
        lean = j % 2
        for i in range(columns):
            yield (i, j), (i + 1, j), (i + lean, j + 1)  # standing on its tip
            yield (i + 1 - lean, j), (i, j + 1), (i + 1, j + 1)  # standing on its base


def _pore(corners: list[Point]) -> Pore:
    """The triangle of three grain centres without the grains: three hollow arcs and three throats between them."""
    middle_x, middle_y = sum(x for x, _ in corners) / 3, sum(y for _, y in corners) / 3
    corners = [(middle_x + _WALL * (x - middle_x), middle_y + _WALL * (y - middle_y)) for x, y in corners]
    sides = [math.dist(corners[k - 1], corners[(k + 1) % 3]) for k in range(3)]  # each opposite its corner
    # three circles around the corners touch one another when each has half of what its two sides have over the third
    radii = [_GRAIN * (sum(sides) / 2 - side) for side in sides]
    steps: list[str] = []
    edge: list[Point] = []
    for k in range(3):
        here, before, after = corners[k], corners[k - 1], corners[(k + 1) % 3]
        enters, leaves = _towards(here, before, radii[k]), _towards(here, after, radii[k])
        middle = _towards(here, ((enters[0] + leaves[0]) / 2, (enters[1] + leaves[1]) / 2), radii[k])
        bend = (2 * middle[0] - (enters[0] + leaves[0]) / 2, 2 * middle[1] - (enters[1] + leaves[1]) / 2)
        # relative steps are short numbers, and most of a picture is pores
        steps.append(path("l", *_from(edge[-1], enters)) if edge else path("M", *enters))
        steps.append(path("q", *_from(enters, bend), *_from(enters, leaves)))
        edge += [enters, middle, leaves]
    xs, ys = [x for x, _ in edge], [y for _, y in edge]
    return Pore("".join(steps) + "z", min(xs), max(xs), min(ys), max(ys))


def _from(start: Point, end: Point) -> Point:
    return end[0] - start[0], end[1] - start[1]


def _towards(start: Point, end: Point, distance: float) -> Point:
    share = distance / math.dist(start, end)
    return start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])
