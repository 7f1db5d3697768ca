"""What the grower of the simulated garden wrote down before the visitor came: counts, feedings, waterings. Invented."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence

from collector.journal import Deed, Entry
from collector.model import Bed
from collector.simulate.crop import SimulatedCrop
from collector.simulate.scenario import Scenario
from collector.simulate.weather import STEPS_PER_DAY, weather

NOON_H = 9  # UTC
COUNTS_FROM_D, COUNTED_EVERY_D = 60, 7
FED_AFTER_D = (95, 119, 143)
FED_G_M2 = 1.2


def diary(scenario: Scenario, poured: Sequence[tuple[int, str, float]]) -> list[Entry]:
    """The journal up to now; `poured` are waterings: when [ms], which bed, how much [L]."""
    entries = [
        Entry(bed_id, Deed.WATERED, at_ms, at_ms, amounts={"litres": float(round(litres))}) for at_ms, bed_id, litres in poured
    ]
    for bed in scenario.beds:
        entries += _looks(scenario, bed)
        entries += _feedings(scenario, bed)
    return sorted((entry for entry in entries if entry.at_ms <= scenario.now_ms), key=lambda entry: entry.at_ms)


def _looks(scenario: Scenario, bed: Bed) -> Iterator[Entry]:
    days = (scenario.end - scenario.weather_first).days
    air_c = weather(scenario.climate, scenario.weather_first, days, scenario.spells, scenario.seed).air_c
    planted = bed.plantings[0].planted
    crop = SimulatedCrop(planted, scenario.climate)
    for number in range(days):
        day = scenario.weather_first + dt.timedelta(days=number)
        crop.live(day, float(air_c[number * STEPS_PER_DAY : (number + 1) * STEPS_PER_DAY].mean()))
        since_d = (day - planted).days
        if since_d >= COUNTS_FROM_D and since_d % COUNTED_EVERY_D == 0:
            at_ms = _at_ms(day)
            yield Entry(bed.id, Deed.COUNTED, at_ms, at_ms, amounts={"leaves": crop.leaves, "browned": crop.browned})


def _feedings(scenario: Scenario, bed: Bed) -> Iterator[Entry]:
    feed = scenario.feeds[0].name if scenario.feeds else None
    if bed.nitrogen_g_m2 is not None:
        for since_d in FED_AFTER_D:
            at_ms = _at_ms(bed.plantings[0].planted + dt.timedelta(days=since_d))
            yield Entry(bed.id, Deed.FED, at_ms, at_ms, what=feed, amounts={"n_g_m2": FED_G_M2})


def _at_ms(day: dt.date) -> int:
    return round(1000 * dt.datetime.combine(day, dt.time(NOON_H), dt.UTC).timestamp())
