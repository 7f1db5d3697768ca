"""The pen marks of each cover: what lies on the soil is told by its texture, never by a colour of its own."""

from __future__ import annotations

import math
import random
from collections.abc import Callable

from dashboard.figures.cut_path import path

# (generator, width, top, bottom, scale in px per cm) -> SVG path data, layer by layer: each hides those before it
Marks = Callable[[random.Random, float, float, float, float], list[str]]

_LAYERS = 7


def marks(material: str) -> tuple[str, Marks]:
    """The CSS class and the marks for a material as the garden file names it; unknown ones get short strokes."""
    for words, kind, draw in _MATERIALS:
        if any(word in material.lower() for word in words):
            return kind, draw
    return "stroke", _strokes


def _straw(rng: random.Random, width: float, top: float, bottom: float, scale: float) -> list[str]:
    """Stems, each a thin bar; the nearest ones last, and a few stick out at the top."""
    thick = 0.5 * scale
    stems = []
    count = round(width * (bottom - top) / (30 * scale))
    places = [(k + rng.random()) * width / max(count, 1) for k in range(count)]  # spread evenly, laid in any order
    rng.shuffle(places)
    for place in places:
        length = rng.uniform(3.0, 8.0) * scale
        slope = math.radians(rng.choice((-1, 1)) * rng.triangular(1, 38, 5))
        dx, dy = length * math.cos(slope), length * math.sin(slope)
        x = place - dx / 2
        y = rng.uniform(top + abs(dy) / 2 - 0.7 * scale, max(bottom - abs(dy) / 2 - thick, top + abs(dy) / 2)) - dy / 2
        nx, ny = -thick * math.sin(slope), thick * math.cos(slope)
        stems.append(path("M", x, y, "l", dx, dy, nx, ny, -dx, -dy, "z"))
    return _layered(stems)


def _crumbs(rng: random.Random, width: float, top: float, bottom: float, scale: float) -> list[str]:
    """Crumbs of four to six corners, denser at the top."""
    crumbs = []
    for _ in range(round(width * (bottom - top) / (9 * scale))):
        size = rng.uniform(0.35, 0.95) * scale
        x = rng.uniform(0, width)
        y = top + (bottom - top - size) * (0.0 if rng.random() < 0.22 else rng.random()) + size / 2
        turn, corners = rng.uniform(0, math.tau), rng.randint(4, 6)
        shape: list[float] = []
        for k in range(corners):
            angle, reach = turn + k * math.tau / corners, size * rng.uniform(0.55, 1.0)
            shape += [x + 1.3 * reach * math.cos(angle), y + 0.8 * reach * math.sin(angle)]
        crumbs.append(path("M", *shape, "z"))
    return ["".join(crumbs)]


def _chips(rng: random.Random, width: float, top: float, bottom: float, scale: float) -> list[str]:
    """Short blocks of wood, lying every way."""
    chips = []
    for _ in range(round(width * (bottom - top) / (15 * scale))):
        length, thick = rng.uniform(1.3, 3.0) * scale, rng.uniform(0.6, 1.1) * scale
        slope = math.radians(rng.triangular(-60, 60, 0))
        dx, dy = length * math.cos(slope), length * math.sin(slope)
        nx, ny = -thick * math.sin(slope), thick * math.cos(slope)
        x = rng.uniform(0, width) - dx / 2
        low, high = top + abs(dy) / 2, bottom - abs(dy) / 2 - thick
        y = rng.uniform(low, max(low, high)) - dy / 2
        chips.append(path("M", x, y, "l", dx, dy, nx, ny, -dx, -dy, "z"))
    return _layered(chips)


def _leaves(rng: random.Random, width: float, top: float, bottom: float, scale: float) -> list[str]:
    """Arcs, like leaves lying in layers."""
    arcs = []
    for _ in range(round(width * (bottom - top) / (22 * scale))):
        length, rise = rng.uniform(2.0, 4.5) * scale, rng.uniform(-1.4, 1.4) * scale
        x, y = rng.uniform(-length / 2, width - length / 2), rng.uniform(top + 0.8 * scale, bottom - 0.8 * scale)
        arcs.append(
            path("M", x, y, "q", length / 2, rise, length, rise / 4, "q", -length / 2, -rise / 2, -length, -rise / 4, "z")
        )
    return _layered(arcs)


def _fleece(_rng: random.Random, width: float, top: float, bottom: float, _scale: float) -> list[str]:
    """One line along the bed; its class dashes it."""
    return [path("M", 0, (top + bottom) / 2, "H", width)]


def _strokes(rng: random.Random, width: float, top: float, bottom: float, scale: float) -> list[str]:
    """Short level strokes: something lies here that has no mark of its own."""
    strokes = []
    for _ in range(round(width * (bottom - top) / (60 * scale))):
        length = rng.uniform(0.8, 2.2) * scale
        strokes.append(f"M{rng.uniform(0, width):.0f} {rng.uniform(top + 1, bottom - 1):.0f}h{length:.0f}")
    return ["".join(strokes)]


def _layered(shapes: list[str]) -> list[str]:
    return ["".join(shapes[k::_LAYERS]) for k in range(_LAYERS)]


_MATERIALS: tuple[tuple[tuple[str, ...], str, Marks], ...] = (
    (("straw", "hay", "grass", "reed"), "stem", _straw),
    (("chip", "bark", "wood"), "stem", _chips),
    (("compost", "manure", "soil", "mould"), "crumb", _crumbs),
    (("leaf", "leaves"), "stem", _leaves),
    (("fleece", "cloth", "sheet", "paper"), "fleece", _fleece),
)
