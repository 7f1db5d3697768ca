"""Is water due: what the root zone lacks against what it may lack without stress. Pure."""

from __future__ import annotations

from collector.advice.state import BedState
from collector.advice.verdict import Verdict
from collector.calls import Due, Evidence
from collector.soil.water import refill_litres, watering_minutes
from collector.units import Quantity

# Shares of the readily available water (RAW). Water is due at RAW itself, which is published; "soon"
# from 0.8 gives a day or two of notice at a few mm/d, and below 0.7 a bed counts as watered, so that
# noise of the probes at the refill line is told once. The shares are common practice, no source.
SOON_SHARE = 0.8
FINE_SHARE = 0.7

EVIDENCE = Evidence.PUBLISHED
SOURCE = (
    "Allen et al. 1998, FAO-56, eq. 82, 83 and 87, pp. 162-171; garlic takes 30 % of the available water without stress: "
    "p = 0.30, Table 22, p. 163."
)


def judge(state: BedState, latched: bool) -> Verdict:
    """Is water due; `latched` where it was due at the last look and has not recovered since.

    Source: Allen et al. 1998, FAO-56, p. 171: irrigate when depletion reaches RAW.
    """
    water, bed = state.water, state.bed
    if water is None:
        return _not_known(state)
    litres = refill_litres(water.depletion_mm, bed.area_m2, bed.watering_efficiency)
    numbers = {
        "depletion_mm": water.depletion_mm,
        "raw_mm": water.raw_mm,
        "taw_mm": water.taw_mm,
        "p": water.p,
        "root_depth_m": water.root_depth_m,
        "litres": litres,
    }
    if bed.hose_l_min is not None:
        numbers["minutes"] = watering_minutes(litres, bed.hose_l_min)
    if water.depletion_mm >= water.raw_mm:
        return Verdict(Due.DUE, "at the refill line", numbers, tell=True)
    if latched and water.depletion_mm >= FINE_SHARE * water.raw_mm:
        return Verdict(Due.DUE, "not yet refilled", numbers, tell=True)
    if water.depletion_mm >= SOON_SHARE * water.raw_mm:
        return Verdict(Due.SOON, "near the refill line", numbers)
    return Verdict(Due.FINE, "above the refill line", numbers)


def _not_known(state: BedState) -> Verdict:
    if not state.bed.probes_of(Quantity.SOIL_MOISTURE):
        return Verdict(Due.NOT_KNOWN, "no probe")
    if state.moisture_heard_ms is None:
        return Verdict(Due.NOT_KNOWN, "never heard")
    return Verdict(Due.NOT_KNOWN, "silent", since_ms=state.moisture_heard_ms)
