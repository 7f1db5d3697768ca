"""Hours at the load of a farm with faults thrown in: `python -m tests.crash.soak [MINUTES]` (`make soak`).

Ten beds of four probes each, all of which speak once a second: sixty times what soil needs. Every five minutes something
happens: collector and pages are killed, the broker is started anew, payloads that are none come in by the thousand,
strangers speak, a backup is taken, the garden file changes. Pages are asked all the while. At the end every reading that
the broker has taken has to be there once, and memory and open files may not have grown. Linux only.
"""

from __future__ import annotations

import itertools
import json
import os
import random
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
from collections.abc import Callable
from pathlib import Path

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion

from tests.bench.page_load import resident_mb
from tests.crash.test_kill import exported
from tests.real.mosquitto import Mosquitto, free_port, wait_for_listener, wait_until

BEDS, DEPTHS_CM = 10, (5, 12, 20, 30)
MINUTES, FAULT_EVERY_S, ASK_EVERY_S = 120.0, 300.0, 5.0
# Of the second half, in which nothing is killed: what memory may be more at its end than in its first quarter, and files.
GROWS_MOST, FILES_MORE = 1.15, 5

HEAD = """
[garden]
name = "Soak {number}"
latitude_deg = 36.0
longitude_deg = -5.0

[store]
path = "garden.db"

[mqtt]
host = "127.0.0.1"
port = {port}
topics = ["garden/#"]
client_id = "soak"
"""
BED = '\n[[bed]]\nid = "bed{bed}"\nname = "Bed {bed}"\narea_m2 = 5.0\nsoil = "loam"\ncool_limit_c = 19.0\n'
PLANTING = '[[bed.planting]]\nvariety = "Creole"\nplanted = 2025-11-02\ndepth_cm = 12\n'
PROBE = '[[bed.probe]]\nid = "b{bed}-{cm}"\nquantity = "soil_temperature"\ndepth_cm = {cm}\naddress = "s{bed}/{cm}"\n'


def garden_text(port: int, number: int) -> str:
    """The garden file; `number` changes what it is called."""
    beds = [BED.format(bed=bed) + PLANTING + "".join(PROBE.format(bed=bed, cm=cm) for cm in DEPTHS_CM) for bed in range(BEDS)]
    return HEAD.format(port=port, number=number) + "".join(beds)


class Stakes:
    """Ten boards on one connection: what is not acknowledged is sent again, over restarts of the broker too."""

    def __init__(self, port: int) -> None:
        self.sent = 0
        self._stop = threading.Event()
        self._client = paho.Client(CallbackAPIVersion.VERSION2, client_id="boards", protocol=paho.MQTTv311, clean_session=False)
        self._client.reconnect_delay_set(1, 2)
        self._client.max_queued_messages_set(0)
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()
        self._thread = threading.Thread(target=self._speak, daemon=True)
        self._thread.start()

    def _speak(self) -> None:
        begin_ms = round(time.time() * 1000)
        for second in itertools.count():
            if self._stop.wait(max(0.0, begin_ms / 1000 + second - time.time())):
                return
            for bed in range(BEDS):
                told = [{"n": f"{cm}", "u": "Cel", "v": 14 + bed / 10 + (second + cm) % 16 / 16} for cm in DEPTHS_CM]
                told[0] |= {"bn": f"s{bed}/", "bt": (begin_ms + second * 1000) / 1000}
                self._client.publish(f"garden/{bed}", json.dumps(told), qos=1)
                self.sent += len(told)

    def say(self, topic: str, payload: bytes) -> None:
        """Something else, by the same way."""
        self._client.publish(topic, payload, qos=1)

    def end(self) -> None:
        """Say no more, and wait until the broker has all of it."""
        self._stop.set()
        self._thread.join()
        wait_until(lambda: not self._client._out_messages, 120)
        self._client.disconnect()
        self._client.loop_stop()


class Program:
    """`cooldepth run` and its pages."""

    def __init__(self, garden: Path, port: int) -> None:
        self._call = [sys.executable, "-m", "collector", "run", "--garden", str(garden), "--port", str(port)]
        self._log = garden.with_name("run.log").open("ab")
        self.start()

    def start(self) -> None:
        self._process = subprocess.Popen(self._call, stdout=self._log, stderr=self._log, start_new_session=True)

    def kill(self) -> None:
        os.killpg(self._process.pid, signal.SIGKILL)
        self._process.wait(30)
        self.start()

    def stop(self) -> None:
        self._process.terminate()
        assert self._process.wait(60) == 0

    def pids(self) -> list[int]:
        """The collector's and the pages'."""
        own = self._process.pid
        children = Path(f"/proc/{own}/task/{own}/children").read_text().split()
        return [own, *map(int, children)]


def measured(pid: int) -> tuple[float, int]:
    """Memory [MB] and open files of a process."""
    return resident_mb(pid), len(os.listdir(f"/proc/{pid}/fd"))


def main(minutes: float) -> None:
    """Run it, and say what was found. Raises AssertionError where something was lost, or grew."""
    chance, folder = random.Random(7), Path(tempfile.mkdtemp(prefix="soak-"))
    port = free_port()
    with Mosquitto(folder) as broker:
        garden = folder / "garden.toml"
        garden.write_text(garden_text(broker.port, 0))
        program = Program(garden, port)
        wait_for_listener(broker.port, "garden/x", 60)  # from now on the broker keeps what comes
        stakes = Stakes(broker.port)
        begun_s, asked, failed, samples, faults = time.monotonic(), 0, 0, [], 0

        def files_anew() -> None:
            garden.write_text(garden_text(broker.port, faults))

        def broker_anew() -> None:
            broker.stop()
            time.sleep(10)
            broker.start()

        def nonsense() -> None:
            for number in range(2000):
                stakes.say("garden/nonsense", chance.randbytes(number % 300) + b"\xff")
            stakes.say("garden/long", b"[" + b" " * 300_000 + b"]")

        def strangers() -> None:
            for number in range(2000):
                stakes.say("garden/far", b'[{"n":"stranger/%d","u":"Cel","v":1}]' % number)

        def backup() -> None:
            words = ["backup", "--garden", str(garden), "--out", str(folder / f"{faults}.cooldepth")]
            subprocess.run([sys.executable, "-m", "collector", *words], check=True, capture_output=True)

        gentle: list[Callable[[], None]] = [broker_anew, nonsense, strangers, backup, files_anew]
        while (past_s := time.monotonic() - begun_s) < 60 * minutes:
            if past_s >= (faults + 1) * FAULT_EVERY_S:
                killing = past_s < 30 * minutes
                fault = chance.choice([*gentle, program.kill, program.kill] if killing else gentle)
                faults += 1
                print(f"{past_s / 60:6.1f} min  {fault.__name__}", flush=True)  # noqa: T201
                fault()
            for path in ("/", f"/bed/bed{asked % BEDS}", "/stakes", "/health"):
                asked += 1
                try:
                    urllib.request.urlopen(f"http://127.0.0.1:{port}{path}", timeout=20).read()
                except OSError:
                    failed += 1
            samples.append((past_s / 60, [measured(pid) for pid in program.pids()]))
            time.sleep(ASK_EVERY_S)
        stakes.end()
        wait_until(lambda: len(exported(garden)) >= stakes.sent, 300)
        rows = exported(garden)
        program.stop()
    unlike = len({(row["probe"], row["time_utc"]) for row in rows})
    print(f"{stakes.sent} readings sent, {len(rows)} stored, {unlike} unlike; {faults} faults")  # noqa: T201
    print(f"{asked} pages asked, {failed} not answered")  # noqa: T201
    assert len(rows) == unlike == stakes.sent
    later = [found for at, found in samples if at > 0.55 * minutes and len(found) == 2]
    quarter = max(1, len(later) // 4)
    for place, name in enumerate(("collector", "pages")):
        for which, what, most in ((0, "MB", GROWS_MOST), (1, "open files", None)):
            begin, end = (statistics.median(one[place][which] for one in part) for part in (later[:quarter], later[-quarter:]))
            most_of_all = max(one[place][which] for one in later)
            print(f"{name}: {begin:.0f} {what}, at the end {end:.0f}, at the most {most_of_all:.0f}")  # noqa: T201
            assert end <= (begin * most if most else begin + FILES_MORE), f"{name} grew"


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else MINUTES)
