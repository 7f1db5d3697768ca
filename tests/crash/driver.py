"""A collector that kills itself at a chosen moment of its second commit: `python -m tests.crash.driver GARDEN before|after`."""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path

from collector import wiring
from collector.clock import SystemClock
from collector.intake import Intake
from collector.model import Batch
from collector.sources.mqtt import MqttSource
from collector.stores.sqlite import SqliteReadingStore


class DeadlyStore(SqliteReadingStore):
    """The real store; the process dies with no goodbye before or after its second commit."""

    def __init__(self, path: Path, moment: str) -> None:
        super().__init__(path)
        self._moment = moment
        self._commits = 0

    def commit(self, batch: Batch) -> None:
        self._commits += 1
        if self._commits == 2 and self._moment == "before":
            os.kill(os.getpid(), signal.SIGKILL)
        super().commit(batch)
        if self._commits == 2 and self._moment == "after":
            os.kill(os.getpid(), signal.SIGKILL)


def main(garden_file: str, moment: str) -> None:
    garden = wiring.read_garden(Path(garden_file))
    assert garden.mqtt is not None
    clock = SystemClock()
    store = DeadlyStore(garden.store_path, moment)
    intake = Intake([MqttSource(garden.mqtt, clock, store.forget_arrivals)], store, garden.probes, clock)
    while True:
        intake.step(0.2)


if __name__ == "__main__":
    main(*sys.argv[1:])
