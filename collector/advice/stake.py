"""Does the stake stand in the soil, or has something dug it up? Pure."""

from __future__ import annotations

from collector.advice.state import BedState
from collector.advice.verdict import Verdict
from collector.calls import Due, Evidence
from collector.units import Quantity

EVIDENCE = Evidence.WEAK
SOURCE = (
    "Heat flow: soil does not change by kelvins within the hour at several depths at once, and towards the air's temperature. "
    "How much is too much was chosen on measured soils (Bondville, Illinois, 1998: no false alarm in a year), no source."
)


def judge(state: BedState, latched: Due | None) -> Verdict:  # noqa: ARG001  the readings alone tell
    """Should the stake be pushed back in. What marked its readings has a memory of its own, so this rule needs none."""
    if not state.dug_up:
        return Verdict(Due.FINE, "in the soil")
    depths = {probe.depth_m for probe in state.bed.probes_of(Quantity.SOIL_TEMPERATURE)}
    return Verdict(Due.DUE, "in the air", {"depths": float(len(depths))}, tell=True, since_ms=state.dug_up_ms)
