"""Where the probes of a bed go: for this crop, this soil, and why. Pure.

The depths are common practice, no source; the reasons are worked out for the bed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from collector.advice.foresight import ground_of
from collector.advice.voice import Voice
from collector.crop.cautions import MOUNTING
from collector.model import Bed, Probe
from collector.soil.ground import diffusivity_m2_s
from collector.soil.thermal import damping_depth_m
from collector.units import Quantity

DAY_S = 86_400.0
# Nearer to the cloves than this a second thermometer tells nothing new.
APART_M = 0.03
# Where no planting is told yet.
USUAL_CLOVE_M = 0.10
# A place this near to a probe's has one: a bulb's depth is a matter of millimetres, and of the others a share of the depth.
SAME_M, SAME_SHARE = 0.015, 0.25
NEAR_TOP_M, BELOW_M, DEEP_M = 0.05, 0.20, 0.30


@dataclass(frozen=True, slots=True)
class Spot:
    """A place for a probe in a bed, and why it is worth one."""

    quantity: Quantity
    depth_m: float
    why: str


# How it is done, in order, and what can hurt in it.
STEPS = (
    "Mark the depths on the staff from a ring that is to lie on the soil. Fix the probes with their tips sideways: a sheath that "
    "hangs down measures a mean of its length.",
    "Part the mulch down to the bare soil. Depths count from there, and not from the top of the straw.",
    "Make a slot with a flat blade, 15 cm or more from a plant, 30 cm from the edge and from any drip emitter. Slide the staff "
    "in until the ring lies on the soil, and press the soil back so that it touches the probes all along.",
    "Moisture probes go in sideways, blade upright, so that no water stands on them.",
    "Close the mulch as thick as it was. Lead the cable away with a loop that hangs lower than its gland.",
)
CAUTIONS = tuple(caution.text for caution in MOUNTING)


def spots(bed: Bed, voice: Voice) -> tuple[Spot, ...]:
    """The places that are worth a probe in a bed, thermometers first, from the top down."""
    clove_m = bed.clove_depth_m or USUAL_CLOVE_M
    near_cloves = [Spot(Quantity.SOIL_TEMPERATURE, clove_m, _clove_words(bed, voice))]
    for depth_m, why in ((NEAR_TOP_M, _top_words(bed)), (BELOW_M, _below_words(bed)), (DEEP_M, _deep_words(bed))):
        if abs(depth_m - clove_m) >= APART_M:
            near_cloves.append(Spot(Quantity.SOIL_TEMPERATURE, depth_m, why))
    thermometers = sorted(near_cloves, key=lambda spot: spot.depth_m)
    end_m = round(bed.root_depth_m * 2 / 3, 2)
    roots = "The roots are shallow and drink here first; it tells when a watering is due."
    reached = "Two thirds down the roots: when this one wets, the watering has gone deep enough."
    return (*thermometers, Spot(Quantity.SOIL_MOISTURE, 0.10, roots), Spot(Quantity.SOIL_MOISTURE, end_m, reached))


def in_order(probes: Sequence[Probe]) -> list[Probe]:
    """Probes as one reads them: by what they measure, and from the top down."""
    return sorted(probes, key=lambda probe: (list(Quantity).index(probe.quantity), probe.depth_m or 0.0))


def is_there(spot: Spot, bed: Bed) -> bool:
    """Whether a place of a bed has a probe already."""
    cloves = spot.quantity is Quantity.SOIL_TEMPERATURE and spot.depth_m == (bed.clove_depth_m or USUAL_CLOVE_M)
    near_m = SAME_M if cloves else max(SAME_M, SAME_SHARE * spot.depth_m)
    return any(
        probe.quantity is spot.quantity and probe.depth_m is not None and abs(probe.depth_m - spot.depth_m) <= near_m
        for probe in bed.probes
    )


def daily_share(bed: Bed, depth_m: float) -> float:
    """How much of the day's swing at the soil's surface is left at a depth [m], by the bed's texture [ratio].

    Source: Fourier's law for a wave of a day in even soil, exp(-z / d), with the damping depth d of `soil.thermal`.
    """
    return math.exp(-depth_m / float(damping_depth_m(diffusivity_m2_s(ground_of(replace(bed, probes=()), {}, None)), DAY_S)))


def _percent(bed: Bed, depth_m: float) -> str:
    return f"about {round(daily_share(bed, depth_m) * 20) * 5} % of the day's swing"


def _clove_words(bed: Bed, voice: Voice) -> str:
    limit = "" if bed.cool_limit_c is None else f" Its limit of {voice.temperature(bed.cool_limit_c)} is kept here."
    return f"Where the bulbs form.{limit}"


def _top_words(bed: Bed) -> str:
    under = f"under the {bed.covers[0].material}" if bed.covers else "of the soil"
    return f"The top {under} warms first: {_percent(bed, NEAR_TOP_M)} comes through so far. It gives warning."


def _below_words(bed: Bed) -> str:
    return f"Below the cloves, with {_percent(bed, BELOW_M)}: with the one above it tells how fast warmth goes down."


def _deep_words(bed: Bed) -> str:
    return f"Nearly without a day, {_percent(bed, DEEP_M)}: what the soil rests at, and where the cool comes from."
