"""The journal of a season: what was done to a bed and what was seen in it. Plain frozen values.

One truth for the taps on a page, the entries a grower writes and what the models take in; times
are milliseconds since 1970-01-01 UTC.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from zoneinfo import ZoneInfo

from collector.calls import DoneMark, Job


class Deed(StrEnum):
    """What an entry is about."""

    PLANTED = "planted"
    WATERED = "watered"
    HOSE_OFF = "turned the water off"
    WATERING_STOPPED = "stopped watering"
    CLOTH_LAID = "laid the shade cloth"
    CLOTH_OFF = "took the shade cloth off"
    COVERED = "covered"
    FED = "fed"
    FEEDING_STOPPED = "stopped feeding"
    COUNTED = "looked and counted"
    SCAPES_CUT = "cut the scapes"
    INSPECTED = "looked for disease"
    LIFTED = "lifted"
    CURE_CHECKED = "looked at the curing"
    CURED = "cured"
    STORED = "stored"
    WEIGHED = "weighed"
    STAKE_LOOKED = "looked at the stake"
    STAKE_BACK = "pushed the stake back in"
    PROBE_CHECKED = "checked the probe"
    NOTED = "noted"


@dataclass(frozen=True, slots=True)
class Amount:
    """A number that an entry may tell: its unit, and what is possible at all. `whole` where it is a count."""

    unit: str
    low: float
    high: float
    whole: bool = False


# What may be told of each deed, by name; the unit of storage is in the name. What is beyond the ends is a slip of the pen.
AMOUNTS: Mapping[Deed, Mapping[str, Amount]] = MappingProxyType(
    {
        Deed.WATERED: {"litres": Amount("L", 0.0, 1e7)},
        Deed.CLOTH_LAID: {"shade_pct": Amount("%", 5.0, 95.0)},
        Deed.COVERED: {"thickness_m": Amount("m", 0.0, 2.0)},
        Deed.FED: {
            "n_g_m2": Amount("g/m²", 0.0, 100.0),
            "product_g": Amount("g", 0.0, 1e9),
        },
        Deed.COUNTED: {
            "leaves": Amount("leaves", 0, 40, whole=True),
            "browned": Amount("leaves", 0, 40, whole=True),
            "bulb_to_neck": Amount("ratio", 0.5, 30.0),
            "stem_thickens": Amount("1 yes, 0 no", 0, 1, whole=True),
            "scape": Amount("1 yes, 0 no", 0, 1, whole=True),
        },
        Deed.WEIGHED: {
            "yield_kg": Amount("kg", 0.0, 1e7),
            "bulbs": Amount("bulbs", 0, 10_000_000, whole=True),
            "diameter_mm": Amount("mm", 5.0, 200.0),
        },
    }
)

# The deed that a tap on "done" writes down for each job.
DEED_OF: Mapping[Job, Deed] = MappingProxyType(
    {
        Job.SHADE: Deed.CLOTH_LAID,
        Job.UNSHADE: Deed.CLOTH_OFF,
        Job.WATER: Deed.WATERED,
        Job.HOSE: Deed.HOSE_OFF,
        Job.DRY: Deed.WATERING_STOPPED,
        Job.LOOK: Deed.STAKE_LOOKED,
        Job.STAKE: Deed.STAKE_BACK,
        Job.PROBE: Deed.PROBE_CHECKED,
        Job.PLANT: Deed.PLANTED,
        Job.COUNT: Deed.COUNTED,
        Job.FEED: Deed.FED,
        Job.NO_FEED: Deed.FEEDING_STOPPED,
        Job.SCAPES: Deed.SCAPES_CUT,
        Job.RUST: Deed.INSPECTED,
        Job.MILDEW: Deed.INSPECTED,
        Job.ROT: Deed.INSPECTED,
        Job.LIFT: Deed.LIFTED,
        Job.CURE: Deed.CURE_CHECKED,
        Job.STORE: Deed.STORED,
    }
)


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry: what was done or seen, when, where, and how much.

    `planting` is the variety it is about, None the whole bed. `what` is the product fed, the material laid, or the
    stage seen. `amounts` are numbers by the names of `AMOUNTS`. `picture` is the name of a file beside the database.
    `number` is 0 until it is kept; `struck_ms` is when it was taken back.
    """

    bed_id: str
    deed: Deed
    at_ms: int
    written_ms: int
    planting: str | None = None
    what: str | None = None
    amounts: Mapping[str, float] = field(default_factory=dict)
    note: str = ""
    picture: str | None = None
    number: int = 0
    struck_ms: int | None = None


def moment_ms(text: str, timezone: str) -> int | None:
    """A time as a grower writes it [ms since 1970-01-01 UTC]: by the garden's clock unless it says; None for what is no time.

    A date alone is its noon. A time that the clock skips counts as the moment that it skips to; one that comes twice as the
    first of both.
    """
    try:
        time = dt.datetime.fromisoformat(text)
    except ValueError:
        return None
    if len(text) <= len("2026-04-13"):
        time = time.replace(hour=12)
    return round(1000 * (time if time.tzinfo else time.replace(tzinfo=ZoneInfo(timezone))).timestamp())


def done_marks(entries: Iterable[Entry]) -> tuple[DoneMark, ...]:
    """Which jobs these entries say are done, in their order; what was taken back says so in its mark."""
    return tuple(
        DoneMark(entry.bed_id, job, entry.at_ms, entry.struck_ms, entry.amounts.get("litres"))
        for entry in entries
        for job, deed in DEED_OF.items()
        if deed is entry.deed
    )
