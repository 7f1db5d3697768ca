"""What probes say of a simulated bed: the truth with their errors and faults, as SenML packs."""

from __future__ import annotations

import math
import random
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from typing import NamedTuple

import msgspec

from collector.model import Probe
from collector.simulate.bed import SimulatedBed
from collector.simulate.weather import Moment
from collector.units import UNIT_RULES, Quantity

# Every name in our packs begins so (RFC 9039); thermometers go on with `ow:`, the rest with `mac:`.
BASE_NAME = "urn:dev:"
# What a DS18B20 says when it is read before it has converted (data sheet, p. 4, table 1).
RESET_VALUE_C = 85.0
TIP_MM = 0.2  # a rain gauge tips once for so much; invented


class Kind(Enum):
    """What can go wrong."""

    SILENT = "the stake says nothing"
    RESET = "the thermometer is read too early, now and then"
    STUCK = "the probe repeats its last value"
    DUG_UP = "the stake lies in the air"


@dataclass(frozen=True, slots=True)
class Fault:
    """Something wrong from one moment to another (not included), with one probe or, with None, the whole stake."""

    kind: Kind
    first_ms: int
    end_ms: int
    probe_id: str | None = None


@dataclass(frozen=True, slots=True)
class Manner:
    """How a kind of probe strays: half its width of offset, its noise, and the step of its answer, in its own unit."""

    offset: float
    noise: float
    step: float


# DS18B20: ±0.5 °C, steps of 1/16 °C (data sheet, pp. 1 and 4). The others are invented, of usual size.
MANNERS = {
    Quantity.SOIL_TEMPERATURE: Manner(0.15, 0.03, 1 / 16),
    Quantity.AIR_TEMPERATURE: Manner(0.15, 0.05, 1 / 16),
    Quantity.SOIL_MOISTURE: Manner(0.004, 0.0012, 0.001),
    Quantity.RELATIVE_HUMIDITY: Manner(1.5, 0.5, 0.1),
    Quantity.SOLAR_IRRADIANCE: Manner(0.0, 2.0, 1.0),
    Quantity.WIND_SPEED: Manner(0.0, 0.2, 0.1),
    Quantity.RAIN: Manner(0.0, 0.0, TIP_MM),
    Quantity.BATTERY: Manner(0.02, 0.004, 0.01),
}


class Record(NamedTuple):
    """One number that a probe says, and when."""

    name: str
    unit: str
    value: float
    time_ms: int


@dataclass(slots=True)
class _Voice:
    """A probe with its own luck and offset, the name and unit it speaks with, and what it said last."""

    probe: Probe
    manner: Manner
    luck: random.Random
    offset: float
    name: str
    unit: str
    said: float | None = None


def _voice(probe: Probe) -> _Voice:
    manner = MANNERS[probe.quantity]
    luck = random.Random(zlib.crc32(probe.id.encode()))
    offset = luck.uniform(-1.0, 1.0) * manner.offset
    return _Voice(probe, manner, luck, offset, probe.address.removeprefix(BASE_NAME), UNIT_RULES[probe.quantity].unit)


class SimulatedStake:
    """Some probes on one stake, with one battery and one voice."""

    def __init__(
        self, topic: str, probes: Sequence[Probe], faults: Sequence[Fault], volts_full: float, volts_per_day: float
    ) -> None:
        self.topic = topic
        self._voices = [_voice(probe) for probe in probes]
        self._faults = tuple(faults)
        self._volts_full = volts_full
        self._volts_per_day = volts_per_day
        self._rain_mm = 0.0
        self._first_ms: int | None = None

    def read(self, bed: SimulatedBed, moment: Moment) -> list[Record]:
        """What the stake measures in this step; a silent one gathers rain, but says nothing."""
        if self._first_ms is None:
            self._first_ms = moment.time_ms
        self._rain_mm += moment.rain_mm
        wrong_now = [fault for fault in self._faults if fault.first_ms <= moment.time_ms < fault.end_ms]
        records = []
        for voice in self._voices:
            wrong = [fault.kind for fault in wrong_now if fault.probe_id in (None, voice.probe.id)]
            if Kind.SILENT in wrong:
                continue
            voice.said = self._say(voice, bed, moment, wrong)
            records.append(Record(voice.name, voice.unit, voice.said, moment.time_ms))
        return records

    def _say(self, voice: _Voice, bed: SimulatedBed, moment: Moment, wrong: Sequence[Kind]) -> float:
        quantity, manner = voice.probe.quantity, voice.manner
        if Kind.STUCK in wrong and voice.said is not None:
            return voice.said
        if Kind.RESET in wrong and quantity is Quantity.SOIL_TEMPERATURE and voice.luck.random() < 0.1:
            return RESET_VALUE_C
        if quantity is Quantity.RAIN:
            tips = int(self._rain_mm / TIP_MM)
            self._rain_mm -= tips * TIP_MM
            return round(tips * TIP_MM, 1)
        true = self._truth(voice.probe, bed, moment, Kind.DUG_UP in wrong)
        strayed = true + voice.offset + voice.luck.gauss(0.0, manner.noise)
        value = round(round(strayed / manner.step) * manner.step, 4)
        if quantity is Quantity.SOIL_TEMPERATURE or quantity is Quantity.AIR_TEMPERATURE:
            return value
        return min(max(value, 0.0), 100.0) if quantity is Quantity.RELATIVE_HUMIDITY else max(value, 0.0)

    def _truth(self, probe: Probe, bed: SimulatedBed, moment: Moment, dug_up: bool) -> float:
        depth_m = probe.depth_m or 0.0
        match probe.quantity:
            case Quantity.SOIL_TEMPERATURE:
                return moment.air_c if dug_up else bed.temperature_c(depth_m)
            case Quantity.SOIL_MOISTURE:
                return 0.0 if dug_up else bed.moisture_m3_m3(depth_m)
            case Quantity.AIR_TEMPERATURE:
                return moment.air_c
            case Quantity.RELATIVE_HUMIDITY:
                return moment.humidity_pct
            case Quantity.SOLAR_IRRADIANCE:
                return moment.sun_w_m2
            case Quantity.WIND_SPEED:
                return moment.wind_m_s
            case _:
                days = (moment.time_ms - (self._first_ms or 0)) / 86_400_000
                return self._volts_full - self._volts_per_day * days + 0.004 * (moment.air_c - 15.0)


class _Entry(msgspec.Struct, omit_defaults=True):
    """A SenML record: what has its default is left out (RFC 8428, section 4.1)."""

    bn: str = ""
    bt: int = 0
    n: str = ""
    u: str = ""
    v: float = math.nan
    t: int = 0


def pack(records: Sequence[Record]) -> bytes:
    """The records as one SenML pack in JSON (RFC 8428); there must be one at least."""
    base_ms = records[0].time_ms
    entries = [_Entry(n=name, u=unit, v=value, t=(time_ms - base_ms) // 1000) for name, unit, value, time_ms in records]
    entries[0].bn, entries[0].bt = BASE_NAME, base_ms // 1000
    return msgspec.json.encode(entries)
