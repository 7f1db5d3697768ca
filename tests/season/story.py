"""An invented garden for a whole season: from cloves in a cold store to bulbs on a shelf.

Two beds: a hardneck under compost and straw, and a softneck under a little straw in a bed that had white rot.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from collector.model import Feed, Garden, Injector, Place, Planting, Probe
from collector.settings import StoreSettings
from collector.simulate.scenario import Scenario, demo_scenario
from collector.units import Quantity, UnitSystem

STORE_FIRST, PLANTED = dt.date(2025, 8, 21), dt.date(2025, 10, 20)
SHED_C = Probe("shed-air", "kiln", Quantity.AIR_TEMPERATURE, "urn:dev:mac:0200fffe00000001_air", place=Place.CURING)
SHED_PCT = Probe("shed-humidity", "kiln", Quantity.RELATIVE_HUMIDITY, "urn:dev:mac:0200fffe00000001_hum", place=Place.CURING)
FRIDGE_C = Probe("fridge", "kiln", Quantity.AIR_TEMPERATURE, "urn:dev:mac:0200fffe00000002_air", place=Place.CHILL_STORE)
PLACED = (SHED_C, SHED_PCT, FRIDGE_C)


def scenario() -> Scenario:
    """The weather and the beds: those of the demo, without its faults, two of its beds, from before planting on."""
    demo = demo_scenario()
    kiln, wall = demo.beds[:2]
    kiln = replace(
        kiln,
        plantings=(Planting("Ember", 0.10, PLANTED, "hardneck", 140, 60.0, 5.0),),
        nitrogen_g_m2=5.0,
        nitrogen_at_planting_g_m2=4.0,
        probes=(*kiln.probes, *PLACED),
    )
    wall = replace(
        wall, plantings=(Planting("Linen", 0.08, PLANTED, "softneck", 90, 60.0, 5.0),), white_rot=True, nitrogen_g_m2=5.0
    )
    stakes = tuple(replace(one, faults=()) for one in demo.stakes if one.bed_id != "gate")
    return replace(
        demo,
        weather_first=dt.date(2025, 9, 10),
        first=dt.date(2025, 10, 1),
        now_ms=0,
        end=dt.date(2026, 9, 1),
        beds=(kiln, wall),
        stakes=stakes,
        habits=(),
    )


def garden(story: Scenario, store: StoreSettings, **more: object) -> Garden:
    """What the garden file of it would say."""
    known = {
        "name": story.name,
        "latitude_deg": story.climate.latitude_deg,
        "longitude_deg": story.climate.longitude_deg,
        "elevation_m": story.climate.elevation_m,
        "timezone": story.timezone,
        "units": UnitSystem.METRIC,
        "store": store,
        "beds": story.beds,
        "feeds": (Feed("Fish feed", 4.0, 1.0, 3.0, 1.15), Feed("Calcium nitrate", 15.5)),
        "injector": Injector(16.0),
        "tank_l": 10.0,
        "simulated": True,
    }
    return Garden(**(known | more))  # type: ignore[arg-type]
