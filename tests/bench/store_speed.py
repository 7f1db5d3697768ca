"""A season of 40 probes at one minute in SQLite: how quickly a bed is read, how large it is, and whether it slows intake.

python -m tests.bench.store_speed [folder]

12.7 million readings are committed as the intake commits them, and rolled up. Then the questions of the Bed page are asked,
each of a connection of its own, beds in turn; and messages are taken in to this store and to an empty one in turns. With a
folder the store is made there and found again the next time.
"""

from __future__ import annotations

import os
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from collector.model import Batch, Bed, Garden, Planting, Probe, Reading
from collector.query import SoilQueries
from collector.settings import StoreSettings
from collector.stores.season import SqliteSeason
from collector.stores.sqlite import SqliteReadings, SqliteReadingStore
from collector.stores.upkeep import Upkeep
from collector.units import Quantity, UnitSystem
from tests.bench.intake_speed import CONFIGURATION, START_S, Taken, taken
from tests.fakes import FakeClock
from tests.real.mosquitto import Mosquitto

DAYS, BEDS, TURNS = 220, 8, 5
DAY_MS, MINUTE_MS = 86_400_000, 60_000
# Up to when the bench of the intake begins to speak.
END_MS = START_S * 1000 // DAY_MS * DAY_MS
FROM_MS = END_MS - DAYS * DAY_MS
DEPTHS_M = (0.05, 0.10, 0.20, 0.30)
# So many that opening the store weighs little.
MESSAGES = 40_000


def garden(folder: Path) -> Garden:
    """Eight beds of four thermometers and a moisture probe."""
    beds = []
    for number in range(BEDS):
        name = f"bed{number}"
        probes = [Probe(f"{name}-t{m * 100:g}", name, Quantity.SOIL_TEMPERATURE, f"{name}:t{m * 100:g}", m) for m in DEPTHS_M]
        probes.append(Probe(f"{name}-m15", name, Quantity.SOIL_MOISTURE, f"{name}:m15", 0.15))
        planting = Planting("Porcelain", 0.12, datetime.fromtimestamp(FROM_MS / 1000, UTC).date(), plants=60)
        beds.append(
            Bed(name, name, 7.2, "sandy loam", 0.23, 0.11, cool_limit_c=18.0, plantings=(planting,), probes=tuple(probes))
        )
    return Garden("Bench", 37.1, -7.6, 60.0, "UTC", UnitSystem.METRIC, StoreSettings(folder / "garden.db"), tuple(beds))


def days_of_readings(whole: Garden) -> Iterator[list[Reading]]:
    """What all probes say, a day at a time: waves of a day and a season, with the sixteenths of a cheap thermometer."""
    chance = np.random.default_rng(20260413)
    for day in range(DAYS):
        times_ms = FROM_MS + day * DAY_MS + np.arange(0, DAY_MS, MINUTE_MS)
        said: list[Reading] = []
        for probe in whole.probes:
            depth_m = probe.depth_m or 0.0
            wave = np.sin(2 * np.pi * times_ms / DAY_MS - depth_m / 0.12) * np.exp(-depth_m / 0.12)
            if probe.quantity is Quantity.SOIL_TEMPERATURE:
                value = (
                    np.round(16 * (14 + 6 * np.sin(np.pi * day / DAYS) + 6 * wave + chance.normal(0, 0.05, times_ms.size))) / 16
                )
            else:
                value = np.round(0.2 - 0.05 * ((day % 6) / 6) + chance.normal(0, 0.0005, times_ms.size), 4)
            columns = zip(times_ms.tolist(), value.tolist(), strict=True)
            said += [Reading(probe.id, at_ms, number, number, at_ms + 400) for at_ms, number in columns]
        said.sort(key=lambda one: one.measured_ms)
        yield said


def make_season(folder: Path, tell: Callable[[str, str, str], None]) -> int:
    """The store, rolled up; how many readings it has."""
    whole = garden(folder)
    store, upkeep = SqliteReadingStore(whole.store.path), Upkeep(whole.store.path, None, FakeClock(END_MS))
    count, began = 0, time.perf_counter()
    for said in days_of_readings(whole):
        for begin in range(0, len(said), 5000):
            store.commit(Batch(readings=tuple(said[begin : begin + 5000])))
        count += len(said)
    committed = time.perf_counter()
    while upkeep.work():
        pass
    rolled = time.perf_counter()
    upkeep.close()
    store.close()
    tell("readings of a season, 40 probes a minute", f"{count}", "")
    tell("committing them, in batches of 5000", f"{committed - began:.0f} s", "")
    tell("rolling them all up at once", f"{rolled - committed:.0f} s", "")
    return count


def read_ms(folder: Path, days: int, *, warm: bool) -> float:
    """The median of what a bed's history takes [ms]: asked for the first time in a process, or once more."""
    whole, found = garden(folder), []
    for turn in range(TURNS):
        readings, season = SqliteReadings(whole.store.path), SqliteSeason(whole.store.path)
        queries = SoilQueries(whole, readings, season, FakeClock(END_MS))
        bed_id = whole.beds[turn % BEDS].id
        span = (END_MS - days * DAY_MS, END_MS)
        if warm:
            queries.history(bed_id, *span)
        began = time.perf_counter()
        queries.history(bed_id, *span)
        found.append(1000 * (time.perf_counter() - began))
        season.close()
        readings.close()
    return statistics.median(found)


def asked_ms(folder: Path, days: int) -> float:
    """The median of what the store takes to answer all that a bed's history asks of it [ms]."""
    whole, found = garden(folder), []

    class Timed(SqliteReadings):
        spent_s = 0.0

        def _timed(self, question: Callable[[], object]) -> object:
            began = time.perf_counter()
            answer = question()
            self.spent_s += time.perf_counter() - began
            return answer

        def series(self, *asked):  # type: ignore[no-untyped-def]
            return self._timed(lambda: super(Timed, self).series(*asked))

        def steps(self, *asked):  # type: ignore[no-untyped-def]
            return self._timed(lambda: super(Timed, self).steps(*asked))

    for turn in range(TURNS):
        readings, season = Timed(whole.store.path), SqliteSeason(whole.store.path)
        queries = SoilQueries(whole, readings, season, FakeClock(END_MS))
        queries.history(whole.beds[turn % BEDS].id, END_MS - days * DAY_MS, END_MS)
        found.append(1000 * readings.spent_s)
        season.close()
        readings.close()
    return statistics.median(found)


def pruning_ratio(folder: Path) -> float:
    """The same while single readings of the first months go: the store is copied first."""
    with tempfile.TemporaryDirectory(prefix="bench-") as name:
        copy = Path(name)
        for file in folder.glob("garden.db*"):
            shutil.copy(file, copy)
        os.environ["BENCH_KEEP_RAW_DAYS"] = str((int(time.time()) - END_MS // 1000) // 86_400 + DAYS // 2)
        try:
            return intake_ratio(copy)
        finally:
            del os.environ["BENCH_KEEP_RAW_DAYS"]


def intake_ratio(folder: Path) -> float:
    """How fast messages come in to the full store, as a ratio to an empty one: the median of the turns."""
    broker = Mosquitto(folder)
    broker.run_with(CONFIGURATION.format(port=broker.port, folder=broker.folder), broker.port)
    full: list[Taken] = []
    empty: list[Taken] = []
    with broker:
        for _ in range(3):
            full.append(taken(broker, "ours", MESSAGES, 1, folder))
            empty.append(taken(broker, "ours", MESSAGES, 1))
    return statistics.median(one.a_second / two.a_second for one, two in zip(full, empty, strict=True))


def main(folder: Path) -> None:
    """Write a table of it to standard output."""

    def tell(what: str, measured: str, bar: str) -> None:
        print(f"{what:66} {measured:>14}   {bar}", flush=True)  # noqa: T201

    kept = folder / "count"
    if not kept.exists():
        kept.write_text(str(make_season(folder, tell)))
    count = int(kept.read_text())
    size = sum(file.stat().st_size for file in folder.glob("garden.db*"))
    tell("bytes a reading, all told", f"{size / count:.1f}", "under 60")
    for name, days in (("one day", 1), ("one month", 30), ("the season", DAYS)):
        tell(f"what the Bed page asks of the store for {name}", f"{asked_ms(folder, days):.0f} ms", "under 100 ms")
        tell("  with all that is worked out of it, first time", f"{read_ms(folder, days, warm=False):.0f} ms", "")
        tell("  the same once more", f"{read_ms(folder, days, warm=True):.0f} ms", "")
    tell("intake, as a ratio to an empty store", f"{intake_ratio(folder):.2f}", "at least 0.9")
    tell("intake while the first months are pruned, the same", f"{pruning_ratio(folder):.2f}", "")


if __name__ == "__main__":
    if len(sys.argv) > 1:
        place = Path(sys.argv[1])
        place.mkdir(parents=True, exist_ok=True)
        main(place)
    else:
        made = Path(tempfile.mkdtemp(prefix="bench-"))
        try:
            main(made)
        finally:
            shutil.rmtree(made)
