"""The demo: a simulated garden, a broker, the collector and the pages, on this machine alone.

The garden's stakes publish over MQTT like real ones. A season is sent first, as fast as it
can be worked out, and taken in with no pages open; then days pass faster than the machine's
own, on a clock that the collector and the pages share.
"""

from __future__ import annotations

import datetime as dt
import os
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from paho.mqtt import client as paho
from paho.mqtt.enums import CallbackAPIVersion

from collector import clock as clocks
from collector import wiring
from collector.calls import DoneMark, Job
from collector.errors import CooldepthError, SourceError
from collector.model import Garden
from collector.ports import Clock
from collector.simulate import diary, foretold, play, scenario
from collector.sources.embedded import EmbeddedBroker

SEND_AHEAD = 500
KNOCK_EVERY_S = 0.2
TELL_EVERY_S = 2.0
MARKS_SPAN_MS = 3 * 24 * 3600 * 1000


def run_demo(host: str, port: int, speed: float, folder: Path | None, say: Callable[[str], None]) -> int:
    """Run the demo until Ctrl-C; answers the exit status. `folder` keeps the garden file and store."""
    for told_to_stop in (signal.SIGTERM, signal.SIGINT):  # the latter is ignored where a shell starts us in the background
        signal.signal(told_to_stop, signal.default_int_handler)
    story = scenario.demo_scenario()
    played = play.Play(story)
    status = 0
    try:
        season = _work_out(played, say)
        with _folder(folder) as home, EmbeddedBroker(0) as broker, _publisher(broker.port) as publish:
            garden_path = home / "garden.toml"
            garden_path.write_text(scenario.garden_toml(story, mqtt_port=broker.port), encoding="utf-8")
            (home / scenario.FORETOLD).write_text(foretold.foretold_csv(story), encoding="utf-8")
            garden = wiring.read_garden(garden_path)
            _take_in(season, garden, garden_path, story.now_ms, publish, say)
            with wiring.open_season(garden) as journal:
                for entry in diary.diary(story, played.poured):
                    journal.write(entry)
            # The clock starts now, with the season taken in, so that the story begins as it is opened.
            clock = clocks.FastClock(story.now_ms, clocks.SystemClock().now_ms(), speed)
            call = [sys.executable, "-m", "collector", "run", "--garden", str(garden_path), "--host", host, "--port", str(port)]
            collector = subprocess.Popen(call, env={**os.environ, clocks.CLOCK_VARIABLE: clock.setting})
            stop = threading.Event()
            try:
                _wait_for_pages(host, port, collector)
                say(f"\n  Open http://{host}:{port}  (simulated garden; Ctrl-C ends it)\n")
                threading.Thread(target=_end_with, args=(collector, stop), name="end", daemon=True).start()
                threading.Thread(target=_do_as_marked, args=(played, garden, clock, stop), name="grower", daemon=True).start()
                played.live(clock, publish, stop)
            finally:
                stop.set()
                collector.terminate()
                status = collector.wait(timeout=30)
    except KeyboardInterrupt:
        say("\nThe demo has ended.")
    return status


def _work_out(played: play.Play, say: Callable[[str], None]) -> list[tuple[str, bytes]]:
    """Every message of the season from planting to now."""
    say("Working out a season of soil, half a year of it ...")
    season: list[tuple[str, bytes]] = []
    for message in played.backfill():
        season.append(message)
        if len(season) % 4000 == 0:
            say(f"  {len(season)} messages from the stakes so far ...")
    return season


@contextmanager
def _folder(keep: Path | None) -> Iterator[Path]:
    """The folder of the demo: the given one, made if need be, or one that goes away at the end."""
    if keep is not None:
        keep.mkdir(parents=True, exist_ok=True)
        if (keep / "garden.db").exists():
            raise CooldepthError(f"{keep} already holds a garden.db; the demo writes over nothing, so name another folder")
        yield keep
        return
    with tempfile.TemporaryDirectory(prefix="cooldepth-demo-") as name:
        yield Path(name)


@contextmanager
def _publisher(port: int) -> Iterator[Callable[[str, bytes], None]]:
    """A stake's side of the broker: `publish(topic, payload)` at QoS 1, which waits while too much is on its way."""
    client = paho.Client(CallbackAPIVersion.VERSION2, client_id="simulated-stakes")
    on_its_way = threading.Semaphore(SEND_AHEAD)
    client.on_publish = lambda *_: on_its_way.release()
    client.connect("127.0.0.1", port)
    client.loop_start()

    def publish(topic: str, payload: bytes) -> None:
        on_its_way.acquire()
        client.publish(topic, payload, qos=1)

    try:
        yield publish
    finally:
        client.disconnect()
        client.loop_stop()


def _take_in(
    season: Sequence[tuple[str, bytes]],
    garden: Garden,
    garden_path: Path,
    now_ms: int,
    publish: Callable[[str, bytes], None],
    say: Callable[[str], None],
) -> None:
    """Send the season through the broker to a collector, and wait until that has stored it up to now [ms]."""
    clock = clocks.FastClock(now_ms, clocks.SystemClock().now_ms(), speed=1.0)
    call = [sys.executable, "-m", "collector", "collect", "--garden", str(garden_path)]
    collector = subprocess.Popen(call, env={**os.environ, clocks.CLOCK_VARIABLE: clock.setting})
    try:
        _knock(garden, publish, *season[0])
        for topic, payload in season:
            _must_live(collector)
            publish(topic, payload)
        say(f"  {len(season)} messages sent")
        with wiring.open_readings(garden) as readings:
            while (stored_ms := max((last.measured_ms for last in readings.latest().values()), default=0)) < now_ms:
                _must_live(collector)
                say(f"  readings up to {dt.datetime.fromtimestamp(stored_ms / 1000, dt.UTC):%-d %B} are stored ...")
                time.sleep(TELL_EVERY_S)
    finally:
        collector.terminate()
        collector.wait(timeout=30)


def _wait_for_pages(host: str, port: int, collector: subprocess.Popen[bytes], patience_s: float = 60.0) -> None:
    """Until the pages answer, so that the address is told when it can be opened."""
    for _ in range(int(patience_s / KNOCK_EVERY_S)):
        _must_live(collector)
        try:
            socket.create_connection((host, port), timeout=KNOCK_EVERY_S).close()
        except OSError:
            time.sleep(KNOCK_EVERY_S)
        else:
            return
    raise SourceError(f"the pages of the demo did not answer within {patience_s:.0f} s; what they said stands above")


def _must_live(collector: subprocess.Popen[bytes]) -> None:
    if collector.poll() is not None:
        raise SourceError(f"the collector of the demo ended with status {collector.returncode}; what it said stands above")


def _knock(garden: Garden, publish: Callable[[str, bytes], None], topic: str, payload: bytes, patience_s: float = 30.0) -> None:
    """Say the season's first message until the collector has stored it: what is said before it listens goes nowhere."""
    with wiring.open_readings(garden) as readings:
        for _ in range(int(patience_s / KNOCK_EVERY_S)):
            publish(topic, payload)
            time.sleep(KNOCK_EVERY_S)
            if readings.latest() or readings.unclaimed():
                return
    raise SourceError(f"the collector of the demo stored nothing within {patience_s:.0f} s; what it said stands above")


def _end_with(collector: subprocess.Popen[bytes], stop: threading.Event) -> None:
    collector.wait()
    stop.set()


def _do_as_marked(played: play.Play, garden: Garden, clock: Clock, stop: threading.Event) -> None:
    """What the visitor marks as done on the page happens in the simulated garden, and is taken back with an undo."""
    done: set[DoneMark] = set()
    with wiring.open_season(garden) as season:
        while not stop.wait(1.0):
            marks = set(season.done_marks(clock.now_ms() - MARKS_SPAN_MS, clock.now_ms() + MARKS_SPAN_MS))
            for mark in marks - done:
                if mark.job is Job.SHADE:
                    played.apply(play.LayCloth(mark.bed_id, scenario.CLOTH if mark.undone_ms is None else 0.0))
                elif mark.job is Job.WATER and mark.undone_ms is None:
                    played.apply(play.Water(mark.bed_id, mark.litres))
            done = marks
