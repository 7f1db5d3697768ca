"""Heat flow through a column whose conductances stay as they are, solved exactly and all at once.

The cells of `heat.py` are coupled oscillators without mass: seen in the right shapes, each shape
fades by itself. Between two moments a shape's answer to an end temperature that goes in a straight
line is a formula, so that no step is too long, and a season costs milliseconds. What changes the
conductances, such as wind through straw, needs `heat.py`, or a new set of shapes.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isqrt

import numpy as np

from collector.soil.arrays import Array
from collector.soil.heat import Column, links_of

# Below this share of a time constant the formula loses digits to cancellation, and its series has them all.
_SHORT = 1e-2


@dataclass(frozen=True, slots=True, eq=False)
class Modes:
    """A column of n cells as n shapes that fade each by itself.

    `rates_per_s` (n) [1/s], ascending, 0 or more; `shapes` (n by n) [K per unit of a mode], a column each. `heat_j_m2_k`
    (n) is what a cell stores [J m⁻² K⁻¹]; `surface` and `bottom` (n) are what a kelvin at either end feeds to the
    modes [units of the mode per K and s].
    """

    rates_per_s: Array
    shapes: Array
    heat_j_m2_k: Array
    surface: Array
    bottom: Array


def modes_of(column: Column, conductance_w_m2_k: float, open_below: bool) -> Modes:
    """The shapes of a column and how fast they fade [1/s].

    Args:
        column: the cells, n of them [Column].
        conductance_w_m2_k: between the top of the column and what it feels, 0 lets nothing through [W m⁻² K⁻¹].
        open_below: whether the lower end is held at a temperature, or lets no heat through [yes or no].

    Raises:
        ValueError: a conductance below 0.

    Source: Fourier's law in finite volumes, as `heat.step_c`; eigenvectors of the matrix made symmetric, textbook algebra.
    """
    links = links_of(column, conductance_w_m2_k, open_below)
    heat_j_m2_k = column.capacity_j_m3_k * column.thickness_m
    root = np.sqrt(heat_j_m2_k)
    losses = np.diag(links.diagonal()) - np.diag(links.beside, 1) - np.diag(links.beside, -1)
    rates_per_s, vectors = np.linalg.eigh(losses / np.outer(root, root))
    shapes = vectors / root[:, None]
    # a column that is shut at both ends keeps its mean for ever: rounding must not make that grow
    return Modes(np.maximum(rates_per_s, 0.0), shapes, heat_j_m2_k, links.top * shapes[0], links.bottom * shapes[-1])


def between(values: Array) -> Array:
    """The course of something known at s + 1 moments and straight between them [its own unit], s by 2: begin and end of a step.

    One moment, or none, makes no steps. NaN makes the steps on both sides of it NaN.

    Args:
        values: at the moments, s + 1 of them [any unit].

    Source: by definition.
    """
    return np.stack([values[:-1], values[1:]], axis=1)


def held(values: Array) -> Array:
    """The course of something that stays the same through each of s steps [its own unit], s by 2: begin and end of a step.

    Args:
        values: in the steps, as their means, s of them [any unit].

    Source: by definition.
    """
    return np.stack([values, values], axis=1)


def follow_c(
    modes: Modes, start_c: Array, surface_c: Array, bottom_c: Array | None, step_s: float, seen: Array | None = None
) -> Array:
    """Temperatures of the cells at the ends of s steps [°C], s by n; exact where the ends go as they are said to.

    NaN in the start makes everything NaN, NaN in a course all from that step on; no steps give no rows.

    Args:
        modes: of a column of n cells [Modes].
        start_c: temperatures of the cells before the first step, n values [°C].
        surface_c: what the top feels, s by 2, see `between` and `held` [°C].
        bottom_c: temperature at the lower end, s by 2; None leaves it at 0 °C, or, where it is shut, at nothing [°C].
        step_s: length of the steps, above 0 [s].
        seen: shares of the cells in each of d answers, d by n; None answers for the cells themselves [ratio].

    Raises:
        ValueError: a step of zero or less, or arrays of other shapes.

    Source: superposition of first-order answers to a ramp, textbook linear systems.
    """
    if not step_s > 0:
        raise ValueError(f"step_s is {step_s}; want more than 0")
    if start_c.shape != modes.rates_per_s.shape:
        raise ValueError(f"start_c has shape {start_c.shape}; want {modes.rates_per_s.shape}, one temperature for each cell")
    courses = [surface_c] if bottom_c is None else [surface_c, bottom_c]
    if any(course.shape != (len(surface_c), 2) for course in courses):
        raise ValueError(f"courses have shapes {[course.shape for course in courses]}; want the same number of steps by 2")
    if seen is not None and seen.shape[1:] != start_c.shape:
        raise ValueError(f"seen has shape {seen.shape}; want answers by {start_c.size} cells")
    begin, end = _weights_s(modes.rates_per_s, step_s)
    entries = [modes.surface] if bottom_c is None else [modes.surface, modes.bottom]
    fed = np.stack([entry * part for entry in entries for part in (begin, end)])
    first = modes.shapes.T @ (modes.heat_j_m2_k * start_c)
    shown = modes.shapes if seen is None else seen @ modes.shapes
    return _followed(np.concatenate(courses, axis=1), fed, np.exp(-modes.rates_per_s * step_s), first, shown)


def _weights_s(rates_per_s: Array, step_s: float) -> tuple[Array, Array]:
    """What a unit at the begin and at the end of a step, with a straight line between, leaves at its end [s]."""
    span = rates_per_s * step_s
    near = np.minimum(span, _SHORT)
    far = np.maximum(span, _SHORT)
    whole = np.where(span < _SHORT, _series(near, 1), -np.expm1(-far) / far)
    end = np.where(span < _SHORT, _series(near, 2), (far + np.expm1(-far)) / far**2)
    return step_s * (whole - end), step_s * end


def _series(span: Array, first: int) -> Array:
    """1/first! - span/(first + 1)! + span²/(first + 2)! ..., to the last digit for small spans."""
    total, term = np.zeros_like(span), np.ones_like(span)
    for k in range(1, first + 1):
        term /= k
    for k in range(first + 1, first + 8):
        total += term
        term = -term * span / k
    return total


def _followed(course: Array, fed: Array, fade: Array, first: Array, shown: Array) -> Array:
    """What is shown of amplitudes that fade and are fed, row by row: s by d, from courses s by c and what they feed, c by n.

    In blocks, as Python is slow and arrays are not: first what each block leaves at its end, then all blocks side by side.
    """
    steps = len(course)
    length = max(1, isqrt(steps))
    blocks = -(-steps // length)
    padded = np.zeros((blocks * length, course.shape[1]))
    padded[:steps] = course
    rows: Array = padded.reshape(blocks, length, course.shape[1]).transpose(1, 0, 2) @ fed  # step in its block by block by mode
    left = np.einsum("kbn,kn->bn", rows, fade ** np.arange(length - 1, -1, -1)[:, None])
    begins = np.empty_like(left)
    now = first
    for block in range(blocks):
        begins[block] = now
        now = fade**length * now + left[block]
    before = begins
    for row in rows:
        row += fade * before
        before = row
    return (rows.transpose(1, 0, 2) @ shown.T).reshape(-1, len(shown))[:steps]
