"""The cut through a bed, drawn to scale as SVG text. Pure: the same bed gives the same picture.

A picture has two halves. `still` is what does not change from minute to minute (grains, straw,
roots, bulbs, leaves): it is drawn once for a bed and a frame, and kept. `now` is what does: the
gradient, the water in the pores, the cool line, the cloth. Each piece of `now` has a name and
goes into the element of `still` that has the same name in `data-now`. Neither holds a word of
the garden file, only numbers and our own class names, so there is nothing to escape.
"""

from __future__ import annotations

import datetime as dt
import random
import zlib
from functools import lru_cache

from collector.calls import Due, Job
from collector.model import Bed
from collector.query import BedView
from dashboard.figures.cut_covers import marks
from dashboard.figures.cut_field import clove_is_warm, field, gradient_stops
from dashboard.figures.cut_frame import Frame, cover_cm, seed
from dashboard.figures.cut_path import path
from dashboard.figures.cut_plants import Plant, plant
from dashboard.figures.cut_pores import Pore, pores, water

STAFF_PX = 36
_ROOT_CM = 16.0
_CLOTH_ABOVE_LEAVES_PX = 9.0


def still(bed: Bed, frame: Frame, age_days: int | None) -> str:
    """The part of the picture that stays, as one SVG element; plants are drawn by their age in weeks."""
    return _still(bed, frame, None if age_days is None else age_days // 7 * 7)


def now(view: BedView, frame: Frame) -> dict[str, str]:
    """The part of the picture that changes, by the name of the place where it goes."""
    limit_c = view.bed.cool_limit_c
    return {
        "field": gradient_stops(field(view, frame), frame, limit_c),
        "water": _water(view, frame),
        "lines": "".join(_cool_line(frame.y(depth_m), frame.width_px) for depth_m in view.crossings_m),
        "hatch": _hatch(view, frame) if clove_is_warm(view) else "",
        "cloth": _cloth(view, frame),
    }


def age_days(view: BedView) -> int | None:
    """Days since the bed's first planting; None where nothing is planted."""
    planted = min((planting.planted for planting in view.bed.plantings), default=None)
    return None if planted is None else max((_day(view.state.now_ms) - planted.toordinal()), 0)


def fingerprint(bed: Bed, frame: Frame, age: int | None) -> str:
    """A short text that changes when `still` does; part of its address, so that browsers may keep it for ever."""
    return f"{zlib.crc32(still(bed, frame, age).encode()):08x}"


def cloth_m(frame: Frame) -> float:
    """The height [m, negative: above the soil] at which a shade cloth is drawn."""
    return (_CLOTH_ABOVE_LEAVES_PX - frame.ground_px) / frame.px_per_cm / 100


@lru_cache(maxsize=256)
def _still(bed: Bed, frame: Frame, age: int | None) -> str:
    key = _key(bed, frame)
    width, height, ground = frame.width_px, frame.height_px, frame.ground_px
    cover_top = ground - cover_cm(bed) * frame.px_per_cm
    soil = _soil(bed, frame)
    plants = _plants(bed, frame, age)
    copies = range(frame.tile_px, width, frame.tile_px)

    def tiled(name: str, content: str) -> str:
        return f'<g id="{name}-{key}">{content}</g>' + "".join(f'<use href="#{name}-{key}" x="{x}"/>' for x in copies)

    shown = "".join(pore.outline for pore in soil)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height:.0f}" viewBox="0 0 {width} {height:.2f}" '
        f'preserveAspectRatio="xMinYMin slice" aria-hidden="true" focusable="false"><defs>'
        f'<linearGradient id="field-{key}" gradientUnits="userSpaceOnUse" x1="0" y1="0" x2="0" y2="{height:.1f}" '
        f'data-now="field"></linearGradient><clipPath id="pore-{key}"><use href="#pores-{key}"/></clipPath>'
        f'<pattern id="hatch-{key}" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        f'<path class="hatch" d="M0 0V5"/></pattern></defs>'
        f'<rect class="field" y="{cover_top:.1f}" width="{width}" height="{height - cover_top:.1f}" fill="url(#field-{key})"/>'
        + tiled(
            "soil",
            f'<path id="pores-{key}" class="pores" d="{shown}"/>'
            f'<g class="water" clip-path="url(#pore-{key})" data-now="water"></g>',
        )
        + '<g class="lines" data-now="lines"></g>'
        + tiled("bed", _covers(bed, frame, key) + _plant_parts(plants) + '<g data-now="hatch"></g>')
        + _edges(bed, frame)
        + f'<path class="surface" d="M0 {ground:.1f}H{width}"/><g class="cloth" data-now="cloth"></g>'
        + _staff(bed, frame)
        + "</svg>"
    )


@lru_cache(maxsize=256)
def _soil(bed: Bed, frame: Frame) -> tuple[Pore, ...]:
    return pores(random.Random(seed(bed)), frame.tile_px, frame.ground_px, frame.height_px, frame.grain_px)


def _covers(bed: Bed, frame: Frame, key: str) -> str:
    """Each cover's marks, the lowest cover first; stems are filled with the field, so that they hide those behind them."""
    drawn = []
    bottom_m = 0.0
    for number, cover in enumerate(bed.covers):
        kind, draw = marks(cover.material)
        rng = random.Random(seed(bed) + number + 1)
        layers = draw(rng, frame.tile_px, frame.y(bottom_m - cover.thickness_m), frame.y(bottom_m), frame.px_per_cm)
        fill = f' fill="url(#field-{key})"' if kind == "stem" else ""
        drawn.append(f'<g class="cover {kind}"{fill}>' + "".join(f'<path d="{layer}"/>' for layer in layers) + "</g>")
        bottom_m -= cover.thickness_m
    return "".join(drawn)


def _edges(bed: Bed, frame: Frame) -> str:
    """The top of each cover, shown only where nothing is painted."""
    edges, top_m = [], 0.0
    for cover in bed.covers:
        top_m -= cover.thickness_m
        edges.append(f"M0 {frame.y(top_m):.1f}H{frame.width_px}")
    return f'<path class="edges" d="{"".join(edges)}"/>'


def _staff(bed: Bed, frame: Frame) -> str:
    """A paper strip at the left with a tick at each unit and a number at each tenth (inches: each fourth), zero at the soil."""
    if frame.staff_cm is None:
        return ""
    metric = frame.staff_cm == 1.0
    numbered, long_every = (10, 5) if metric else (4, 2)
    first = -int(cover_cm(bed) / frame.staff_cm)
    ticks, numbers = (
        [],
        [f'<text x="5" y="{frame.y((first - 1.6) * frame.staff_cm / 100):.0f}">{"cm" if metric else "in"}</text>'],
    )
    for k in range(first, int(frame.below_cm / frame.staff_cm) + 1):
        y = frame.y(k * frame.staff_cm / 100)
        ticks.append(path("M", STAFF_PX, y, "h", -12 if k % numbered == 0 else -9 if k % long_every == 0 else -5))
        if k % numbered == 0:
            numbers.append(f'<text x="20" y="{y + 5:.0f}">{abs(k)}</text>')
    top = frame.y(first * frame.staff_cm / 100) - 6
    return (
        f'<g class="staff"><rect width="{STAFF_PX}" height="{frame.height_px:.0f}"/>'
        f'<path d="{path("M", STAFF_PX, top, "V", frame.height_px)}{"".join(ticks)}"/>{"".join(numbers)}</g>'
    )


@lru_cache(maxsize=256)
def _plants(bed: Bed, frame: Frame, age: int | None) -> tuple[Plant, ...]:
    clove_m = bed.clove_depth_m
    if clove_m is None:
        return ()
    rng = random.Random(seed(bed) - 1)
    cover_top, top = frame.y(-cover_cm(bed) / 100), 2 * _CLOTH_ABOVE_LEAVES_PX
    base = frame.y(clove_m)
    root_cm = min(_ROOT_CM, bed.root_depth_m * 100)
    return tuple(plant(rng, x, base, cover_top - 3, top, frame.px_per_cm, age, root_cm) for x in frame.plants_px)


def _plant_parts(plants: tuple[Plant, ...]) -> str:
    def joined(part: str) -> str:
        return "".join(getattr(each, part) for each in plants)

    roots = joined("roots")
    return (
        f'<path class="root-edge" d="{roots}"/><path class="root" d="{roots}"/>'
        f'<path class="leaf" d="{joined("shaft")}"/><path class="leaf" d="{joined("leaves")}"/>'
        f'<path class="fold" d="{joined("folds")}"/><path class="bulb" d="{joined("stem")}"/>'
        f'<path class="bulb" d="{joined("bulb")}"/><path class="rib" d="{joined("ribs")}"/>'
    )


def _water(view: BedView, frame: Frame) -> str:
    """Water stands in a pore to the share of what the soil can hold there above wilting.

    Where moisture is not known a pore is an outline: neither empty nor filled.
    """
    bed, moisture = view.bed, view.state.moisture
    if moisture is None:
        return ""
    profile, span = moisture, bed.field_capacity - bed.wilting_point

    def filling(level_px: float) -> float | None:
        estimate = profile.at((level_px - frame.ground_px) / frame.px_per_cm / 100)
        return None if estimate is None else max(0.0, (estimate.value - bed.wilting_point) / span)

    soil = _soil(bed, frame)
    known = water(soil, lambda level_px: None if filling(level_px) is None else 1.0)
    return f'<path class="dry" d="{known}"/><path d="{water(soil, filling)}"/>'


def _hatch(view: BedView, frame: Frame) -> str:
    """Hatch over the bulbs: they are warmer than the limit."""
    age = age_days(view)
    bulbs = "".join(each.bulb for each in _plants(view.bed, frame, None if age is None else age // 7 * 7))
    return f'<path fill="url(#hatch-{_key(view.bed, frame)})" d="{bulbs}"/>'


def _cool_line(y: float, width: int) -> str:
    return f'<path class="cool-casing" d="M0 {y:.1f}H{width}"/><path class="cool-line" d="M0 {y:.1f}H{width}"/>'


def _cloth(view: BedView, frame: Frame) -> str:
    """The shade cloth: two dashed lines where it is asked for, two solid ones when it is told laid."""
    asked = {worded.call.job: worded.call.due for worded in view.calls}.get(Job.SHADE)
    lies = asked is Due.DONE or (view.state.season is not None and view.state.season.cloth.lies)
    if not lies and asked is not Due.DUE:
        return ""
    y = frame.y(cloth_m(frame))
    kind = "laid" if lies else "to-lay"
    return f'<path class="{kind}" d="M0 {y - 3:.1f}H{frame.width_px}M0 {y + 3:.1f}H{frame.width_px}"/>'


def _key(bed: Bed, frame: Frame) -> str:
    """Tells the pictures of one page apart."""
    return f"{seed(bed):08x}{frame.grain_px:.0f}"


def _day(time_ms: int) -> int:
    return dt.date(1970, 1, 1).toordinal() + time_ms // 86_400_000
