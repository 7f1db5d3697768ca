"""Is water due: what the root zone lacks, now and in the days ahead, against what it may lack without stress. Pure."""

from __future__ import annotations

import numpy as np

from collector.advice.season.gates import kept_dry, rests
from collector.advice.state import DAY_MS, HOUR_MS, BedState, WaterState
from collector.advice.verdict import Verdict
from collector.calls import Due, Evidence
from collector.model import Bed
from collector.outlook import WaterAhead
from collector.soil.water import refill_litres, watering_minutes
from collector.units import Quantity

# Shares of the readily available water (RAW). Water is due at RAW itself, which is published; "soon"
# from 0.8 gives a day or two of notice at a few mm/d, and below 0.7 a bed counts as watered, so that
# noise of the probes at the refill line is told once. The shares are common practice, no source.
SOON_SHARE = 0.8
FINE_SHARE = 0.7

# Below this share of RAW a bed has been watered, whatever was foreseen of it. Common practice, no source.
WATERED_SHARE = 0.1

# Where the dry-down is foreseen it is soon this long before, which leaves two days' notice. Common practice, no source.
LEAD_MS = 60 * HOUR_MS
# What was foreseen is no longer believed where the probes now find so much else [share of RAW, and mm at least].
ASTRAY_SHARE, ASTRAY_MM = 0.25, 2.0

EVIDENCE = Evidence.PUBLISHED
SOURCE = (
    "Allen et al. 1998, FAO-56, eq. 82, 83 and 87, pp. 162-171; garlic takes 30 % of the available water without stress: "
    "p = 0.30, Table 22, p. 163."
)


def judge(state: BedState, latched: Due | None) -> Verdict:
    """Is water due; `latched` is what it was when told, where it has not recovered since.

    Source: Allen et al. 1998, FAO-56, p. 171: irrigate when depletion reaches RAW.
    """
    water = state.water
    if water is None:
        return _not_known(state)
    numbers = {
        "depletion_mm": water.depletion_mm,
        "raw_mm": water.raw_mm,
        "taw_mm": water.taw_mm,
        "p": water.p,
        "root_depth_m": water.root_depth_m,
        **_amount(state.bed, water.depletion_mm),
    }
    if not state.bed.plantings:
        return Verdict(Due.FINE, "no planting", numbers)
    if (resting := rests(state)) is not None:
        return Verdict(Due.FINE, resting, numbers)
    if state.season is not None and kept_dry(state.season):
        return Verdict(Due.FINE, "kept dry", numbers)
    ahead = foreseen(state, water)
    if ahead is not None:
        numbers["give_or_take_mm"] = give_or_take_mm(state, ahead)
    was_due = latched is not None and latched is not Due.SOON
    if water.depletion_mm >= water.raw_mm:
        return Verdict(Due.DUE, "at the refill line", numbers, tell=True)
    if was_due and water.depletion_mm >= FINE_SHARE * water.raw_mm:
        return Verdict(Due.DUE, "not yet refilled", numbers, tell=True)
    astray = ahead is None and state.outlook is not None and state.outlook.water is not None
    if astray and latched is Due.SOON and water.depletion_mm >= WATERED_SHARE * water.raw_mm:
        # What was told by a forecast that the probes now contradict stands until it is made anew: that is no recovery.
        return Verdict(Due.SOON, "near the refill line", numbers, tell=True, foreseen=True)
    if ahead is None:
        soon = water.depletion_mm >= SOON_SHARE * water.raw_mm
        return Verdict(Due.SOON, "near the refill line", numbers) if soon else Verdict(Due.FINE, "above the refill line", numbers)
    numbers |= {
        name: float(at_ms)
        for name, at_ms in (("by_ms", ahead.refill_ms), ("early_ms", ahead.early_ms), ("late_ms", ahead.late_ms))
        if at_ms is not None
    }
    lead_ms = LEAD_MS + (DAY_MS if latched else 0)
    if ahead.refill_ms is not None and ahead.refill_ms <= state.now_ms + lead_ms:
        return Verdict(
            Due.SOON,
            "would reach the refill line",
            {**numbers, "litres_now": numbers["litres"], **_amount(state.bed, water.raw_mm)},
            tell=True,
            foreseen=True,
        )
    return Verdict(Due.FINE, "above the refill line", numbers)


def foreseen(state: BedState, water: WaterState) -> WaterAhead | None:
    """What the outlook says of the root zone; None where it says nothing, or other than the probes say by now."""
    ahead = state.outlook.water if state.outlook else None
    if ahead is None:
        return None
    foreseen_mm = float(np.interp(state.now_ms, ahead.time_ms, ahead.depletion_mm))
    astray = abs(foreseen_mm - water.depletion_mm) > max(ASTRAY_MM, ASTRAY_SHARE * water.raw_mm)
    return None if astray else ahead


def give_or_take_mm(state: BedState, ahead: WaterAhead) -> float:
    """Half the 80 % band of what the root zone lacks now [mm]."""
    low_mm, high_mm = (float(np.interp(state.now_ms, ahead.time_ms, end_mm)) for end_mm in (ahead.low_mm, ahead.high_mm))
    return (high_mm - low_mm) / 2.0


def _amount(bed: Bed, depletion_mm: float) -> dict[str, float]:
    """The water that refills what is lacking [litres], and how long the hose runs for it [minutes]."""
    litres = refill_litres(depletion_mm, bed.area_m2, bed.watering_efficiency)
    return {"litres": litres} | ({} if bed.hose_l_min is None else {"minutes": watering_minutes(litres, bed.hose_l_min)})


def _not_known(state: BedState) -> Verdict:
    if not state.bed.probes_of(Quantity.SOIL_MOISTURE):
        return Verdict(Due.NOT_KNOWN, "no probe")
    if state.moisture_heard_ms is None:
        return Verdict(Due.NOT_KNOWN, "never heard")
    return Verdict(Due.NOT_KNOWN, "silent", since_ms=state.moisture_heard_ms)
