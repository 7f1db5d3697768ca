"""The measured figures that ARITHMETIC in DEVELOPERS.md goes by: `python -m tests.bench.scale`.

Seconds are those of a program's own processor time, which what else the machine does hardly touches. Those of the
intake are medians of three; the store is measured once.
"""

from __future__ import annotations

import os
import statistics
import tempfile
import time
from itertools import islice
from pathlib import Path

from collector.clock import SystemClock
from collector.model import Batch, Garden, Reading
from collector.stores.influxql import InfluxQL
from collector.stores.queue import Queue
from collector.stores.shipper import Shipper
from collector.stores.sqlite import SqliteReadingStore
from collector.stores.upkeep import Upkeep
from tests.bench.intake_speed import CONFIGURATION, taken
from tests.bench.store_speed import END_MS, days_of_readings, garden
from tests.fakes import FakeClock
from tests.real.influx import Influx
from tests.real.mosquitto import Mosquitto, wait_until

TURNS = 3
MESSAGES, PACK = 10_000, 4
# So many days of the forty probes of `store_speed` are enough to tell bytes a reading.
DAYS = 4
TICKS = os.sysconf("SC_CLK_TCK")


def readings(whole: Garden) -> list[Reading]:
    """Some days of every probe, a minute apart, with the scatter of cheap probes."""
    return [one for day in islice(days_of_readings(whole), DAYS) for one in day]


def processor_s(pid: int) -> float:
    """What a process has had of the processor so far [s]."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / TICKS


def intake(folder: Path) -> tuple[float, float]:
    """Processor microseconds of the collector and of the broker, for each message of four readings, in and out."""
    broker = Mosquitto(folder)
    broker.run_with(CONFIGURATION.format(port=broker.port, folder=broker.folder), broker.port)
    with broker:
        ours, theirs = [], []
        for _ in range(TURNS):
            before = processor_s(broker.pid)
            ours.append(1e6 / taken(broker, "ours", MESSAGES, PACK).a_processor_second)
            theirs.append(1e6 * (processor_s(broker.pid) - before) / MESSAGES)
    return statistics.median(ours), statistics.median(theirs)


def sqlite_bytes(folder: Path) -> float:
    """Bytes of the store file for each reading, its rollups with it."""
    whole = garden(folder)
    store, made = SqliteReadingStore(whole.store.path), readings(whole)
    for begin in range(0, len(made), 5000):
        store.commit(Batch(readings=tuple(made[begin : begin + 5000])))
    upkeep = Upkeep(whole.store.path, None, FakeClock(END_MS))
    while upkeep.work():
        pass
    upkeep.close()
    store.close()
    return sum(file.stat().st_size for file in folder.iterdir()) / len(made)


def influx_figures(folder: Path) -> tuple[float, float, float]:
    """For each reading: processor microseconds of InfluxDB, those of the shipper, and bytes that InfluxDB keeps on disk."""
    # Not ten minutes, until it writes what came to the files that stay.
    os.environ["INFLUXDB_DATA_CACHE_SNAPSHOT_WRITE_COLD_DURATION"] = "5s"
    with Influx(folder) as influx:
        influx.make("beds")
        settings = influx.settings(folder / "queue.db", "beds")
        whole = garden(folder)
        queue, made = Queue(settings.path, whole.probes, 10**9), readings(whole)
        for begin in range(0, len(made), 5000):
            queue.put(Batch(readings=tuple(made[begin : begin + 5000])))
        influxql = InfluxQL(settings)
        shipper = Shipper(queue, influxql, settings, SystemClock())
        theirs, ours = processor_s(influx.pid), time.process_time()
        while queue.waiting:
            shipper.step()
            assert shipper.trouble is None, shipper.trouble
        theirs, ours = processor_s(influx.pid) - theirs, time.process_time() - ours
        for one in (shipper, queue, influxql):
            one.close()
        # What came is in its log first; what stays is in these files.
        wait_until(lambda: not any(file.stat().st_size for file in influx.folder.glob("wal/**/*.wal")), 60)
        kept = sum(file.stat().st_size for file in influx.folder.glob("data/**/*.tsm"))
        return 1e6 * theirs / len(made), 1e6 * ours / len(made), kept / len(made)


def main() -> None:
    """Write the figures to standard output."""
    with tempfile.TemporaryDirectory(prefix="bench-") as name:
        folder = Path(name)
        ours, broker = intake(folder)
        print(f"collector, processor time a message of {PACK} readings   {ours:8.0f} µs")  # noqa: T201
        print(f"Mosquitto, processor time a message, in and out     {broker:8.0f} µs")  # noqa: T201
    with tempfile.TemporaryDirectory(prefix="bench-") as name:
        print(f"SQLite, a reading                                   {sqlite_bytes(Path(name)):8.1f} bytes")  # noqa: T201
    with tempfile.TemporaryDirectory(prefix="bench-") as name:
        theirs, ours, kept = influx_figures(Path(name))
        print(f"InfluxDB, processor time a reading                  {theirs:8.1f} µs")  # noqa: T201
        print(f"shipper, processor time a reading                   {ours:8.1f} µs")  # noqa: T201
        print(f"InfluxDB, a reading                                 {kept:8.1f} bytes")  # noqa: T201


if __name__ == "__main__":
    main()
