"""Calibrating a probe where it stands: what is true there now, against what it says; from now on, or with a point before.

For a curve of another kind, or one that holds from another day on, there is `cooldepth calibrate`.
"""

from __future__ import annotations

from collections.abc import Sequence

from collector.advice.voice import voice_of
from collector.calibration import Book, Calibration, Curve, Kind, refuse_impossible, sent_of
from collector.errors import QuestionError
from collector.model import Flag, Garden, Probe, Reading
from collector.ports import CalibrationStore, Clock, Readings
from collector.units import UNIT_RULES, Quantity

# What it said so long ago is not what it says now.
NOW_MS = 15 * 60_000
# A thermometer that is further off than this is broken, or is not where it is said to be. Common practice, no source.
MOST_OFF_K = 5.0
_TEMPERATURES = (Quantity.SOIL_TEMPERATURE, Quantity.AIR_TEMPERATURE)


class Calibrating:
    """The calibrations of a garden's probes, and new ones by what is true now. What the stores raise is raised on."""

    def __init__(self, garden: Garden, readings: Readings, season: CalibrationStore, clock: Clock) -> None:
        """It opens nothing: the stores are the caller's to close."""
        self._probes = {probe.id: probe for probe in garden.probes}
        self._voice = voice_of(garden)
        self._readings = readings
        self._season = season
        self._clock = clock

    def holding(self) -> Sequence[tuple[Probe, Calibration]]:
        """What was not taken back, with its probe, the newest first; that of probes which are gone is left out."""
        found = [one for one in self._season.calibrations() if one.struck_ms is None and one.probe_id in self._probes]
        return [(self._probes[one.probe_id], one) for one in sorted(found, key=lambda one: (-one.from_ms, -one.number))]

    def true_now(self, probe_id: str, value: float, note: str = "", *, join: bool = False) -> Calibration:
        """Keep that the probe's value is this now, in the unit of its quantity, from now on.

        One point is an offset. With `join` the points that hold now stay, and this is one more.

        Raises QuestionError for an unknown probe, one that has not spoken of late, a value that its quantity cannot be, and
        where what it says is told by a curve that one point cannot change.
        """
        probe = self._probes.get(probe_id)
        if probe is None:
            raise QuestionError(f"probe {probe_id!r}: the garden file names no such probe")
        rule, now_ms = UNIT_RULES[probe.quantity], self._clock.now_ms()
        low, high = rule.possible
        if not low <= value <= high:
            raise QuestionError(f"{value:g} {rule.unit} is no {probe.quantity.value}; want {low:g} to {high:g}")
        said = self._readings.latest().get(probe_id)
        if said is None or not now_ms - NOW_MS <= said.measured_ms <= now_ms + NOW_MS:
            raise QuestionError("It has not spoken in the last quarter of an hour, so there is nothing to hold that against.")
        before = Book.of(self._season.calibrations()).curve(probe_id, now_ms)
        if said.flags & (Flag.UNCALIBRATED | Flag.RESET_VALUE | Flag.DISCONNECTED):
            raise QuestionError("What it says is no value of the soil, so one point cannot tell what it means.")
        if before is not None and (before.kind is not Kind.POINTS or before.thermometer is not None):
            raise QuestionError(f"What it says is told by a curve ({before.kind.value}); change that with: cooldepth calibrate")
        if probe.quantity in _TEMPERATURES and abs(value - said.value) > MOST_OFF_K:
            raise QuestionError(
                f"It says {self._voice.temperature(said.value)} now, {self._voice.warmer_by(abs(value - said.value))} from that. "
                "No sound thermometer is so far off: is it the right one, and has it been there for ten minutes?"
            )
        sent, takes = _sent(probe, said, before)
        kept = before.points if join and before is not None and before.takes == takes else ()
        points = sorted({point for point in kept if point[0] != sent} | {(sent, value)})
        curve = Curve(Kind.POINTS, takes, tuple(points))
        refuse_impossible(curve, probe.quantity)
        return self._season.calibrate(Calibration(probe_id, now_ms, curve, now_ms, note))

    def take_back(self, number: int) -> Calibration:
        """Take a calibration back. Raises QuestionError for an unknown number."""
        return self._season.strike_calibration(number, self._clock.now_ms())


def _sent(probe: Probe, said: Reading, before: Curve | None) -> tuple[float, str]:
    """What a curve is to take of what the probe said last, and its unit."""
    if before is None:
        return said.value, UNIT_RULES[probe.quantity].unit  # told by its unit alone
    return sent_of(before.points, said.value), before.takes
