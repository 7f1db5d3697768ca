"""A bulb plant by its age: clove or bulb, roots, blanched stem, and leaves as garlic has them.

Garlic's leaves stand in two ranks, one to the left and one to the right by turns; they are
long, flat, folded along the middle, and the older ones bend over. Ages and sizes are for the
eye: common practice, no source. Below the soil surface the plant is to scale, above it not.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

from dashboard.figures.cut_path import path

_SPROUTS_AFTER_DAYS = 12
_DAYS_PER_LEAF = 24
_MOST_LEAVES = 6
_FULL_GROWN_DAYS = 150


@dataclass(frozen=True, slots=True)
class Plant:
    """SVG path data of one plant's parts."""

    bulb: str
    ribs: str
    stem: str
    roots: str
    shaft: str
    leaves: str
    folds: str


def plant(
    rng: random.Random, x: float, base_y: float, foot_y: float, top_y: float, scale: float, age_days: int | None, root_cm: float
) -> Plant:
    """One plant at `x`, its basal plate at `base_y`, coming out of the covers at `foot_y`; leaves end below `top_y` [px].

    `scale` is px per cm; without an age it is drawn full grown; `root_cm` is how deep its roots may go.
    """
    age = _FULL_GROWN_DAYS if age_days is None else max(age_days, 0)
    grown = min(age / _FULL_GROWN_DAYS, 1.0)
    half, tall = (0.85 + 0.85 * grown) * scale, (2.6 + 1.2 * grown) * scale
    bulb, ribs = _bulb(x, base_y, half, tall)
    sprouted = age >= _SPROUTS_AFTER_DAYS
    width = (0.7 + 0.5 * grown) * scale
    stem = path("M", x - width / 2, base_y - tall * 0.9, "V", foot_y, "h", width, "V", base_y - tall * 0.9) if sprouted else ""
    green = _leaves(rng, x, foot_y, top_y, scale, age) if sprouted else ("", "", "")
    return Plant(bulb, ribs, stem, _roots(rng, x, base_y, scale, grown, root_cm), *green)


def _bulb(x: float, base_y: float, half: float, tall: float) -> tuple[str, str]:
    top, shoulder, waist = base_y - tall, base_y - tall * 0.85, base_y - tall * 0.45
    outline = path(
        *("M", x, base_y, "C", x - half, base_y, x - half * 1.35, waist, x - half * 0.35, shoulder),
        *("Q", x - half * 0.2, top, x, top, "Q", x + half * 0.2, top, x + half * 0.35, shoulder),
        *("C", x + half * 1.35, waist, x + half, base_y, x, base_y, "z"),
    )
    ribs = [
        path("M", x + side * half * 0.12, base_y - tall * 0.92)
        + path("Q", x + side * half * 0.95, waist, x + side * half * 0.2, base_y - tall * 0.04)
        for side in (-0.85, 0.0, 0.85)
    ]
    return outline, "".join(ribs)


def _roots(rng: random.Random, x: float, base_y: float, scale: float, grown: float, root_cm: float) -> str:
    """Four to eight fat, hardly branching roots that fan out and then go down."""
    count = 4 + round(4 * grown)
    roots = []
    for k in range(count):
        side = (k + 0.5) / count * 2 - 1
        deep = (3 + (root_cm - 3) * grown) * scale * rng.uniform(0.62, 0.95) * (1 - 0.35 * abs(side))
        out = side * (1.5 + 6.0 * grown) * scale * rng.uniform(0.85, 1.15)
        wave = rng.uniform(-0.5, 0.5) * scale
        start = path("M", x + side * 0.5 * scale, base_y)
        roots.append(start + path("c", out * 0.55, deep * 0.12, out * 0.95 + wave, deep * 0.42, out, deep))
    return "".join(roots)


def _leaves(rng: random.Random, x: float, foot_y: float, top_y: float, scale: float, age: int) -> tuple[str, str, str]:
    """The green stem, and outlines and folds of the leaves that part from it by turns, the oldest and most bent first."""
    count = min(2 + (age - _SPROUTS_AFTER_DAYS) // _DAYS_PER_LEAF, _MOST_LEAVES)
    grown = count / _MOST_LEAVES
    height = (foot_y - top_y) * (0.45 + 0.55 * grown)
    stem_top, half = foot_y - 0.44 * height, (0.35 + 0.25 * grown) * scale
    shaft = path("M", x - half, foot_y, "L", x - half * 0.6, stem_top, "h", half * 1.2, "L", x + half, foot_y, "z")
    outlines, folds = [], []
    first = rng.choice((-1, 1))
    for k in range(count):
        young = (k + 0.5) / count  # towards 1 the leaf is young and stands upright
        side = first * (-1) ** k
        node = (x + side * half * 0.2, foot_y - height * (0.05 + 0.37 * young))
        reach = side * (1.8 + 6.2 * (1 - young) ** 0.8 + rng.uniform(-0.4, 0.6)) * scale * (0.5 + 0.5 * grown)
        rise = height * (0.40 + 0.22 * young) * rng.uniform(0.9, 1.05)
        hang = (1 - young) ** 1.2 * rng.uniform(0.7, 1.0) * height * 0.55  # how far the tip has bent down again
        knee = (x + reach * 0.34, node[1] - rise * 1.25)
        tip = (x + reach, max(node[1] - rise + hang, top_y))
        outline, fold = _leaf(node, knee, tip, -side * (0.8 + 0.3 * grown) * scale)
        outlines.append(outline)
        folds.append(fold)
    return shaft, "".join(outlines), "".join(folds)


def _leaf(start: tuple[float, float], knee: tuple[float, float], tip: tuple[float, float], thick: float) -> tuple[str, str]:
    """A long blade along a bend, widest near the stem and drawn out to a point, and the fold along its middle.

    With `thick` below zero it is drawn the other way round: paths that overlap in one shape must turn the same way.
    """
    (x0, y0), (x1, y1), (x2, y2) = start, knee, tip
    along = math.atan2(y1 - y0, x1 - x0)
    nx, ny = -math.sin(along) * thick / 2, math.cos(along) * thick / 2
    late = math.atan2(y2 - y0, x2 - x0)
    kx, ky = -math.sin(late) * thick * 0.55, math.cos(late) * thick * 0.55
    outline = path(
        *("M", x0 + nx, y0 + ny, "Q", x1 + kx, y1 + ky, x2, y2),
        *("Q", x1 - kx, y1 - ky, x0 - nx, y0 - ny, "z"),
    )
    # the fold shows on the outer part of the blade: half of the bend, from its middle on
    mid_x, mid_y = (x0 + 2 * x1 + x2) / 4, (y0 + 2 * y1 + y2) / 4
    return outline, path("M", mid_x, mid_y, "Q", (x1 + x2) / 2, (y1 + y2) / 2, (x1 + 7 * x2) / 8, (y1 + 7 * y2) / 8)
