"""From what a probe says to what is so: curves, and from when on each of them holds. Pure.

A calibration is an event with a date. It changes no number that was sent: what a probe said is kept, and what it means is
worked out of that, anew where a calibration is entered late.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from collector.errors import QuestionError
from collector.units import UNIT_RULES, Quantity

Floats = NDArray[np.float64]

ZERO_C_IN_K = 273.15
# International practical temperature of platinum: IEC 60751, coefficients for -200 to 850 °C.
PT_A, PT_B, PT_C = 3.9083e-3, -5.775e-7, -4.183e-12
_PT_COLDEST_C, _PT_HOTTEST_C = -200.0, 850.0
# Units that a probe may speak in which are none of its quantity: only a curve tells what they mean (SenML, RFC 8428, section
# 12.1 and RFC 8798).
RAW_UNITS: Mapping[Quantity, frozenset[str]] = {
    Quantity.SOIL_TEMPERATURE: frozenset({"Ohm", "V", "mV", "count"}),
    Quantity.AIR_TEMPERATURE: frozenset({"Ohm", "V", "mV", "count"}),
    Quantity.SOIL_MOISTURE: frozenset({"V", "mV", "count", "Hz"}),
}
MOST_POINTS = 20


class Kind(StrEnum):
    """The kinds of curve."""

    POINTS = "points"
    TOPP = "topp"
    STEINHART_HART = "steinhart-hart"
    BETA = "beta"
    PLATINUM = "platinum"


# What each kind of curve that is no list of points takes, what it gives, and what its constants are called.
CONSTANTS: Mapping[Kind, tuple[str, ...]] = {
    Kind.POINTS: (),
    Kind.TOPP: (),
    Kind.STEINHART_HART: ("a", "b", "c"),
    Kind.BETA: ("beta_k", "ohm_at_25_c"),
    Kind.PLATINUM: ("ohm_at_0_c",),
}
_TEMPERATURES = (Quantity.SOIL_TEMPERATURE, Quantity.AIR_TEMPERATURE)


@dataclass(frozen=True, slots=True)
class Curve:
    """What a number that a probe sends means.

    `takes` is the SenML unit of that number: the one unit of the quantity, or one of `RAW_UNITS`. `points` are (sent, true),
    rising in what was sent; between them the curve is straight, and goes on so beyond; one point alone is an offset.
    With `per_k` what is sent rises by so much for each kelvin that the soil at `thermometer` is warmer than `at_c` [°C].
    """

    kind: Kind
    takes: str
    points: tuple[tuple[float, float], ...] = ()
    constants: tuple[float, ...] = ()
    per_k: float = 0.0
    at_c: float = 20.0
    thermometer: str | None = None

    def true(self, sent: Floats, soil_c: Floats | float | None = None) -> Floats:
        """What the numbers mean, in the unit of the quantity; NaN for what is none, and where a soil temperature is missing.

        Args:
            sent: n numbers in `takes`.
            soil_c: temperature of the soil then [°C], for curves that heed it; one, or n of them with NaN where not known.
        """
        if self.thermometer is not None:
            sent = sent - self.per_k * (np.asarray(np.nan if soil_c is None else soil_c) - self.at_c)
        match self.kind:
            case Kind.POINTS:
                return _through(self.points, sent)
            case Kind.TOPP:
                return topp_m3_m3(sent)
            case Kind.STEINHART_HART:
                a, b, c = self.constants
                return steinhart_hart_c(sent, a, b, c)
            case Kind.BETA:
                return beta_c(sent, *self.constants)
            case Kind.PLATINUM:
                return platinum_c(sent, *self.constants)


@dataclass(frozen=True, slots=True)
class Calibration:
    """From a moment on, measured by the probe's own time, a curve holds for a probe, until a later one does.

    `number` is 0 until it is kept. One that was taken back has `struck_ms`.
    """

    probe_id: str
    from_ms: int
    curve: Curve
    written_ms: int
    note: str = ""
    number: int = 0
    struck_ms: int | None = None


@dataclass(frozen=True, slots=True)
class Book:
    """All calibrations that hold; asks which curve is in force."""

    _turns: Mapping[str, tuple[tuple[int, ...], tuple[Curve, ...]]] = field(default_factory=dict)

    @classmethod
    def of(cls, calibrations: Sequence[Calibration]) -> Book:
        """Of two with the same beginning the one that was written later holds."""
        by_probe: dict[str, dict[int, Curve]] = {}
        for one in sorted(calibrations, key=lambda each: (each.written_ms, each.number)):
            if one.struck_ms is None:
                by_probe.setdefault(one.probe_id, {})[one.from_ms] = one.curve
        return cls(
            {probe_id: (tuple(sorted(turns)), tuple(turns[at] for at in sorted(turns))) for probe_id, turns in by_probe.items()}
        )

    @property
    def probes(self) -> frozenset[str]:
        """The probes that have a calibration."""
        return frozenset(self._turns)

    def curve(self, probe_id: str, at_ms: int) -> Curve | None:
        """The curve of a probe for what it measured at a moment [ms since 1970-01-01 UTC]; None where none holds."""
        turns = self._turns.get(probe_id)
        if turns is None:
            return None
        place = bisect_right(turns[0], at_ms)
        return turns[1][place - 1] if place else None


def refuse_impossible(curve: Curve, quantity: Quantity) -> None:
    """Raise QuestionError, which says what is wrong, for a curve that cannot be one of a probe for this quantity."""
    unit = UNIT_RULES[quantity].unit
    raw = RAW_UNITS.get(quantity, frozenset())
    if curve.takes != unit and curve.takes not in raw:
        known = ", ".join(repr(one) for one in (unit, *sorted(raw)))
        raise QuestionError(f"a curve of unit {curve.takes!r}: a probe for {quantity.value} sends {known}")
    numbers = [*curve.constants, curve.per_k, curve.at_c, *(number for point in curve.points for number in point)]
    if not all(map(math.isfinite, numbers)):
        raise QuestionError("a number of the curve is none")
    if len(curve.constants) != len(CONSTANTS[curve.kind]):
        wanted = ", ".join(CONSTANTS[curve.kind]) or "none"
        raise QuestionError(f"a curve {curve.kind.value} has {len(curve.constants)} constants; want {wanted}")
    if curve.per_k and curve.thermometer is None:
        raise QuestionError("a curve that heeds the soil's temperature has to name the thermometer that tells it")
    match curve.kind:
        case Kind.POINTS:
            _refuse_points(curve)
        case Kind.TOPP:
            _only_for(curve, quantity, (Quantity.SOIL_MOISTURE,), UNIT_RULES[Quantity.SOIL_MOISTURE].unit)
        case Kind.STEINHART_HART | Kind.BETA | Kind.PLATINUM:
            _only_for(curve, quantity, _TEMPERATURES, "Ohm")
            if curve.kind is not Kind.STEINHART_HART and min(curve.constants) <= 0:
                raise QuestionError(f"a curve {curve.kind.value} wants constants above 0, got {curve.constants}")


def sent_of(points: Sequence[tuple[float, float]], true: float) -> float:
    """What was sent where a curve through these points told this: the way back."""
    back = sorted((told, sent) for sent, told in points)
    return float(_through(back, np.array([true]))[0])


def _only_for(curve: Curve, quantity: Quantity, quantities: Sequence[Quantity], takes: str) -> None:
    if quantity not in quantities or curve.takes != takes:
        good_for = " and ".join(one.value for one in quantities)
        raise QuestionError(
            f"a curve {curve.kind.value} is for {good_for} from {takes!r}, not {quantity.value} from {curve.takes!r}"
        )


def _refuse_points(curve: Curve) -> None:
    if not 1 <= len(curve.points) <= MOST_POINTS:
        raise QuestionError(f"a curve through {len(curve.points)} points; want 1 to {MOST_POINTS}")
    sent, true = zip(*curve.points, strict=True)
    if any(after <= before for before, after in pairwise(sent)):
        raise QuestionError("points whose sent numbers do not rise: give each once, the lowest first")
    steps = {math.copysign(1.0, after - before) if after != before else 0.0 for before, after in pairwise(true)}
    if len(steps) > 1 or 0.0 in steps:
        raise QuestionError("points whose true values turn around or stand still; such a curve cannot be gone back on")
    if len(curve.points) == 1 and curve.takes not in {rule.unit for rule in UNIT_RULES.values()}:
        raise QuestionError(f"one point tells an offset, and of {curve.takes!r} two are needed")


def _through(points: Sequence[tuple[float, float]], sent: Floats) -> Floats:
    """Straight between the points, and on beyond the last two at each end."""
    if len(points) == 1:
        ((read, true),) = points
        return sent + (true - read)
    x, y = (np.array(column) for column in zip(*points, strict=True))
    place = np.clip(np.searchsorted(x, sent) - 1, 0, x.size - 2)
    slope = (y[place + 1] - y[place]) / (x[place + 1] - x[place])
    known = np.isfinite(sent)
    return np.where(known, y[place] + slope * (sent - x[place]), np.nan)


def topp_m3_m3(permittivity: Floats) -> Floats:
    """Water content of a mineral soil [m³/m³] by its relative permittivity; trusted from 3 to 40. Below 1 there is none: NaN.

    Source: Topp, Davis, Annan 1980, Water Resources Research 16:574-582.
    """
    e = np.where(permittivity >= 1.0, permittivity, np.nan)
    return -5.3e-2 + e * (2.92e-2 + e * (-5.5e-4 + e * 4.3e-6))


def steinhart_hart_c(ohm: Floats, a: float, b: float, c: float) -> Floats:
    """Temperature of a thermistor [°C] by its resistance [Ω]; NaN for a resistance that is none.

    Source: Steinhart & Hart 1968, Deep-Sea Research 15:497-503: 1 / T = a + b ln R + c (ln R)³.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        log = np.log(np.where(ohm > 0, ohm, np.nan))
        kelvin = 1.0 / (a + b * log + c * log**3)
        return np.where(kelvin > 0, kelvin, np.nan) - ZERO_C_IN_K


def beta_c(ohm: Floats, beta_k: float, ohm_at_25_c: float) -> Floats:
    """Temperature of a thermistor [°C] by its resistance [Ω], its beta [K] and its resistance at 25 °C [Ω].

    Source: the equation of makers' data sheets (from memory): R = R25 exp(beta (1 / T - 1 / 298.15 K)).
    """
    return steinhart_hart_c(ohm, 1.0 / (25.0 + ZERO_C_IN_K) - math.log(ohm_at_25_c) / beta_k, 1.0 / beta_k, 0.0)


def platinum_c(ohm: Floats, ohm_at_0_c: float = 100.0) -> Floats:
    """Temperature of a platinum thermometer [°C] by its resistance [Ω], -200 to 850 °C; NaN outside.

    Source: IEC 60751: R = R0 (1 + A T + B T²), below 0 °C with C (T - 100) T³ more. Solved below 0 by Newton's steps.
    """
    share = np.asarray(ohm, dtype=np.float64) / ohm_at_0_c
    with np.errstate(invalid="ignore"):
        warm_c = (-PT_A + np.sqrt(PT_A**2 - 4 * PT_B * (1 - share))) / (2 * PT_B)
        cold_c = np.minimum(warm_c, 0.0)
        for _ in range(6):
            error = 1 + cold_c * (PT_A + cold_c * (PT_B + PT_C * (cold_c - 100) * cold_c)) - share
            slope = PT_A + 2 * PT_B * cold_c + PT_C * (4 * cold_c**3 - 300 * cold_c**2)
            cold_c = cold_c - error / slope
        found_c = np.where(share >= 1, warm_c, cold_c)
        return np.where((found_c >= _PT_COLDEST_C) & (found_c <= _PT_HOTTEST_C), found_c, np.nan)


def to_plain(curve: Curve) -> dict[str, object]:
    """A curve as what JSON can hold."""
    plain: dict[str, object] = {"kind": curve.kind.value, "takes": curve.takes}
    if curve.points:
        plain["points"] = [list(point) for point in curve.points]
    if curve.constants:
        plain["constants"] = list(curve.constants)
    if curve.thermometer is not None:
        plain |= {"per_k": curve.per_k, "at_c": curve.at_c, "thermometer": curve.thermometer}
    return plain


def from_plain(plain: Mapping[str, object]) -> Curve:
    """The curve of `to_plain`."""
    points = tuple((float(sent), float(true)) for sent, true in plain.get("points", ()))  # type: ignore[attr-defined]
    constants = tuple(float(one) for one in plain.get("constants", ()))  # type: ignore[attr-defined]
    more = {name: plain[name] for name in ("per_k", "at_c", "thermometer") if name in plain}
    return Curve(Kind(str(plain["kind"])), str(plain["takes"]), points, constants, **more)  # type: ignore[arg-type]
