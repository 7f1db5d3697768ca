"""Every key that the garden file knows, and how the value of one key is judged.

One table, `KEYS`: the reader of the file goes by it, its error messages suggest from it, and
the README is tested against it. Pure.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from collector.crop.daylength import Definition
from collector.crop.method import USUAL
from collector.model import Place
from collector.soil.textures import TEXTURES
from collector.units import Quantity, UnitSystem


class Kind(Enum):
    """What a value must be; the words of an error message."""

    TEXT = "text"
    NUMBER = "a number"
    WHOLE = "a whole number"
    FLAG = "true or false"
    DATE = "a date"
    TEXTS = "a list of texts"


@dataclass(frozen=True, slots=True)
class Key:
    """One key: `table` is the header it stands under, `low` and `high` the values that are possible at all."""

    table: str
    name: str
    kind: Kind
    about: str
    unit: str | None = None
    required: bool = False
    default: object = None
    low: float = -math.inf
    high: float = math.inf
    choices: tuple[str, ...] = ()

    @property
    def wanted(self) -> str:
        """What the value must be, in words."""
        if self.choices:
            return "one of " + ", ".join(self.choices)
        words = self.kind.value
        if self.kind is Kind.DATE:
            words += " without quotes, as 2026-10-20"
        if self.unit:
            words += f" [{self.unit}]"
        if math.isfinite(self.low):
            words += f" from {self.low:.10g} to {self.high:.10g}"
        return words


_TEXTURE_NAMES = tuple(TEXTURES)
_QUANTITY_NAMES = tuple(quantity.value for quantity in Quantity)
# What is possible at all for a limit of the season, by its unit; the second, for those that a plan divides by.
_RANGES = {
    "°C": (-30.0, 60.0),
    "K d": (0.0, 10_000.0),
    "d": (0.0, 400.0),
    "h": (0.0, 96.0),
    "%RH": (0.0, 100.0),
    "leaves": (0.0, 40.0),
    "ratio": (0.0, 30.0),
    "feedings": (1.0, 20.0),
    "g/m²": (0.0, 200.0),
}
_AT_LEAST_ONE = ("plant_run_d", "feed_apart_d")

# Data bits, parity and stop bits that serial lines of probes have.
FRAMES = ("7E1", "7O1", "8N1", "8E1", "8O1", "8N2")


def _limit_keys() -> tuple[Key, ...]:
    """A key for every limit of the season; left out, it is the usual one."""
    return tuple(
        Key(
            "limits",
            name,
            Kind.NUMBER,
            f"{limit.evidence}; {limit.source}",
            limit.unit,
            default=round(limit.value, 3),
            low=1.0 if name in _AT_LEAST_ONE else _RANGES[limit.unit][0],
            high=_RANGES[limit.unit][1],
        )
        for name, limit in USUAL.named().items()
    )


KEYS: tuple[Key, ...] = (
    Key("garden", "name", Kind.TEXT, "what the pages call the garden", default="Garden"),
    # The sun's height and the length of the day come from these two; nobody can guess them.
    Key("garden", "latitude_deg", Kind.NUMBER, "north is positive", "degrees", required=True, low=-90, high=90),
    Key("garden", "longitude_deg", Kind.NUMBER, "east is positive", "degrees", required=True, low=-180, high=180),
    Key("garden", "elevation_m", Kind.NUMBER, "above the sea", "m", default=0.0, low=-500, high=6000),
    Key("garden", "timezone", Kind.TEXT, "name in the IANA time zone database, as Europe/Lisbon", default="UTC"),
    Key(
        "garden",
        "units",
        Kind.TEXT,
        "how the pages show values",
        default=UnitSystem.METRIC.value,
        choices=tuple(system.value for system in UnitSystem),
    ),
    Key("garden", "simulated", Kind.FLAG, "true where no such garden exists; the pages say so", default=False),
    Key("store", "kind", Kind.TEXT, "where readings go", default="sqlite", choices=("sqlite", "influx")),
    Key(
        "store", "path", Kind.TEXT, "SQLite file; with influx the queue and season records; relative to this file", required=True
    ),
    Key("store", "url", Kind.TEXT, "InfluxDB, with kind influx only"),
    Key("store", "org", Kind.TEXT, "organisation in InfluxDB, with kind influx only"),
    Key("store", "bucket", Kind.TEXT, "bucket in InfluxDB, with kind influx only"),
    Key(
        "store",
        "queue_most_mb",
        Kind.WHOLE,
        "disk that readings may take while InfluxDB is away, with kind influx only; at 80 bytes a reading",
        "MB",
        default=1024,
        low=1,
        high=1_000_000,
    ),
    Key(
        "store",
        "keep_raw_days",
        Kind.WHOLE,
        "how long each reading is kept as it came, with kind sqlite only; after that least, mean and greatest of each ten "
        "minutes stay; all of them for ever if left out",
        "days",
        low=120,
        high=36_500,
    ),
    Key("mqtt", "host", Kind.TEXT, 'name or address of the broker; "embedded" starts one, for trying out', required=True),
    Key("mqtt", "port", Kind.WHOLE, "port of the broker", default=1883, low=1, high=65535),
    Key("mqtt", "topics", Kind.TEXTS, "topic filters to listen to", required=True),
    Key(
        "mqtt",
        "client_id",
        Kind.TEXT,
        "name at the broker, no two programs may share it; {host} in it stands for the computer's name",
        default="cooldepth",
    ),
    Key("mqtt", "shared_group", Kind.TEXT, "collectors with the same name here share the messages; each needs its own client_id"),
    Key("serial", "port", Kind.TEXT, "device, as /dev/ttyUSB0", required=True),
    Key("serial", "baud", Kind.WHOLE, "speed of the line", "bit/s", default=9600, low=50, high=4_000_000),
    Key("json", "topic", Kind.TEXT, "topic filter of messages in JSON that is no SenML"),
    Key("json", "port", Kind.TEXT, "or the serial port, one of [[serial]], whose lines are such JSON"),
    Key("json", "address", Kind.TEXT, "how the addresses of its fields begin; the topic if left out"),
    Key("json", "time", Kind.TEXT, 'where the time of measurement stands, as "/ts" (JSON Pointer); when it came if left out'),
    Key(
        "json",
        "time_in",
        Kind.TEXT,
        "how that time is told: seconds or milliseconds since 1970, or ISO 8601",
        default="s",
        choices=("s", "ms", "iso"),
    ),
    Key("json.field", "pointer", Kind.TEXT, 'where the number stands, as "/soil/0/t" (JSON Pointer)', required=True),
    Key("json.field", "unit", Kind.TEXT, "its SenML unit, as Cel; none for a ratio"),
    Key("json.field", "address", Kind.TEXT, "how its address ends; its pointer if left out"),
    Key("sdi12", "port", Kind.TEXT, "serial adapter with the SDI-12 bus, as /dev/ttyUSB0", required=True),
    Key("sdi12", "name", Kind.TEXT, "how the addresses of its values begin: NAME:SENSOR/PLACE", default="sdi12"),
    Key("sdi12", "every_s", Kind.WHOLE, "how often each sensor is asked", "s", default=600, low=10, high=86_400),
    Key("sdi12", "baud", Kind.WHOLE, "speed of the adapter", "bit/s", default=1200, low=50, high=4_000_000),
    Key("sdi12", "frame", Kind.TEXT, "data bits, parity, stop bits of the adapter", default="7E1", choices=FRAMES),
    Key("sdi12", "crc", Kind.FLAG, "ask for answers with a check (SDI-12 from version 1.3 on)", default=True),
    Key("sdi12.sensor", "address", Kind.TEXT, "its address on the bus, one sign", required=True),
    Key("sdi12.sensor", "command", Kind.TEXT, "how it is asked: M, M1 to M9, or C, C1 to C9", default="M"),
    Key(
        "sdi12.sensor",
        "units",
        Kind.TEXTS,
        'the SenML units of its values in their order, as ["Cel", "/"]; "-" passes one over',
        required=True,
    ),
    Key("modbus", "port", Kind.TEXT, "serial port with Modbus RTU devices, as /dev/ttyUSB0", required=True),
    Key("modbus", "every_s", Kind.WHOLE, "how often each device is asked", "s", default=600, low=10, high=86_400),
    Key("modbus", "baud", Kind.WHOLE, "speed of the line", "bit/s", default=9600, low=50, high=4_000_000),
    Key("modbus", "frame", Kind.TEXT, "data bits, parity, stop bits", default="8N1", choices=FRAMES),
    Key(
        "modbus",
        "word_order",
        Kind.TEXT,
        "which of two registers comes first in a number of 32 bits",
        default="big",
        choices=("big", "little"),
    ),
    Key("modbus.register", "device", Kind.WHOLE, "number of the device", required=True, low=1, high=247),
    Key("modbus.register", "register", Kind.WHOLE, "of the number, counted from 0", required=True, low=0, high=65_535),
    Key("modbus.register", "kind", Kind.TEXT, "which registers", default="input", choices=("input", "holding")),
    Key(
        "modbus.register",
        "type",
        Kind.TEXT,
        "of the number",
        default="int16",
        choices=("int16", "uint16", "int32", "uint32", "float32"),
    ),
    Key("modbus.register", "scale", Kind.NUMBER, "what the number is multiplied by, as 0.1", default=1.0, low=-1e6, high=1e6),
    Key("modbus.register", "unit", Kind.TEXT, "SenML unit of it then; none for a ratio"),
    Key("modbus.register", "address", Kind.TEXT, "what it is called, its own in this garden", required=True),
    Key("notify", "url_env", Kind.TEXT, "name of the environment variable that holds an Apprise URL", required=True),
    Key("notify", "quiet_hours", Kind.TEXTS, 'from and to, as ["22:00", "06:30"]; messages are held until the end'),
    Key("notify", "dug_up_at_once", Kind.FLAG, "tell of a stake that was dug up in quiet hours too", default=False),
    Key("notify", "summary_at", Kind.TEXT, 'when one message a day sums up what is due, as "07:00"; none if left out'),
    Key(
        "notify",
        "summary_only",
        Kind.FLAG,
        "no message for each call, only the one a day; what cannot wait comes at once (water to turn off, a stake dug up)",
        default=False,
    ),
    Key(
        "notify",
        "remind_after_h",
        Kind.WHOLE,
        "what is due, and neither done nor seen, is told again after so long, three times at most; 0 for never",
        "h",
        default=24,
        low=0,
        high=240,
    ),
    Key(
        "pages",
        "address",
        Kind.TEXT,
        "where phones reach the pages, as https://garden.example.org; then messages hold links, and may be answered by one",
        required=True,
    ),
    Key(
        "weather",
        "source",
        Kind.TEXT,
        "who tells the weather past and ahead: a public service, which is told where the garden is, to about 1 km; or a file",
        required=True,
        choices=("open-meteo", "file"),
    ),
    Key("weather", "file", Kind.TEXT, "with source file: a table as for `cooldepth forecast --weather`; relative to this file"),
    Key("weather", "url", Kind.TEXT, "address of another server that speaks like it, as one of your own"),
    Key("weather", "every_h", Kind.WHOLE, "how often it is asked", "h", default=3, low=1, high=24),
    Key("bed", "id", Kind.TEXT, "short name, its own in this garden", required=True),
    Key("bed", "name", Kind.TEXT, "what the pages call it; else its id"),
    Key("bed", "area_m2", Kind.NUMBER, "needed where a moisture probe is: litres come of it", "m²", low=0.01, high=1_000_000),
    Key("bed", "soil", Kind.TEXT, "texture of FAO-56, Table 19", choices=_TEXTURE_NAMES),
    Key("bed", "field_capacity", Kind.NUMBER, "instead of the texture's", "m³/m³", low=0.01, high=0.9),
    Key("bed", "wilting_point", Kind.NUMBER, "instead of the texture's", "m³/m³", low=0.0, high=0.8),
    Key("bed", "cool_limit_c", Kind.NUMBER, "the clove should stay cooler than this", "°C", low=-10, high=50),
    Key("bed", "hose_l_min", Kind.NUMBER, "what the hose gives", "L/min", low=0.01, high=10_000),
    Key("bed", "shade_cloth_pct", Kind.NUMBER, "share of the sun that the cloth you own for it takes", "%", low=5, high=95),
    Key("bed", "nitrogen_g_m2", Kind.NUMBER, "nitrogen that its feedings are to give in all", "g/m²", low=0.1, high=100),
    Key("bed", "nitrogen_at_planting_g_m2", Kind.NUMBER, "nitrogen worked in at planting", "g/m²", default=0.0, low=0, high=100),
    Key("bed", "white_rot", Kind.FLAG, "true where the bed has had white rot, or may have", default=False),
    Key(
        "bed",
        "leaf_count_days",
        Kind.WHOLE,
        "how often you are asked to look and count leaves; 0 for never",
        "days",
        default=7,
        low=0,
        high=60,
    ),
    Key("bed", "root_depth_cm", Kind.NUMBER, "depth that roots drink from", "cm", default=30.0, low=1, high=200),
    Key(
        "bed",
        "watering_efficiency",
        Kind.NUMBER,
        "share of the water that stays in the root zone",
        "ratio",
        default=1.0,
        low=0.1,
        high=1,
    ),
    Key("bed.cover", "material", Kind.TEXT, "what it is, as straw or compost", required=True),
    Key("bed.cover", "thickness_cm", Kind.NUMBER, "how thick it lies", "cm", required=True, low=0, high=200),
    Key("bed.cover", "since", Kind.DATE, "when it was laid"),
    Key("bed.planting", "variety", Kind.TEXT, "any name", required=True),
    Key("bed.planting", "kind", Kind.TEXT, "kind of garlic", default="hardneck", choices=("hardneck", "softneck")),
    Key("bed.planting", "plants", Kind.WHOLE, "how many", low=1, high=10_000_000),
    Key("bed.planting", "planted", Kind.DATE, "when", required=True),
    Key(
        "bed.planting",
        "depth_cm",
        Kind.NUMBER,
        "of the base of the clove below the soil surface",
        "cm",
        required=True,
        low=0,
        high=50,
    ),
    Key("bed.planting", "chilled_days", Kind.NUMBER, "in the store before planting", "days", low=0, high=400),
    Key("bed.planting", "chilled_at_c", Kind.NUMBER, "in the store before planting", "°C", low=-10, high=30),
    Key("bed.probe", "id", Kind.TEXT, "short name, its own in this garden", required=True),
    Key("bed.probe", "quantity", Kind.TEXT, "what it measures", required=True, choices=_QUANTITY_NAMES),
    Key("bed.probe", "depth_cm", Kind.NUMBER, "below the soil surface; needed in the soil", "cm", low=0, high=200),
    Key("bed.probe", "address", Kind.TEXT, "its resolved SenML name, its own in this garden", required=True),
    Key("bed.probe", "low_v", Kind.NUMBER, "of a battery: below this it is to be changed or charged", "V", low=0.1, high=60),
    Key(
        "bed.probe",
        "place",
        Kind.TEXT,
        "in the bed, or where its cloves are chilled before planting or its bulbs cured after lifting",
        default=Place.BED.value,
        choices=tuple(place.value for place in Place),
    ),
    Key("feed", "name", Kind.TEXT, "what you call it", required=True),
    Key("feed", "n_pct", Kind.NUMBER, "nitrogen, by the label", "% of mass", required=True, low=0.01, high=100),
    Key("feed", "p2o5_pct", Kind.NUMBER, "phosphorus as the label tells it", "% of mass", default=0.0, low=0, high=100),
    Key("feed", "k2o_pct", Kind.NUMBER, "potassium as the label tells it", "% of mass", default=0.0, low=0, high=100),
    Key("feed", "density_kg_l", Kind.NUMBER, "of a liquid, to tell it in millilitres", "kg/L", low=0.5, high=3),
    Key("feeding", "tank_l", Kind.NUMBER, "what the can, tank or bucket holds that feed is mixed in", "L", low=0.1, high=100_000),
    Key("feeding", "injector", Kind.NUMBER, "the N of an injector or siphon of 1:N", "parts", low=1.5, high=10_000),
    Key(
        "feeding",
        "injector_counts",
        Kind.TEXT,
        "what its N counts; of 1:16 the two part by 6 %",
        choices=("parts of mix", "parts of water"),
    ),
    Key(
        "limits",
        "daylength",
        Kind.TEXT,
        "where the day begins and ends: the sun's centre on the horizon, sunrise as almanacs print it, or civil twilight",
        default=USUAL.definition.name.lower(),
        choices=tuple(definition.name.lower() for definition in Definition),
    ),
    *_limit_keys(),
)

TABLES: tuple[str, ...] = tuple(dict.fromkeys(key.table for key in KEYS))
# These may stand more than once, in double brackets.
LISTS = frozenset(
    {
        "serial",
        "json",
        "json.field",
        "sdi12",
        "sdi12.sensor",
        "modbus",
        "modbus.register",
        "notify",
        "feed",
        "bed",
        "bed.cover",
        "bed.planting",
        "bed.probe",
    }
)


def keys_of(table: str) -> dict[str, Key]:
    """The keys that may stand under one header, by name."""
    return {key.name: key for key in KEYS if key.table == table}


def header(table: str) -> str:
    """How the header of a table is written: `[garden]`, `[[bed.probe]]`."""
    return f"[[{table}]]" if table in LISTS else f"[{table}]"


def describe() -> str:
    """The table of every key in Markdown, as the README holds it."""
    lines = ["| where | key | value | if left out | what it is |", "|---|---|---|---|---|"]
    for key in KEYS:
        left_out = "needed" if key.required else "" if key.default is None else f"`{_toml(key.default)}`"
        lines.append(f"| `{header(key.table)}` | `{key.name}` | {key.wanted} | {left_out} | {key.about} |")
    return "\n".join(lines)


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return f'"{value}"' if isinstance(value, str) else f"{value:g}" if isinstance(value, float) else str(value)


def fits(key: Key, value: object) -> bool:
    """Whether a value out of a TOML file is what the key wants."""
    match key.kind:
        case Kind.TEXT:
            return _is_text(value) and (not key.choices or value in key.choices)
        case Kind.TEXTS:
            return isinstance(value, Sequence) and not isinstance(value, str) and bool(value) and all(map(_is_text, value))
        case Kind.FLAG:
            return isinstance(value, bool)
        case Kind.DATE:
            return isinstance(value, dt.date) and not isinstance(value, dt.datetime)
        case Kind.WHOLE | Kind.NUMBER:
            # In Python true is a number, and nan is one in TOML.
            number = isinstance(value, int) or (key.kind is Kind.NUMBER and isinstance(value, float))
            return number and not isinstance(value, bool) and key.low <= value <= key.high  # type: ignore[operator]


def _is_text(value: object) -> bool:
    return isinstance(value, str) and bool(value.strip()) and value.isprintable()
