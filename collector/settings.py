"""What the garden file says of wires, stores, phones and services: plain frozen values."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from pathlib import Path


@dataclass(frozen=True, slots=True)
class TlsSettings:
    """By whom the broker's certificate is to be signed, the system's authorities if None, and our own for brokers that ask."""

    ca_file: Path | None = None
    cert_file: Path | None = None
    key_file: Path | None = None


@dataclass(frozen=True, slots=True)
class MqttSettings:
    """Where the broker is and what to listen to; user and password come from the environment."""

    host: str
    topics: tuple[str, ...]
    port: int = 1883
    client_id: str = "cooldepth"
    user: str | None = None
    password: str | None = field(default=None, repr=False)
    shared_group: str | None = None  # collectors of one group share the messages among them
    tls: TlsSettings | None = None

    @property
    def filters(self) -> tuple[str, ...]:
        """What to subscribe to: the topics, shared with the group where there is one (MQTT 5, section 4.8.2)."""
        if self.shared_group is None:
            return self.topics
        return tuple(f"$share/{self.shared_group}/{topic}" for topic in self.topics)

    @property
    def embedded(self) -> bool:
        """True where the collector is to start a broker of its own, for trying out."""
        return self.host == "embedded"


@dataclass(frozen=True, slots=True)
class SerialSettings:
    """One serial port that speaks lines of SenML."""

    port: str
    baud: int = 9600


def frame_of(text: str) -> tuple[int, str, int]:
    """Bits, parity and stop bits of a serial line as "7E1" says them."""
    return int(text[0]), text[1], int(text[2])


@dataclass(frozen=True, slots=True)
class JsonField:
    """One number of a JSON message: where it stands (RFC 6901), its SenML unit, and the end of its address."""

    pointer: str
    unit: str | None
    address: str | None = None


@dataclass(frozen=True, slots=True)
class JsonSettings:
    """How to read JSON that is no SenML, of topics that match `topic`, or of serial port `port`.

    The address of a field is `address`, or the topic, and the field's own or its pointer. `time` points to when it was
    measured, told in `time_in`: "s" or "ms" since 1970, or "iso" (ISO 8601); without it, it counts from when it came.
    """

    fields: tuple[JsonField, ...]
    topic: str | None = None
    port: str | None = None
    address: str | None = None
    time: str | None = None
    time_in: str = "s"


@dataclass(frozen=True, slots=True)
class Sdi12Sensor:
    """A sensor on an SDI-12 bus: its address, how it is asked (M, M1 … C9), and the units of its values in their order."""

    address: str
    units: tuple[str, ...]
    command: str = "M"


@dataclass(frozen=True, slots=True)
class Sdi12Settings:
    """A serial adapter with an SDI-12 bus behind it; `frame` as "7E1" says how many bits, parity and stop bits."""

    port: str
    sensors: tuple[Sdi12Sensor, ...]
    name: str = "sdi12"
    every_s: int = 600
    baud: int = 1200
    frame: str = "7E1"
    crc: bool = True


@dataclass(frozen=True, slots=True)
class ModbusRegister:
    """A number in the registers of a Modbus device: where, of which type, times what, in which SenML unit, as which address."""

    device: int
    register: int
    kind: str
    type: str
    unit: str | None
    address: str
    scale: float = 1.0


@dataclass(frozen=True, slots=True)
class ModbusSettings:
    """A serial port with Modbus RTU devices; `frame` as "8N1" says how many bits, parity and stop bits."""

    port: str
    registers: tuple[ModbusRegister, ...]
    every_s: int = 600
    baud: int = 9600
    frame: str = "8N1"
    word_order: str = "big"


@dataclass(frozen=True, slots=True)
class NotifySettings:
    """One way to the grower's phone; the URL may hold a secret and never shows in a repr."""

    url: str = field(repr=False)
    url_env: str
    quiet_from: dt.time | None = None
    quiet_to: dt.time | None = None
    dug_up_at_once: bool = False  # a stake that was dug up is told in quiet hours too
    summary_at: dt.time | None = None  # when a message in the morning sums up what is due
    remind_after_h: int = 24  # what is due, and neither done nor seen, is told again after so long; 0 for never
    summary_only: bool = False  # only the summary, and what cannot wait for it, goes to this phone


@dataclass(frozen=True, slots=True)
class WeatherSettings:
    """The public weather service that may be asked, about every `every_h` hours; its key comes from the environment.

    Without a `url` it is asked at its usual address. With source "file" there is a `file`, and nobody is asked.
    """

    source: str
    url: str | None = None
    every_h: int = 3
    key: str | None = field(default=None, repr=False)
    file: Path | None = None


@dataclass(frozen=True, slots=True)
class StoreSettings:
    """Where readings are kept. `path` is the SQLite file, with influx that of the queue and the season records.

    `url`, `org` and `bucket` are set where `kind` is "influx"; its token comes from the environment, and
    `queue_most_bytes` bounds what may wait for it.
    """

    path: Path
    kind: str = "sqlite"
    url: str | None = None
    org: str | None = None
    bucket: str | None = None
    token: str | None = field(default=None, repr=False)
    queue_most_bytes: int = 1_024_000_000
    keep_raw_days: int | None = None  # with sqlite: how long single readings are kept; None for ever
