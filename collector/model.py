"""The nouns of Cooldepth: plain frozen values that every layer may pass on.

Nothing here does work, reads a clock or knows a wire. Depths are metres below the soil
surface, positive downward; times are milliseconds since 1970-01-01 UTC.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntFlag, StrEnum
from pathlib import Path

import msgspec
import numpy as np
from numpy.typing import NDArray

from collector.settings import (
    JsonSettings,
    ModbusSettings,
    MqttSettings,
    NotifySettings,
    Sdi12Settings,
    SerialSettings,
    StoreSettings,
    WeatherSettings,
)
from collector.units import Quantity, UnitSystem

# A larger payload is refused, keeping only this much of its head.
PAYLOAD_LIMIT_BYTES = 64 * 1024


# ---------------------------------------------------------------- the garden, as its file says


@dataclass(frozen=True, slots=True)
class Cover:
    """One layer above the soil; covers are listed from the soil upward."""

    material: str
    thickness_m: float
    since: dt.date | None = None


@dataclass(frozen=True, slots=True)
class Planting:
    """One variety in one bed; the base of the clove lies `depth_m` below the soil surface."""

    variety: str
    depth_m: float
    planted: dt.date
    kind: str = "hardneck"
    plants: int | None = None
    chilled_days: float | None = None
    chilled_at_c: float | None = None


class Place(StrEnum):
    """Where a probe is that serves a bed: in it, or where its cloves are chilled before and its bulbs cured after."""

    BED = "bed"
    CHILL_STORE = "chill store"
    CURING = "curing place"


@dataclass(frozen=True, slots=True)
class Probe:
    """One thing that measures one quantity; `depth_m` is None where depth has no meaning."""

    id: str
    bed_id: str
    quantity: Quantity
    address: str
    depth_m: float | None = None
    place: Place = Place.BED
    low_v: float | None = None  # of a battery: below this it is to be changed [V]


@dataclass(frozen=True, slots=True)
class Bed:
    """A bed of one crop; `field_capacity` and `wilting_point` are volume ratios [m³/m³].

    A bed with no moisture probe may leave these two and `area_m2` untold: then they are NaN.
    """

    id: str
    name: str
    area_m2: float
    soil: str | None
    field_capacity: float
    wilting_point: float
    cool_limit_c: float | None = None
    hose_l_min: float | None = None
    white_rot: bool = False  # it has had white rot, or may have
    nitrogen_g_m2: float | None = None  # what the feedings of a season are to give in all
    nitrogen_at_planting_g_m2: float = 0.0
    leaf_count_every_d: int = 7  # how often the grower is asked to look and count leaves; 0 for never
    shade_cloth: float | None = None  # the share of the sun that the grower's cloth takes [ratio]; None where there is none
    root_depth_m: float = 0.30
    watering_efficiency: float = 1.0
    covers: tuple[Cover, ...] = ()
    plantings: tuple[Planting, ...] = ()
    probes: tuple[Probe, ...] = ()

    @property
    def clove_depth_m(self) -> float | None:
        """Depth [m] of the shallowest planting: the one that warms first."""
        return min((planting.depth_m for planting in self.plantings), default=None)

    def probes_of(self, quantity: Quantity, place: Place = Place.BED) -> tuple[Probe, ...]:
        """The bed's probes of one quantity in one place, shallowest first."""
        wanted = [probe for probe in self.probes if probe.quantity is quantity and probe.place is place]
        return tuple(sorted(wanted, key=lambda probe: (probe.depth_m or 0.0, probe.id)))


@dataclass(frozen=True, slots=True)
class Feed:
    """A product to feed with: what its label tells, in mass percent; of a liquid also its density [kg/L]."""

    name: str
    n_pct: float
    p2o5_pct: float = 0.0
    k2o_pct: float = 0.0
    density_kg_l: float | None = None


@dataclass(frozen=True, slots=True)
class Injector:
    """An injector or siphon of 1 : `parts`; `of_mix` where the parts are of the mix, else they are of the water."""

    parts: float
    of_mix: bool | None = None  # None where the grower does not know which


@dataclass(frozen=True, slots=True)
class Garden:
    """All that the garden file says."""

    name: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    timezone: str
    units: UnitSystem
    store: StoreSettings
    beds: tuple[Bed, ...]
    mqtt: MqttSettings | None = None
    serial: tuple[SerialSettings, ...] = ()
    json: tuple[JsonSettings, ...] = ()
    sdi12: tuple[Sdi12Settings, ...] = ()
    modbus: tuple[ModbusSettings, ...] = ()
    notify: tuple[NotifySettings, ...] = ()
    weather: WeatherSettings | None = None
    metrics_port: int | None = None  # where figures are served, on this computer alone
    feeds: tuple[Feed, ...] = ()
    injector: Injector | None = None
    tank_l: float | None = None  # what the can, tank or bucket holds that feed is mixed in
    limits: Mapping[str, float] = field(default_factory=dict)  # the grower's own, by the names of `crop.method`
    daylength: str | None = None  # by which definition, by the names of `crop.daylength`; None for the usual one
    simulated: bool = False
    address: str | None = None  # of the pages, as phones reach them; without it messages hold no links

    def bed(self, bed_id: str) -> Bed | None:
        """The bed of that id, or None."""
        return next((bed for bed in self.beds if bed.id == bed_id), None)

    @property
    def store_path(self) -> Path:
        """The SQLite file, whatever kind the store is."""
        return self.store.path

    @property
    def probes(self) -> tuple[Probe, ...]:
        """Every probe of every bed, in file order."""
        return tuple(probe for bed in self.beds for probe in bed.probes)


# ---------------------------------------------------------------- the path of a reading


@dataclass(frozen=True, slots=True)
class Delivery:
    """How a broker numbered a message, and whether it says that it sends it again."""

    message_id: int
    again: bool


@dataclass(frozen=True, slots=True)
class Envelope:
    """What came over a wire, untouched. A payload over the limit holds its head; `size` its true length.

    `kept` is True for a message that the broker kept from an unknown time ago and sends to every new listener.
    """

    source: str
    payload: bytes
    received_ms: int
    size: int
    delivery: Delivery | None = None
    kept: bool = False


class Measurement(msgspec.Struct, frozen=True, gc=False):  # made for every record that comes: a tenth of a dataclass's time
    """One decoded number. `measured_ms` is None and `offset_ms` counts from arrival where the sender has no clock."""

    address: str
    unit: str | None
    value: float
    measured_ms: int | None
    offset_ms: int = 0


class Flag(IntFlag):
    """What is odd about a reading, or to be known of it. A flag never drops it."""

    NONE = 0
    OUT_OF_RANGE = 1
    RESET_VALUE = 2  # a DS18B20 that was read before it converted says 85 °C
    DISCONNECTED = 4  # -127 °C, by convention of the libraries that read the bus
    STUCK = 8
    JUMP = 16
    FUTURE = 32
    LONG_AGO = 64
    DUG_UP = 128  # the stake lay in the air
    DRIFTS = 256  # the other depths tell otherwise, more and more
    SCATTERS = 512  # it jumps about
    STANDS_STILL = 1024  # the soil moves, by the other depths, and it does not
    UNCALIBRATED = 2048  # a resistance, voltage or count that no curve tells the meaning of: the value is as it was sent
    AS_TOLD = 4096  # read by eye, or out of a table: the value is what a person says was true, and no calibration bends it

    @property
    def words(self) -> str:
        """The flags as lower-case words, space separated, as `export` writes them."""
        return " ".join(name.lower() for name in (flag.name for flag in self) if name)


# Readings with one of these are stored and shown as faults, but tell nothing of the soil.
DISTRUSTED = (
    Flag.OUT_OF_RANGE | Flag.RESET_VALUE | Flag.DISCONNECTED | Flag.JUMP | Flag.FUTURE | Flag.LONG_AGO
    | Flag.DUG_UP | Flag.DRIFTS | Flag.SCATTERS | Flag.STANDS_STILL | Flag.UNCALIBRATED
)  # fmt: skip
# What is odd about the time, and not about the number.
UNBELIEVED_TIME = Flag.FUTURE | Flag.LONG_AGO
# How a probe fails, as the watch over the probes finds; the checks of one reading at a time cannot.
FAILING = (Flag.STANDS_STILL, Flag.SCATTERS, Flag.DRIFTS)


class Reading(msgspec.Struct, frozen=True, gc=False):  # made for every record that comes, as Measurement is
    """A measurement claimed by a probe, in the one unit of its quantity.

    `raw` is the number as sent, before units and calibration, so that both can be replayed.
    """

    probe_id: str
    measured_ms: int
    value: float
    raw: float
    received_ms: int
    flags: Flag = Flag.NONE

    @property
    def trusted(self) -> bool:
        """True where the reading may speak for the soil."""
        return not self.flags & DISTRUSTED

    @property
    def time_believed(self) -> bool:
        """False where the time it was measured at, as sent, can hardly be."""
        return not (self.flags and self.flags & UNBELIEVED_TIME)


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """Readings of one probe, oldest first: parallel arrays of equal length, `flags` as in `Flag`."""

    probe_id: str
    time_ms: NDArray[np.int64]
    value: NDArray[np.float64]
    flags: NDArray[np.int64]

    def trusted(self) -> Series:
        """The same without the readings that tell nothing of the soil."""
        return self.kept((self.flags & int(DISTRUSTED)) == 0)

    def within(self, from_ms: int, to_ms: int) -> Series:
        """The same from one time on and before another [ms since 1970-01-01 UTC]."""
        return self.kept(slice(*np.searchsorted(self.time_ms, (from_ms, to_ms))))

    def kept(self, which: slice | NDArray[np.bool_]) -> Series:
        """The same with only some of the readings."""
        return Series(self.probe_id, self.time_ms[which], self.value[which], self.flags[which])


@dataclass(frozen=True, slots=True)
class Unclaimed:
    """A measurement whose address no probe of the garden file has."""

    address: str
    unit: str | None
    measured_ms: int
    value: float
    received_ms: int
    source: str


@dataclass(frozen=True, slots=True)
class Refusal:
    """A message, or one record of it, that is no reading, and why. `payload` is its head, `size` its true length."""

    received_ms: int
    source: str
    reason: str
    payload: bytes
    size: int


@dataclass(frozen=True, slots=True)
class Arrival:
    """When a numbered message first came that must not be written a second time, should it be sent again."""

    source: str
    message_id: int
    digest: bytes
    received_ms: int


@dataclass(frozen=True, slots=True)
class Spoken:
    """From when on [ms it was received] a probe sends its numbers in this unit; until told otherwise it is the usual one."""

    probe_id: str
    from_ms: int
    unit: str


@dataclass(frozen=True, slots=True)
class Batch:
    """What one commit writes, whole or not at all.

    A reading among `readings` replaces the one of its probe and time. Those in `beside` have a time that is only the
    time of arrival, or not to be believed: where another number holds that millisecond, they take the next free one.
    `numbered` is how many numbered messages the batch settles; `imported` is True where it came from a table and not
    over a wire.
    """

    readings: tuple[Reading, ...] = ()
    unclaimed: tuple[Unclaimed, ...] = ()
    refusals: tuple[Refusal, ...] = ()
    arrivals: tuple[Arrival, ...] = ()
    beside: tuple[Reading, ...] = ()
    numbered: int = 0
    imported: bool = False
    spoken: tuple[Spoken, ...] = ()

    @property
    def last_received_ms(self) -> int | None:
        """When the last reading of it came [ms]; None where none came over a wire now.

        The last and not the greatest: a clock that once ran ahead is put right by the next reading.
        """
        if self.imported:
            return None
        return max((some[-1].received_ms for some in (self.readings, self.beside) if some), default=None)
