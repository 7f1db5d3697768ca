"""How long a look ahead takes on one core: a week's forecast with its band and five what-ifs, for 50 beds that all differ."""

from __future__ import annotations

import time
from dataclasses import dataclass
from statistics import median

import numpy as np

from collector.soil.exposure import exposure_of
from collector.soil.forecast.inputs import HOUR_MS, Site, Weather
from collector.soil.forecast.model import LONGEST_H, Fitted, fit, forecast
from collector.soil.ground import Ground
from collector.soil.profile import Profile
from collector.soil.textures import TEXTURES
from collector.soil.what_if import Change, Cloth, Covers, PlantingDepth, Watering, difference_k, today_of
from tests.collector.soil.forecast import made

BEDS, LEARNT_D, TURNS = 50, 30, 5
NOW_MS = made.START_MS + LEARNT_D * 24 * HOUR_MS


@dataclass(frozen=True)
class Bed:
    """One bed's own weather, place, soil and covers, what was learned of it, and what is asked."""

    weather: Weather
    site: Site
    ground: Ground
    thermometers: Profile
    fitted: Fitted
    depth_m: float
    changes: tuple[Change, ...]


def bed_of(seed: int) -> Bed:
    """A bed like no other."""
    chance = np.random.default_rng(seed)
    weather = made.weather(LEARNT_D + 7, seed)
    site = Site(float(chance.uniform(-45.0, 45.0)), float(chance.uniform(-15.0, 15.0)), float(chance.uniform(0.0, 900.0)))
    depth_m, straw_m = float(chance.uniform(0.05, 0.20)), float(chance.uniform(0.02, 0.15))
    records = [made.record(weather, at_m, seed) for at_m in (depth_m, depth_m + 0.15)]
    last_c = tuple(float(one.temperature_c[LEARNT_D * 24 - 1]) for one in records)
    return Bed(
        weather,
        site,
        Ground(str(chance.choice(list(TEXTURES))), float(chance.uniform(0.10, 0.30)), (("straw", straw_m),)),
        Profile(tuple(one.depth_m for one in records), last_c),
        fit(records, weather, site, depth_m, NOW_MS),
        depth_m,
        (
            Cloth(float(chance.uniform(0.2, 0.5))),
            Cloth(float(chance.uniform(0.5, 0.8))),
            Covers((("compost", 0.02), ("straw", straw_m + 0.03))),
            PlantingDepth(depth_m + 0.05),
            Watering(float(chance.uniform(5.0, 25.0))),
        ),
    )


def look(bed: Bed) -> float:
    """All that is asked of one bed; answers the warmest hour ahead [°C], under the change that cools it most."""
    ahead = forecast(bed.fitted, bed.weather, LONGEST_H)
    today = today_of(bed.ground, exposure_of(bed.weather, bed.site, NOW_MS, LONGEST_H), bed.thermometers)
    return min(float((ahead.mean_c + difference_k(today, change, bed.depth_m)).max()) for change in bed.changes)


@dataclass(frozen=True)
class Took:
    """Seconds of this process: for learning one bed beforehand, and for looking ahead in all of them."""

    learning_s: float
    looking_s: float


def measured() -> Took:
    """The median of several rounds through all beds."""
    began = time.process_time()
    beds = [bed_of(seed) for seed in range(1, BEDS + 1)]
    learning_s = (time.process_time() - began) / BEDS
    rounds, peaks_c = [], []
    for _ in range(TURNS):
        began = time.process_time()
        peaks_c = [look(bed) for bed in beds]
        rounds.append(time.process_time() - began)
    assert len(set(peaks_c)) == BEDS, "the beds were to differ"
    return Took(learning_s, median(rounds))
