"""What a grower might change in a bed, each with what it would do to the cloves in the days ahead. Pure.

By heat flow, from the bed as its last days have left it (`collector.soil.what_if`); beside the forecast, which it is added to.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from collector.model import Bed
from collector.outlook import Change, WhatIf
from collector.soil.arrays import Array
from collector.soil.covers import MATERIALS
from collector.soil.what_if import Change as SoilChange
from collector.soil.what_if import Cloth, Covers, PlantingDepth, Today, Watering, difference_k

# What is offered: cloths as they are sold, a layer of mulch or two, depths at which garlic is planted, waterings.
# Common practice, no source.
SHARES = (0.3, 0.5, 0.7)
LAYERS_M = (0.05, 0.10)
DEPTHS_M = (0.05, 0.08, 0.10, 0.12, 0.15, 0.20)
WATERINGS_MM = (10.0, 20.0)
USUAL_COVER = "straw"
_DAY_H = 24
# Nearer than this one depth is the other [m].
_SAME_M = 0.005


def what_ifs_of(bed: Bed, today: Today, cloves_m: float) -> tuple[WhatIf, ...]:
    """How much warmer the cloves would be at the coming full hours [K], for each change that is offered.

    Args:
        bed: the bed.
        today: the bed as it is, with the cloth that lies.
        cloves_m: depth of its cloves [m].
    """
    return tuple(
        _what_if(change, amount, difference_k(today, soil, cloves_m)) for change, amount, soil in _offered(bed, today, cloves_m)
    )


def _offered(bed: Bed, today: Today, cloves_m: float) -> Iterator[tuple[Change, float, SoilChange]]:
    own = () if bed.shade_cloth is None else (bed.shade_cloth,)
    shares = sorted({*own, *SHARES} - {today.ground.cloth}) + ([0.0] if today.ground.cloth else [])
    yield from ((Change.CLOTH, share, Cloth(share)) for share in shares)
    covers = today.ground.covers
    top = bed.covers[-1].material if bed.covers else USUAL_COVER
    material = top if top in MATERIALS else USUAL_COVER
    for layer_m in LAYERS_M:
        yield Change.COVER, layer_m, Covers((*covers, (material, layer_m)))
    if covers:
        yield Change.BARE, 0.0, Covers(())
    for depth_m in DEPTHS_M:
        if abs(depth_m - cloves_m) > _SAME_M:
            yield Change.DEPTH, depth_m, PlantingDepth(depth_m)
    for amount_mm in WATERINGS_MM:
        yield Change.WATERING, amount_mm, Watering(amount_mm)


def _what_if(change: Change, amount: float, cloves_k: Array) -> WhatIf:
    # Before now nothing was changed, so that a mean that reaches back there holds that much of nothing.
    sums = np.cumsum(cloves_k)
    before = np.concatenate([np.zeros(min(_DAY_H, sums.size)), sums[:-_DAY_H]])
    if change is Change.DEPTH:  # what lies elsewhere lay elsewhere all along
        known = np.minimum(np.arange(1, sums.size + 1), _DAY_H)
        return WhatIf(change, amount, cloves_k, (sums - before) / known)
    return WhatIf(change, amount, cloves_k, (sums - before) / _DAY_H)
