"""How fast readings are taken in, to the durable commit, beside what the same client could do at most.

python -m tests.bench.intake_speed

Messages wait at a real Mosquitto in a session of their own; each receiver then gets them all at QoS 1, in a process of
its own, and is timed from before it connects until the last is dealt with. Receivers take turns; medians of three.
"""

from __future__ import annotations

import json
import os
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from collector.clock import SystemClock
from collector.intake import Intake
from collector.model import Batch, Probe
from collector.settings import MqttSettings
from collector.sources.mqtt import MqttSource
from collector.sources.mqtt_connection import BATCH_MESSAGES
from collector.stores.sqlite import SqliteReadingStore
from collector.stores.upkeep import Upkeep
from collector.units import Quantity
from tests.crash.test_kill import Collector, stored
from tests.crash.torture import garden_for
from tests.real.mosquitto import Mosquitto, wait_until

PROBES = [Probe(f"t{n}", "terrace", Quantity.SOIL_TEMPERATURE, f"stake:t{n}", 0.12) for n in range(40)]
TOPIC = "garden/stake"
TURNS = 3
START_S = 1_790_000_000


def payloads(count: int, readings: int) -> Iterator[bytes]:
    """SenML packs of so many readings, each probe in its turn, a minute apart."""
    for number in range(count):
        first = number * readings
        records = [
            {"n": f"t{(first + n) % 40}", "u": "Cel", "t": START_S + (first + n) // 40 * 60, "v": 18 + (first + n) % 64 / 16}
            for n in range(readings)
        ]
        records[0] = {"bn": "stake:", **records[0]}
        yield json.dumps(records, separators=(",", ":")).encode()


# As docker-compose.yml and README.md have it.
CONFIGURATION = """
listener {port} 127.0.0.1
allow_anonymous true
max_queued_messages 1000000
max_inflight_messages 1000
persistence true
persistence_location {folder}/
autosave_interval 60
"""


# ---------------------------------------------------------------- receivers, each in a process of its own


def session(port: int, name: str, *, anew: bool = False) -> paho.Client:
    """The client that the collector uses, connected to a session that lasts, with as much on its way as it allows."""
    client = paho.Client(CallbackAPIVersion.VERSION2, client_id=name, protocol=paho.MQTTv5)
    properties = Properties(PacketTypes.CONNECT)
    properties.SessionExpiryInterval = 3600
    properties.ReceiveMaximum = BATCH_MESSAGES
    client.connect("127.0.0.1", port, clean_start=anew, properties=properties)
    return client


def empty(port: int, name: str, count: int, _folder: Path) -> int:
    """An empty callback: what this client can do at most."""
    client, came, done = session(port, name), 0, threading.Event()

    def on_message(*_: object) -> None:
        nonlocal came
        came += 1
        if came == count:
            done.set()

    client.on_message = on_message
    client.loop_start()
    done.wait(120)
    client.loop_stop()
    return 0


def tutorial(port: int, name: str, count: int, folder: Path) -> int:
    """As tutorials have it: decode, one INSERT and one commit for each message, in the callback."""
    client, came, done = session(port, name), 0, threading.Event()
    database = sqlite3.connect(folder / "tutorial.db", check_same_thread=False)
    database.execute("PRAGMA journal_mode = WAL")
    database.execute("PRAGMA synchronous = FULL")
    database.execute("CREATE TABLE reading (probe TEXT, t INTEGER, v REAL)")

    def on_message(_client: object, _data: object, message: paho.MQTTMessage) -> None:
        nonlocal came
        for one in json.loads(message.payload):
            database.execute("INSERT INTO reading VALUES (?, ?, ?)", (one["n"], one["t"], one["v"]))
        database.commit()
        came += 1
        if came == count:
            done.set()

    client.on_message = on_message
    client.loop_start()
    done.wait(300)
    client.loop_stop()
    database.close()
    return count


def ours(port: int, name: str, count: int, folder: Path) -> int:
    """The intake as the collector runs it: decode, claim, check, commit with synchronous=FULL, acknowledge."""

    class Counting(SqliteReadingStore):
        commits = 0

        def commit(self, batch: Batch) -> None:
            super().commit(batch)
            self.commits += 1

    store, clock = Counting(folder / "garden.db"), SystemClock()
    source = MqttSource(MqttSettings("127.0.0.1", (TOPIC,), port=port, client_id=name), clock, store.forget_arrivals)
    intake = Intake([source], store, PROBES, clock)
    keep_raw_days = int(os.environ["BENCH_KEEP_RAW_DAYS"]) if "BENCH_KEEP_RAW_DAYS" in os.environ else None
    upkeep, stop = Upkeep(folder / "garden.db", keep_raw_days, clock), threading.Event()

    def keep_up() -> None:
        while not stop.wait(upkeep.step()):
            pass

    beside = threading.Thread(target=keep_up)
    beside.start()
    while intake.counts.messages < count:
        intake.step(0.2)
    stop.set()
    beside.join()
    upkeep.close()
    source.close()
    store.close()
    return store.commits


RECEIVERS: dict[str, Callable[[int, str, int, Path], int]] = {"empty": empty, "tutorial": tutorial, "ours": ours}


def receive(kind: str, port: int, count: int, folder: Path) -> None:
    began, began_cpu = time.perf_counter(), time.process_time()
    commits = RECEIVERS[kind](port, kind, count, folder)
    print(time.perf_counter() - began, time.process_time() - began_cpu, commits)  # noqa: T201


# ---------------------------------------------------------------- the measurements


def waiting(broker: Mosquitto, name: str, count: int, readings: int) -> None:
    """Let so many messages wait in the session of that name."""
    client, subscribed = session(broker.port, name, anew=True), threading.Event()
    client.on_connect = lambda *_: client.subscribe(TOPIC, qos=1)
    client.on_subscribe = lambda *_: subscribed.set()
    client.loop_start()
    assert subscribed.wait(30)
    client.disconnect()
    client.loop_stop()
    call = ["mosquitto_pub", "-p", str(broker.port), "-t", TOPIC, "-q", "1", "-l"]
    subprocess.run(call, input=b"\n".join(payloads(count, readings)), check=True)


@dataclass(frozen=True)
class Taken:
    """How one receiver did with all that waited for it: messages a second of the wall's time, of its own processor's."""

    a_second: float
    a_processor_second: float
    commits_per_1000: float


def taken(broker: Mosquitto, kind: str, count: int, readings: int, place: Path | None = None) -> Taken:
    """Let messages wait, and one receiver take them: to an empty store, or to that in a folder."""
    waiting(broker, kind, count, readings)
    with tempfile.TemporaryDirectory(prefix="bench-") as new:
        folder = new if place is None else str(place)
        if kind == "mosquitto_sub":
            call = [kind, "-p", str(broker.port), "-t", TOPIC, "-q", "1", "-c", "-i", kind, "-V", "5", "-C", str(count)]
            began = time.perf_counter()
            subprocess.run([*call, "-D", "connect", "receive-maximum", "1000"], stdout=subprocess.DEVNULL, check=True)
            return Taken(count / (time.perf_counter() - began), float("nan"), 0.0)
        call = [sys.executable, "-m", "tests.bench.intake_speed", kind, str(broker.port), str(count), folder]
        told = subprocess.run(call, capture_output=True, text=True, check=True).stdout.split()
        return Taken(count / float(told[0]), count / float(told[1]), 1000 * int(told[2]) / count)


def in_turns(broker: Mosquitto, kinds: dict[str, int], readings: int) -> dict[str, list[Taken]]:
    """What each receiver did in each turn; `kinds` gives how many messages each gets."""
    found: dict[str, list[Taken]] = {kind: [] for kind in kinds}
    for _ in range(TURNS):
        for kind, count in kinds.items():
            found[kind].append(taken(broker, kind, count, readings))
    return found


def ratio(mine: list[Taken], other: list[Taken], of: str) -> float:
    """The median of the ratios within each turn: what else the machine does weighs on both of a turn alike."""
    return statistics.median(getattr(one, of) / getattr(two, of) for one, two in zip(mine, other, strict=True))


def visible_after_ms(port: int, database: Path, messages: int = 2000, pace_s: float = 0.01) -> list[float]:
    """From publishing to where a query sees it, at 100 messages a second [ms]."""
    sent_s: list[float] = []
    seen_s: list[float] = []
    start_ms = START_S * 1000

    def watch() -> None:
        with closing(sqlite3.connect(f"file:{database}?mode=ro", uri=True)) as reader:
            while len(seen_s) < messages:
                (last_ms,) = reader.execute("SELECT coalesce(max(measured_ms), 0) FROM reading").fetchone()
                seen = max(0, (last_ms - start_ms) // 1000 + 1)
                seen_s.extend([time.perf_counter()] * (seen - len(seen_s)))
                time.sleep(0.002)

    watching = threading.Thread(target=watch)
    watching.start()
    client = paho.Client(CallbackAPIVersion.VERSION2, protocol=paho.MQTTv5)
    client.connect("127.0.0.1", port)
    client.loop_start()
    began = time.perf_counter()
    for number in range(messages):
        time.sleep(max(0.0, began + number * pace_s - time.perf_counter()))
        sent_s.append(time.perf_counter())
        client.publish("garden/a", b'[{"n":"stake:timed","u":"Cel","t":%d,"v":18}]' % (START_S + number), qos=1)
    watching.join()
    client.disconnect()
    client.loop_stop()
    return [1000 * (seen - sent) for sent, seen in zip(sent_s, seen_s, strict=True)]


def at_rest(broker: Mosquitto, folder: Path) -> tuple[float, float, float]:
    """Start to the first reading taken in [s], resident memory at rest [MB], and p99 from publishing to visible [ms]."""
    garden = garden_for(folder, broker)
    database = garden.with_name("garden.db")
    starts = []
    for turn in range(TURNS):
        client = paho.Client(CallbackAPIVersion.VERSION2, protocol=paho.MQTTv5)
        client.connect("127.0.0.1", broker.port)
        client.loop_start()
        client.publish(
            "garden/a", b'[{"n":"stake:timed","u":"Cel","t":%d,"v":18}]' % (START_S - 100 + turn), qos=1
        ).wait_for_publish()
        client.disconnect()
        client.loop_stop()
        before, began = stored(database), time.perf_counter()
        collector = Collector(garden)
        wait_until(lambda before=before: stored(database) > before, 30)
        starts.append(time.perf_counter() - began)
        if turn < TURNS - 1:
            collector.stop()
    p99_ms = statistics.quantiles(visible_after_ms(broker.port, database), n=100)[98]
    time.sleep(25)  # advice has been given twice, and nothing more comes
    resident_mb = collector.resident_mb()
    collector.stop()
    return statistics.median(starts), resident_mb, p99_ms


def main() -> None:
    """Write a table of it to standard output."""

    def tell(what: str, measured: str, bar: str) -> None:
        print(f"{what:58} {measured:>20}   {bar}", flush=True)  # noqa: T201

    with tempfile.TemporaryDirectory(prefix="bench-") as name:
        broker = Mosquitto(Path(name))
        broker.run_with(CONFIGURATION.format(port=broker.port, folder=broker.folder), broker.port)
        with broker:
            measure(broker, Path(name), tell)


def measure(broker: Mosquitto, folder: Path, tell: Callable[[str, str, str], None]) -> None:
    """All of it, line by line as it is known."""
    for readings, bar in ((1, 0.75), (8, 0.60)):
        counts = {"empty": 10_000, "ours": 10_000, "mosquitto_sub": 10_000}
        if readings == 1:
            counts["tutorial"] = 2000
        found = in_turns(broker, counts, readings)
        head = f"{readings} a message: "
        for kind, name in (("empty", "empty callback"), ("mosquitto_sub", "mosquitto_sub"), ("ours", "to the durable commit")):
            tell(f"{head}{name}, messages/s", f"{statistics.median(one.a_second for one in found[kind]):.0f}", "")
        tell(f"{head}ratio to the empty callback", f"{ratio(found['ours'], found['empty'], 'a_second'):.2f}", f"at least {bar}")
        of_processor = ratio(found["ours"], found["empty"], "a_processor_second")
        tell(f"{head}the same by processor time", f"{of_processor:.2f}", "")
        commits = statistics.median(one.commits_per_1000 for one in found["ours"])
        tell(f"{head}commits for 1000 messages", f"{commits:.1f}", "at most 10")
        if readings == 1:
            tell(
                "ratio to the script of a tutorial", f"{ratio(found['ours'], found['tutorial'], 'a_second'):.1f}", "at least 2.5"
            )
    start_s, resident_mb, p99_ms = at_rest(broker, folder)
    tell("publish to visible at 100 messages/s, 99th percentile", f"{p99_ms:.0f} ms", "under 1000 ms")
    tell("start to the first reading taken in", f"{start_s:.2f} s", "under 2 s")
    tell("resident memory of the collector at rest", f"{resident_mb:.0f} MB", "under 80 MB")


if __name__ == "__main__":
    if len(sys.argv) > 1:
        receive(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]), Path(sys.argv[4]))
    else:
        main()
