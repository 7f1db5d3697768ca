"""From the number that a probe sends to the value in the one unit of its quantity, by its unit or its curve. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from collector.calibration import RAW_UNITS, Curve
from collector.model import Probe
from collector.units import UNIT_RULES

# For how long a temperature of the soil stands for the one that a calibration heeds: it moves by a degree or two in that.
SOIL_PATIENCE_MS = 60 * 60 * 1000


class Unfit(StrEnum):
    """Why a number is no value of its probe."""

    UNIT = "unit"
    IMPOSSIBLE = "impossible"


@dataclass(frozen=True, slots=True)
class Refused:
    """What is wrong with a number, and in a sentence, whose."""

    why: Unfit
    reason: str


@dataclass(frozen=True, slots=True)
class Untold:
    """A number in a unit that only a curve tells the meaning of, and none holds."""

    unit: str


def value_of(
    probe: Probe, unit: str | None, number: float, curve: Curve | None, soil_c: float | None
) -> float | Refused | Untold:
    """The value that a number stands for.

    Args:
        probe: who sends it.
        unit: the SenML unit it came with.
        number: as it was sent.
        curve: the one that holds for when it was measured.
        soil_c: temperature of the soil then [°C], for a curve that heeds it; where it is not known, it heeds none.
    """
    rule = UNIT_RULES[probe.quantity]
    # A ratio has no unit, so it may come without one; nothing else may (RFC 8428, section 4.5.2).
    told = rule.unit if unit is None and rule.unit == "/" else unit or ""
    factors = rule.accepts.get(told)
    if factors is not None:
        value = factors[0] * number + factors[1]
        if curve is not None and curve.takes == rule.unit:
            value = _by(curve, value, soil_c)
        # A unit of the quantity needs no other curve: the board itself has learned to tell it.
    elif curve is not None and curve.takes == told:
        value = _by(curve, number, soil_c)
    elif told in RAW_UNITS.get(probe.quantity, ()):
        return Untold(told)
    else:
        got = "no unit" if unit is None else f"unit {unit!r}"
        wanted = " or ".join(repr(unit) for unit in rule.accepts)
        return Refused(Unfit.UNIT, f"{probe.address}: {got}; probe {probe.id} measures {probe.quantity}, which wants {wanted}")
    low, high = rule.possible
    if not low <= value <= high:
        got = f"{number:g} {unit or ''}".rstrip()
        by = "" if curve is None else f", by its calibration {value:g} {rule.unit},"
        wanted = f"{low:g} to {high:g} {rule.unit}"
        return Refused(Unfit.IMPOSSIBLE, f"{probe.address}: {got}{by} is no {probe.quantity} (probe {probe.id}); want {wanted}")
    return value


def _by(curve: Curve, number: float, soil_c: float | None) -> float:
    return float(curve.true(np.array([number]), curve.at_c if soil_c is None else soil_c)[0])
