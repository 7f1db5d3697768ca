"""Putting probes to use: which address is in the grower's hand, what it may be, claiming it, and whether it sits well."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from collector.advice import mounted
from collector.advice.mounting import Spot, is_there, spots
from collector.advice.rounds import series_of
from collector.advice.voice import voice_of
from collector.calibration import RAW_UNITS
from collector.errors import QuestionError
from collector.model import Bed, Garden, Probe, Unclaimed
from collector.ports import Clock, GardenKeeper, Readings
from collector.units import UNIT_RULES, Quantity

# A hand is some ten degrees warmer than a garden, and a thermometer in its sleeve takes up a degree of that within a minute;
# sun and wind move those that lie about too, but not so much sooner than all the others. Common practice, no source.
MOVED_K, MOVED_TIMES = 1.0, 2.0
# What was said so long before the hand closed around it counts as the beginning.
BEFORE_MS = 15 * 60_000
LETTERS = {
    Quantity.SOIL_TEMPERATURE: "t",
    Quantity.SOIL_MOISTURE: "m",
    Quantity.AIR_TEMPERATURE: "air",
    Quantity.RELATIVE_HUMIDITY: "rh",
    Quantity.SOLAR_IRRADIANCE: "sun",
    Quantity.WIND_SPEED: "wind",
    Quantity.RAIN: "rain",
    Quantity.BATTERY: "battery",
}
# In these a place has a depth.
IN_SOIL = frozenset({Quantity.SOIL_TEMPERATURE, Quantity.SOIL_MOISTURE})


@dataclass(frozen=True, slots=True)
class Moved:
    """A thermometer since the hand closed: its last word [°C], and how far it has moved since the first [K].

    `probe` is the one that has the address, or None; `words` counts what it has said since then.
    """

    address: str
    probe: Probe | None
    last_c: float
    last_ms: int
    moved_k: float
    words: int


class Claims:
    """Answers which address is which, and writes a new probe into the garden file. What the store raises is raised on."""

    def __init__(self, garden: Garden, readings: Readings, clock: Clock, keeper: GardenKeeper | None = None) -> None:
        """It opens nothing. Without a keeper nothing can be claimed from here."""
        self._garden = garden
        self._readings = readings
        self._clock = clock
        self._keeper = keeper
        self._voice = voice_of(garden)

    def strangers(self) -> Sequence[Unclaimed]:
        """The newest word of each address that no probe has."""
        claimed = {probe.address for probe in self._garden.probes}
        return tuple(one for one in self._readings.unclaimed() if one.address not in claimed)

    def spots(self, bed: Bed) -> tuple[Spot, ...]:
        """The places in a bed that are worth a probe, and why: thermometers first, from the top down."""
        return spots(bed, self._voice)

    def free_spots(self, bed: Bed, quantities: Sequence[Quantity]) -> tuple[Spot, ...]:
        """The places in a bed that are worth a probe of these quantities and have none yet."""
        return tuple(spot for spot in self.spots(bed) if spot.quantity in quantities and not is_there(spot, bed))

    def in_hand(self, since_ms: int) -> tuple[Sequence[Moved], Moved | None]:
        """All thermometers by how far they have moved since then [ms since 1970 UTC], and the one that is in the hand.

        None where none has moved much further than all the others.
        """
        now_ms = self._clock.now_ms()
        said: dict[str, list[tuple[int, float]]] = {}
        for one in self._readings.unclaimed_since(since_ms - BEFORE_MS):
            factors = UNIT_RULES[Quantity.SOIL_TEMPERATURE].accepts.get(one.unit or "")
            if factors is not None:
                said.setdefault(one.address, []).append((one.measured_ms, factors[0] * one.value + factors[1]))
        probes = {probe.address: probe for probe in self._garden.probes}
        for probe in probes.values():
            if probe.quantity in (Quantity.SOIL_TEMPERATURE, Quantity.AIR_TEMPERATURE):
                series = self._readings.series(probe.id, since_ms - BEFORE_MS, now_ms + 1)
                said[probe.address] = list(zip(series.time_ms.tolist(), series.value.tolist(), strict=True))
        moved = [_moved(address, probes.get(address), words, since_ms) for address, words in said.items() if words]
        moved.sort(key=lambda one: -abs(one.moved_k))
        others_k = abs(moved[1].moved_k) if len(moved) > 1 else 0.0
        found = moved and abs(moved[0].moved_k) >= max(MOVED_K, MOVED_TIMES * others_k)
        return moved, moved[0] if found else None

    def claim(self, address: str, bed_id: str, quantity: Quantity, depth_m: float | None, probe_id: str | None = None) -> Probe:
        """Give an address to a new probe of a bed, and write that into the garden file; its id is made up where none is given.

        Raises QuestionError where there is no such bed, the address has a probe, the depth does not fit the quantity, or the
        garden file cannot be changed from here.
        """
        bed = self._garden.bed(bed_id)
        if bed is None:
            known = ", ".join(one.id for one in self._garden.beds)
            raise QuestionError(f"bed {bed_id!r}: the garden file names no such bed; want one of: {known}")
        owner = next((probe for probe in self._garden.probes if probe.address == address), None)
        if owner is not None:
            raise QuestionError(f"{address}: probe {owner.id} of bed {owner.bed_id} has this address already")
        if (depth_m is None) == (quantity in IN_SOIL):
            wants = "has to have a depth" if depth_m is None else "has no depth"
            raise QuestionError(f"{address}: a probe for {quantity.value} {wants}")
        if depth_m is not None and not 0.0 <= depth_m <= 2.0:
            raise QuestionError(f"{address}: {depth_m * 100:g} cm is no depth for a probe; want 0 to 200 cm below the soil")
        for heard in self.strangers():
            if heard.address == address and not _fits(heard.unit, quantity):
                likely = " or ".join(one.value for one in may_be(heard.unit)) or "nothing that a bed has"
                raise QuestionError(f"{address}: it speaks in {heard.unit or 'no unit'}, which is {likely}, not {quantity.value}")
        if self._keeper is None:
            raise QuestionError("the garden file cannot be changed from here; write the probe into it")
        probe = Probe(probe_id or self._new_id(bed, quantity, depth_m), bed_id, quantity, address, depth_m)
        self._keeper.add_probe(probe)
        return probe

    def mounted(self, bed: Bed) -> tuple[mounted.Look, ...]:
        """How each probe of a bed sits, by what it has said of late, and whether their order in depth is right."""
        now_ms = self._clock.now_ms()
        series = series_of(bed, self._readings, now_ms - mounted.LOOKS_BACK_MS, now_ms + 1)
        return mounted.mounted(bed, series, self._readings.latest(), now_ms, self._voice)

    def _new_id(self, bed: Bed, quantity: Quantity, depth_m: float | None) -> str:
        """ "terrace-t12": free in the garden."""
        taken = {probe.id for probe in self._garden.probes}
        depth = "" if depth_m is None else re.sub(r"\.", "-", f"{depth_m * 100:g}")
        wanted = f"{bed.id}-{LETTERS[quantity]}{depth}"
        names = (wanted, *(f"{wanted}-{number}" for number in range(2, len(taken) + 3)))
        return next(name for name in names if name not in taken)


def may_be(unit: str | None) -> tuple[Quantity, ...]:
    """What a probe that speaks in this unit may measure, the likeliest first."""
    return tuple(
        quantity for quantity, rule in UNIT_RULES.items() if (unit or "") in rule.accepts or (unit is None and rule.unit == "/")
    )


def _fits(unit: str | None, quantity: Quantity) -> bool:
    """Whether a probe for a quantity may speak so: in one of its units, or in one that a calibration tells the meaning of."""
    return quantity in may_be(unit) or (unit or "") in RAW_UNITS.get(quantity, ())


def _moved(address: str, probe: Probe | None, words: Sequence[tuple[int, float]], since_ms: int) -> Moved:
    """From the last word before the hand closed, or the first after, to the last."""
    first = sum(at_ms < since_ms for at_ms, _ in words)
    begin_c, (last_ms, last_c) = words[max(first - 1, 0)][1], words[-1]
    return Moved(address, probe, last_c, last_ms, last_c - begin_c, len(words) - first)
