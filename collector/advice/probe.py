"""Does a thermometer fail, by what the others make of its depth, have two each other's place, is a battery low? Pure."""

from __future__ import annotations

from collector.advice.faults import worst
from collector.advice.state import BedState
from collector.advice.verdict import Verdict
from collector.calls import Due, Evidence
from collector.model import Flag

EVIDENCE = Evidence.WEAK
SOURCE = (
    "The departure of each thermometer from an estimate by the others of its bed, over days; common practice, no source. "
    "How much is too much was chosen on measured soils (Bondville, Illinois, 1998; Twitchell Island, California, 2015)."
)
SWAPPED_SOURCE = (
    "A wave into even ground grows smaller and later with depth: Carslaw & Jaeger 1959, ch. 2 (from memory). How much is enough "
    "was chosen on measured soils (Bondville, Illinois, 1998; San Joaquin, California, 2022)."
)
BATTERY_SOURCE = "The voltage that the garden file gives for it; common practice, no source."

# The branch of the rule for each way to fail.
_REASONS = {Flag.DRIFTS: "drifts", Flag.SCATTERS: "jumps about", Flag.STANDS_STILL: "stands still"}


def judge(state: BedState, latched: Due | None) -> Verdict:  # noqa: ARG001  the readings alone tell
    """Should a probe be checked: the one that has failed longest. What marked its readings remembers, so this rule need not."""
    failing = worst(state.failing)
    if failing is None and state.swapped is not None:
        upper, lower = (probe.depth_m or 0.0 for probe in state.swapped)
        numbers = {"depth_m": upper, "other_m": lower}
        return Verdict(Due.DUE, "swapped", numbers, tell=True, evidence=Evidence.WEAK, source=SWAPPED_SOURCE)
    if failing is None and state.weak_battery is not None:
        return Verdict(
            Due.DUE, "battery", {"volts": state.weak_battery.value}, tell=True, since_ms=state.weak_battery.measured_ms
        )
    if failing is None:
        return Verdict(Due.FINE, "believed")
    numbers = {"failing": float(len(state.failing))}
    if failing.probe.depth_m is not None:
        numbers["depth_m"] = failing.probe.depth_m
    return Verdict(Due.DUE, _REASONS[failing.how], numbers, tell=True, since_ms=failing.since_ms)
