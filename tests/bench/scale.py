"""The measured figures that ARITHMETIC in DEVELOPERS.md goes by: `python -m tests.bench.scale`.

Seconds are those of a program's own processor time, which what else the machine does hardly touches. Those of the
intake are medians of three; the store is measured once.
"""

from __future__ import annotations

import os
import statistics
import tempfile
import time
from pathlib import Path

from collector.clock import SystemClock
from collector.model import Batch, Reading
from collector.stores.influxql import InfluxQL
from collector.stores.queue import Queue
from collector.stores.shipper import Shipper
from collector.stores.sqlite import SqliteReadingStore
from tests.bench.intake_speed import CONFIGURATION, PROBES, START_S, taken
from tests.real.influx import Influx
from tests.real.mosquitto import Mosquitto, wait_until

TURNS = 3
MESSAGES, PACK = 10_000, 4
# A season of these is too long to make; so many minutes of the bench's 40 probes are enough to tell bytes a reading.
MINUTES = 10_000
SHIPPED_MINUTES = 5000
TICKS = os.sysconf("SC_CLK_TCK")


def readings(minutes: int) -> list[Reading]:
    """So many minutes of every probe, each at the same second of the minute."""
    return [
        Reading(probe.id, 1000 * (START_S + 60 * minute), value, value, 1000 * (START_S + 60 * minute) + 400)
        for minute in range(minutes)
        for number, probe in enumerate(PROBES)
        for value in (18 + (minute + number) % 64 / 16,)
    ]


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
    """Bytes of the store file for each reading."""
    store, made = SqliteReadingStore(folder / "garden.db"), readings(MINUTES)
    for begin in range(0, len(made), 5000):
        store.commit(Batch(readings=made[begin : begin + 5000]))
    store.close()
    return sum(file.stat().st_size for file in folder.iterdir()) / len(made)


def influx_figures(folder: Path) -> tuple[float, float, float]:
    """For each reading: processor microseconds of InfluxDB, those of the shipper, and bytes that InfluxDB keeps on disk."""
    # Not ten minutes, until it writes what came to the files that stay.
    os.environ["INFLUXDB_DATA_CACHE_SNAPSHOT_WRITE_COLD_DURATION"] = "5s"
    with Influx(folder) as influx:
        influx.make("beds")
        settings = influx.settings(folder / "queue.db", "beds")
        queue = Queue(settings.path, PROBES, 10**9)
        made = readings(SHIPPED_MINUTES)
        for begin in range(0, len(made), 5000):
            queue.put(Batch(readings=made[begin : begin + 5000]))
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
