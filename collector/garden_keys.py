"""Every key that the garden file knows.

One table, `KEYS`: the reader of the file goes by it, its error messages suggest from it, and
the README is tested against it. Pure.
"""

from __future__ import annotations

from collector.crop.daylength import Definition
from collector.crop.method import USUAL
from collector.garden_key import Key, Kind
from collector.model import Place
from collector.soil.textures import TEXTURES
from collector.units import Quantity, UnitSystem
from collector.wire_keys import WIRE_KEYS

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
    *WIRE_KEYS,
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
        "metrics",
        "port",
        Kind.WHOLE,
        "where figures of the collector are served to Prometheus, on this computer alone, at /metrics",
        required=True,
        low=1,
        high=65535,
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
