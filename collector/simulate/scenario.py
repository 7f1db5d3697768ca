"""The story of the simulated garden: an invented place, its beds and stakes, and what happens there.

No such garden exists. Places, names and numbers are made up so that a season fits into a few
minutes: mulch keeps the cloves cool until a warm spell in April, and the last watering has
just been used up.
"""

from __future__ import annotations

import datetime as dt
import zlib
from collections.abc import Sequence
from dataclasses import dataclass

from collector.model import Bed, Cover, Feed, Planting, Probe
from collector.simulate.probes import Fault, Kind
from collector.simulate.weather import Climate, Spell
from collector.soil.textures import TEXTURES
from collector.units import Quantity

TOPIC_ROOT = "kiln-field"
FORETOLD = "foretold.csv"  # the weather table beside the garden file
NITROGEN_G_M2 = 4.8  # at planting, and as much in feedings
CHILLED = (60.0, 5.0)  # days in the cold before planting, and how cold [°C]
CLOTH = 0.5  # share of the sun that the garden's cloths take


@dataclass(frozen=True, slots=True)
class StakePlan:
    """A stake: which bed it stands in, which of the bed's probes it carries, what goes wrong, and its battery."""

    id: str
    bed_id: str
    probe_ids: tuple[str, ...]
    faults: tuple[Fault, ...] = ()
    volts_full: float = 4.10
    volts_per_day: float = 0.0012

    @property
    def topic(self) -> str:
        """Where it publishes."""
        return f"{TOPIC_ROOT}/{self.id}"


@dataclass(frozen=True, slots=True)
class Habit:
    """The grower fills a bed on mornings when 0.9 of RAW is used up, on the last day whatever it lacks, then no more."""

    bed_id: str
    last: dt.date
    share_of_raw: float = 0.9


@dataclass(frozen=True, slots=True)
class Scenario:
    """A garden and its season: the weather starts on `weather_first`, readings on `first`; `now_ms` is where live days begin."""

    name: str
    timezone: str
    climate: Climate
    seed: int
    weather_first: dt.date
    first: dt.date
    now_ms: int
    end: dt.date
    beds: tuple[Bed, ...]
    stakes: tuple[StakePlan, ...]
    spells: tuple[Spell, ...]
    habits: tuple[Habit, ...]
    feeds: tuple[Feed, ...] = ()


def demo_scenario() -> Scenario:
    """The season that `cooldepth demo` shows."""
    now = dt.datetime(2026, 4, 15, 6, tzinfo=dt.UTC)
    planted = dt.date(2025, 10, 21)

    def at(days: float, hours: float = 0.0) -> int:
        """Milliseconds of a moment so long after now."""
        return int((now + dt.timedelta(days=days, hours=hours)).timestamp()) * 1000

    kiln = _bed(
        "kiln", "Kiln bed", 9.6, "loam", 17.0, (("compost", 0.04), ("straw", 0.07)), ("Ember", "hardneck", 140, 0.10), planted,
        temperature_cm=(5, 10, 20, 40), moisture_cm=(10, 25),
        air=(Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY, Quantity.SOLAR_IRRADIANCE, Quantity.WIND_SPEED, Quantity.RAIN),
    )  # fmt: skip
    wall = _bed(
        "wall", "Wall bed", 6.0, "sandy loam", 21.0, (("straw", 0.04),), ("Linen", "softneck", 90, 0.08), planted,
        temperature_cm=(5, 15, 30), moisture_cm=(8, 20),
    )  # fmt: skip
    gate = _bed(
        "gate", "Gate bed", 4.5, "loam", 19.0, (("wood chips", 0.08),), ("Juniper", "hardneck", 60, 0.09), planted,
        temperature_cm=(9, 20), moisture_cm=(15,),
    )  # fmt: skip

    return Scenario(
        name="Kiln Field",
        timezone="Europe/Athens",
        climate=Climate(35.4, 24.6, 120.0, year_mean_c=15.1, year_swing_k=7.5, warmest_day=212.0, day_swing_k=6.0),
        seed=12,
        weather_first=dt.date(2025, 10, 7),
        first=planted,
        now_ms=at(0),
        end=dt.date(2026, 7, 15),
        beds=(kiln, wall, gate),
        stakes=(
            StakePlan(
                "kiln",
                "kiln",
                _in_soil(kiln),
                faults=(Fault(Kind.RESET, at(-81), at(-80), "kiln-t20"), Fault(Kind.DUG_UP, at(-40), at(-40, hours=3))),
            ),
            StakePlan("kiln-air", "kiln", tuple(probe.id for probe in kiln.probes if probe.id not in _in_soil(kiln))),
            StakePlan("wall", "wall", _in_soil(wall), faults=(Fault(Kind.SILENT, at(-62), at(-61)),)),
            StakePlan(
                "gate",
                "gate",
                _in_soil(gate),
                faults=(Fault(Kind.STUCK, at(-110), at(-99), "gate-m15"), Fault(Kind.SILENT, at(0, hours=9), at(1000))),
                volts_full=4.05,
                volts_per_day=0.0042,
            ),
        ),
        spells=(
            Spell(dt.date(2026, 4, 9), dt.date(2026, 4, 12), warmer_k=0.0),
            Spell(dt.date(2026, 4, 13), dt.date(2026, 4, 19), warmer_k=6.5),
        ),
        habits=(
            Habit("kiln", last=dt.date(2026, 4, 12)),
            Habit("wall", last=dt.date(2026, 4, 13)),
            Habit("gate", last=dt.date(2026, 4, 13)),
        ),
        feeds=(Feed("Seaweed and fish", 4.0, 1.0, 3.0, 1.15),),
    )


def _bed(
    bed_id: str,
    name: str,
    area_m2: float,
    soil: str,
    cool_limit_c: float,
    covers: Sequence[tuple[str, float]],
    planting: tuple[str, str, int, float],
    planted: dt.date,
    *,
    temperature_cm: Sequence[int],
    moisture_cm: Sequence[int],
    air: Sequence[Quantity] = (),
) -> Bed:
    variety, kind, plants, depth_m = planting
    probes = [
        Probe(f"{bed_id}-t{cm}", bed_id, Quantity.SOIL_TEMPERATURE, _one_wire(f"{bed_id}-t{cm}"), cm / 100)
        for cm in temperature_cm
    ]
    probes += [
        Probe(f"{bed_id}-m{cm}", bed_id, Quantity.SOIL_MOISTURE, _board(bed_id, f"moisture{cm}"), cm / 100) for cm in moisture_cm
    ]
    probes.append(Probe(f"{bed_id}-battery", bed_id, Quantity.BATTERY, _board(bed_id, "battery")))
    probes += [Probe(f"{bed_id}-{what.value}", bed_id, what, _board(f"{bed_id}-air", what.value)) for what in air]
    return Bed(
        id=bed_id,
        name=name,
        area_m2=area_m2,
        soil=soil,
        field_capacity=TEXTURES[soil].field_capacity_mid,
        wilting_point=TEXTURES[soil].wilting_point_mid,
        cool_limit_c=cool_limit_c,
        hose_l_min=11.0,
        shade_cloth=CLOTH,
        nitrogen_g_m2=NITROGEN_G_M2,
        nitrogen_at_planting_g_m2=NITROGEN_G_M2,
        root_depth_m=0.30,
        covers=tuple(Cover(material, thickness_m, planted) for material, thickness_m in covers),
        plantings=(Planting(variety, depth_m, planted, kind, plants, *CHILLED),),
        probes=tuple(probes),
    )


def _in_soil(bed: Bed) -> tuple[str, ...]:
    """The probes of the stake in the ground, its battery among them."""
    ground = (Quantity.SOIL_TEMPERATURE, Quantity.SOIL_MOISTURE, Quantity.BATTERY)
    return tuple(probe.id for probe in bed.probes if probe.quantity in ground)


def _one_wire(name: str) -> str:
    """An invented 1-Wire address: the family code of a DS18B20, a serial number, and a last byte (RFC 9039)."""
    return f"urn:dev:ow:28{zlib.crc32(name.encode()):08x}{zlib.crc32(name[::-1].encode()) & 0xFFFFFF:06x}"


def _board(board: str, part: str) -> str:
    """An invented board's address, locally administered, and the part of it that measures (RFC 9039)."""
    return f"urn:dev:mac:0200fffe{zlib.crc32(board.encode()):08x}_{part}"


def garden_toml(scenario: Scenario, mqtt_port: int, store_path: str = "garden.db") -> str:
    """The garden file of the scenario, for a broker on this machine."""
    climate = scenario.climate
    lines = [
        "# A simulated garden: no such place exists.",
        "[garden]",
        f'name = "{scenario.name}"',
        f"latitude_deg = {climate.latitude_deg}",
        f"longitude_deg = {climate.longitude_deg}",
        f"elevation_m = {climate.elevation_m}",
        f'timezone = "{scenario.timezone}"',
        'units = "metric"',
        "simulated = true",
        "",
        "[store]",
        'kind = "sqlite"',
        f'path = "{store_path}"',
        "",
        "[mqtt]",
        'host = "127.0.0.1"',
        f"port = {mqtt_port}",
        f'topics = ["{TOPIC_ROOT}/#"]',
        f'client_id = "cooldepth-{TOPIC_ROOT}"',
        "",
        "[weather]",
        'source = "file"',
        f'file = "{FORETOLD}"',
    ]
    for feed in scenario.feeds:
        lines += ["", "[[feed]]", f'name = "{feed.name}"', f"n_pct = {feed.n_pct}", f"p2o5_pct = {feed.p2o5_pct}"]
        lines += [f"k2o_pct = {feed.k2o_pct}", f"density_kg_l = {feed.density_kg_l}"]
    for bed in scenario.beds:
        lines += _bed_lines(bed)
    return "\n".join(lines) + "\n"


def _bed_lines(bed: Bed) -> list[str]:
    lines = [
        "",
        "[[bed]]",
        f'id = "{bed.id}"',
        f'name = "{bed.name}"',
        f"area_m2 = {bed.area_m2}",
        f'soil = "{bed.soil}"',
        f"cool_limit_c = {bed.cool_limit_c}",
        f"hose_l_min = {bed.hose_l_min}",
        *([] if bed.shade_cloth is None else [f"shade_cloth_pct = {100 * bed.shade_cloth:g}"]),
        f"nitrogen_g_m2 = {bed.nitrogen_g_m2}",
        f"nitrogen_at_planting_g_m2 = {bed.nitrogen_at_planting_g_m2}",
        f"root_depth_cm = {_cm(bed.root_depth_m)}",
    ]
    for cover in bed.covers:
        lines += ["", "  [[bed.cover]]", f'  material = "{cover.material}"', f"  thickness_cm = {_cm(cover.thickness_m)}"]
        lines.append(f"  since = {cover.since}")
    for planting in bed.plantings:
        lines += ["", "  [[bed.planting]]", f'  variety = "{planting.variety}"', f'  kind = "{planting.kind}"']
        lines += [f"  plants = {planting.plants}", f"  planted = {planting.planted}", f"  depth_cm = {_cm(planting.depth_m)}"]
        lines += [f"  chilled_days = {planting.chilled_days}", f"  chilled_at_c = {planting.chilled_at_c}"]
    for probe in bed.probes:
        lines += ["", "  [[bed.probe]]", f'  id = "{probe.id}"', f'  quantity = "{probe.quantity.value}"']
        if probe.depth_m is not None:
            lines.append(f"  depth_cm = {_cm(probe.depth_m)}")
        lines.append(f'  address = "{probe.address}"')
    return lines


def _cm(metres: float) -> str:
    return f"{metres * 100:g}"
