"""What is expected of a bed in the days ahead: made now and then by the collector, kept, and read by rules and pages.

Plain frozen values like those of `collector.model`; times are milliseconds since 1970-01-01 UTC,
all arrays of one part have one length, h, and NaN is not known.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from enum import StrEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from collector.soil.arrays import Array

# An outlook older than this speaks of a bed no more: it is made anew each hour. Common practice, no source.
OUTLOOK_PATIENCE_MS = 3 * 3_600_000


@dataclass(frozen=True, slots=True, eq=False)
class TemperatureAhead:
    """Soil temperature [°C] at the full hours ahead, if nothing is done.

    `profile_c` is h by d, at `depths_m`, ascending. `cloves_c` has its 80 % band, `low_c` to
    `high_c`; `mean_c` is the mean at the cloves over the 24 h up to each time, of what was
    measured and what is to come. `with_cloth_c` and `with_cloth_mean_c` are the same with the
    grower's cloth laid now, which takes `cloth_share` of the sun; None where there is none to lay. `bare_mean_c` is the mean
    were the cloth taken off now; None where none lies.
    Where the bed has no cloves to speak of, what is said of them is NaN.
    """

    time_ms: NDArray[np.int64]
    depths_m: Array
    profile_c: Array
    cloves_c: Array
    low_c: Array
    high_c: Array
    mean_c: Array
    cloth_share: float | None = None
    with_cloth_c: Array | None = None
    with_cloth_mean_c: Array | None = None
    bare_mean_c: Array | None = None


class Change(StrEnum):
    """What a grower might change."""

    CLOTH = "cloth"  # takes this share of the sun [ratio]
    COVER = "cover"  # so much more of the topmost cover, or of straw where none lies [m]
    BARE = "bare"  # the covers taken away [m]
    DEPTH = "depth"  # cloves at this depth instead [m]
    WATERING = "watering"  # so much water, given now [mm]


@dataclass(frozen=True, slots=True, eq=False)
class WhatIf:
    """How much warmer the cloves would be, at the times of the temperature ahead [K], if one thing were changed now.

    `amount` is in the unit that `Change` tells; `mean_k` the same of the mean over the 24 h up to each time.
    """

    change: Change
    amount: float
    cloves_k: Array
    mean_k: Array


@dataclass(frozen=True, slots=True, eq=False)
class WaterAhead:
    """What the root zone will lack [mm] at times ahead, if nobody waters, with its 80 % band, and the refill line [mm].

    The three moments are when it reaches that line, the earliest and the latest of the 80 %
    band [ms]; None where that is beyond the last time. `demand` is what the bed drinks in that
    of a well-watered field of grass in its stage [ratio], as learned from its probes.
    """

    time_ms: NDArray[np.int64]
    depletion_mm: Array
    low_mm: Array
    high_mm: Array
    refill_mm: Array
    refill_ms: int | None
    early_ms: int | None
    late_ms: int | None
    demand: float


@dataclass(frozen=True, slots=True, eq=False)
class Outlook:
    """All that is expected of a bed, as of `made_ms`; a part that cannot be told is None, and `why_not` says why.

    `weather` names whose weather forecast went into it; None where it was worked out from the
    past and the course of the sun. `diffusivity_m2_s` is what the soil of the bed is like: how
    fast warmth goes down in it. `what_ifs` are told where the temperature of the cloves is.
    """

    bed_id: str
    made_ms: int
    temperature: TemperatureAhead | None
    water: WaterAhead | None
    weather: str | None = None
    diffusivity_m2_s: float | None = None
    why_not: tuple[str, ...] = ()
    what_ifs: tuple[WhatIf, ...] = ()


def to_plain(outlook: Outlook) -> dict[str, Any]:
    """The outlook as nested dicts, lists, numbers and None, for JSON. Temperatures and amounts keep three decimals."""
    return _plain(outlook)  # type: ignore[no-any-return]


def from_plain(plain: Mapping[str, Any]) -> Outlook:
    """What `to_plain` made. Raises KeyError or TypeError for what it did not make."""
    parts = dict(plain)
    temperature, water = parts.pop("temperature"), parts.pop("water")
    return Outlook(
        temperature=TemperatureAhead(**_arrays(temperature)) if temperature is not None else None,
        water=WaterAhead(**_arrays(water)) if water is not None else None,
        why_not=tuple(parts.pop("why_not")),
        what_ifs=tuple(_what_if(one) for one in parts.pop("what_ifs", ())),
        **parts,
    )


def _plain(value: Any) -> Any:
    if isinstance(value, (Outlook, TemperatureAhead, WaterAhead, WhatIf)):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, np.ndarray):
        return [_plain(one) for one in value.tolist()]
    if isinstance(value, (list, tuple)):
        return [_plain(one) for one in value]
    if isinstance(value, float):
        return None if np.isnan(value) else float(f"{value:.6g}")
    return value


def _what_if(plain: Mapping[str, Any]) -> WhatIf:
    return WhatIf(**(_arrays(plain) | {"change": Change(plain["change"])}))


def _arrays(plain: Mapping[str, Any]) -> dict[str, Any]:
    return {name: _array(name, value) if isinstance(value, list) else value for name, value in plain.items()}


def _array(name: str, values: list[Any]) -> NDArray[Any]:
    return np.array(values, dtype=np.int64 if name.endswith("_ms") else np.float64)
