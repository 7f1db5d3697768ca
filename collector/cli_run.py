"""The commands that run until they are told to stop: the collector, the pages, both."""

from __future__ import annotations

import argparse
import logging
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from collector import assembly, wiring
from collector.daemon import Daemon
from collector.errors import CooldepthError
from collector.garden_watch import GardenWatch
from collector.ports import Clock

if TYPE_CHECKING:
    from collector.sources.embedded import BesideBroker

log = logging.getLogger("cooldepth")


class Pages:
    """The dashboard's process beside the collector, started again if it ends; the collector goes on without it.

    Its standard input is a pipe from this process, by which it knows, whatever ends this process, that it is to end too.
    """

    STARTED_S = 10.0
    AGAIN_S = 30.0

    def __init__(self, call: Sequence[str], stop: threading.Event, clock: Clock) -> None:
        self._call, self._stop, self._clock = [*call, "--until-end-of-input"], stop, clock
        self._process = self._start()
        self._watch = threading.Thread(target=self._keep_up, name="pages", daemon=True)
        self._watch.start()

    def close(self) -> None:
        """End the dashboard; the collector's stop is set by now."""
        self._process.terminate()
        self._watch.join(timeout=10)

    def _start(self) -> subprocess.Popen[bytes]:
        # In a session of its own: Ctrl-C is for this process, which then ends the pages.
        return subprocess.Popen(self._call, stdin=subprocess.PIPE, start_new_session=True)

    def _keep_up(self) -> None:
        while True:
            begun_s = self._clock.elapsed_s()
            status = self._process.wait()
            if self._process.stdin is not None:
                self._process.stdin.close()
            if self._stop.is_set():
                return
            if self._clock.elapsed_s() - begun_s < self.STARTED_S:
                told = f"could not start; the collector goes on without them, and they are tried again in {self.AGAIN_S:.0f} s"
                print(f"cooldepth: the pages {told}", file=sys.stderr)
                if self._stop.wait(self.AGAIN_S):
                    return
            else:
                print(f"cooldepth: the pages ended (status {status}); starting them again", file=sys.stderr)
            self._process = self._start()


class Collector:
    """The collector of a garden file, from now until `end`; when the file says something else, it begins anew with that."""

    def __init__(self, path: Path) -> None:
        """Raises GardenFileError."""
        self.ended = threading.Event()
        self._stop = threading.Event()
        read = partial(wiring.read_garden, path, secrets=True)
        self._garden = read()
        self._watch = GardenWatch(path, self._garden, read, self._stop.set)

    def end(self) -> None:
        """Finish the batch in hand, and return from `run`."""
        self.ended.set()
        self._stop.set()

    def run(self, begun: Callable[[Clock], None] = lambda _clock: None) -> None:
        """Take readings in; `begun` is called once, when all that the garden file names is open."""
        broker = wiring.open_broker()
        try:
            while not self.ended.is_set():
                self._stop.clear()
                with ExitStack() as opened:
                    daemon = self._open(opened, broker)
                    begun(daemon.clock)
                    begun = _nothing
                    if not self.ended.is_set():
                        daemon.run()
        finally:
            broker.close()

    def _open(self, opened: ExitStack, broker: BesideBroker) -> Daemon:
        """The daemon of what the garden file says; of what it said before where that cannot be had."""
        fresh = self._watch.take()
        if fresh is not None:
            log.info("the garden file says something new; beginning anew with it")
            try:
                daemon = opened.enter_context(assembly.open_daemon(fresh, self._stop, [self._watch], broker))
            except CooldepthError as error:
                self._watch.refuse(self._garden, str(error))
            else:
                self._garden = fresh
                return daemon
        return opened.enter_context(assembly.open_daemon(self._garden, self._stop, [self._watch], broker))


def _nothing(_clock: Clock) -> None:
    """It has begun before."""


# ---------------------------------------------------------------- the commands


def collect(arguments: argparse.Namespace) -> int:
    """Take readings in until told to stop."""
    collector = Collector(arguments.garden)
    _end_on_signals(collector)
    collector.run()
    return 0


def serve(arguments: argparse.Namespace) -> int:
    """Show the pages, in a process of their own that takes this one's place."""
    wiring.read_garden(arguments.garden)
    sys.stdout.flush()
    os.execv(sys.executable, _dashboard_call(arguments))
    return 1


def run(arguments: argparse.Namespace) -> int:
    """Collector and pages together; the pages are a process of their own, so that neither can stop the other."""
    collector = Collector(arguments.garden)
    _end_on_signals(collector)
    pages: list[Pages] = []
    try:
        collector.run(lambda clock: pages.append(Pages(_dashboard_call(arguments), collector.ended, clock)))
    finally:
        for one in pages:
            one.close()
    return 0


def _dashboard_call(arguments: argparse.Namespace) -> list[str]:
    where = ["--garden", str(arguments.garden), "--host", arguments.host, "--port", str(arguments.port)]
    return [sys.executable, "-m", "dashboard", *where]


def _end_on_signals(collector: Collector) -> None:
    for name in (signal.SIGTERM, signal.SIGINT):
        signal.signal(name, lambda *_: collector.end())
