"""The collector while it runs: intake in the calling thread, advice and the phone in another.

A slow phone or a slip in a rule must never hold up a reading, so the two threads share
nothing but the store. Everything that is worth a line in the log is logged here.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from collector.errors import CooldepthError
from collector.ports import Clock, Source

log = logging.getLogger("cooldepth")

LOOK_EVERY_S = 10.0
# A thread that asks another computer something may take as long as that takes to answer.
JOIN_S = 12.0
# Advice waits this long after the start, so that what waited at the broker is in first.
FIRST_ADVICE_S = 5.0
# While readings older than this are still coming in, the newest word of a bed is yet to come.
CATCHING_UP_MS = 30 * 60 * 1000
# How long the end may wait for a busy store, for the sake of what cannot be asked for again. Service managers that end a
# program with force give it more than this.
FINISH_S = 15.0


class Intake(Protocol):
    """What the daemon needs of the intake."""

    @property
    def trouble(self) -> str | None:
        """Why nothing can be committed now, or None."""

    @property
    def newest_measured_ms(self) -> int | None:
        """The newest time of measurement in the last batch that held a reading."""

    def step(self, wait_s: float) -> int:
        """One round: take, decode, check, commit, acknowledge. Answers how many envelopes it settled."""

    def finish(self, within_s: float) -> bool:
        """Settle what is in hand or was read already; False where that did not work within this time [s]."""


class Carrier(Protocol):
    """Something that carries on beside the intake, in a thread of its own."""

    @property
    def name(self) -> str:
        """What the grower calls it."""

    @property
    def trouble(self) -> str | None:
        """What is wrong with it now, in a sentence; None when it is well."""

    def step(self) -> float:
        """One round. Answers how long to wait [s] before the next."""


@dataclass
class Daemon:
    """Runs one garden until told to stop.

    The second thread calls `report` with the present troubles each time, so that the pages know
    that the collector lives, and `advise` only when what waited at the broker or for the store is
    in: a bed must not be called silent, dry or warm on the word of last week's readings.
    """

    intake: Intake
    sources: Sequence[Source]
    report: Callable[[Sequence[str]], None]
    advise: Callable[[], None]
    clock: Clock
    carriers: Sequence[Carrier] = ()
    stop: threading.Event = field(default_factory=threading.Event)
    _caught_up: threading.Event = field(default_factory=threading.Event)

    def run(self) -> None:
        """Take readings in until `stop` is set; the batch in hand is finished first."""
        for source in self.sources:
            log.info("listening on %s", source.name)
            if not source.can_acknowledge:
                log.info("%s cannot be asked to send again: what it says while the collector is down is lost", source.name)
        advice = threading.Thread(target=self._look_after_beds, name="advice", daemon=True)
        advice.start()
        carrying = [threading.Thread(target=self._carry, args=[one], name=one.name, daemon=True) for one in self.carriers]
        for thread in carrying:
            thread.start()
        try:
            self._take_in()
            self._finish()
        finally:
            self.stop.set()
            self._caught_up.set()  # the other thread may be waiting for it
            for thread in (advice, *carrying):
                thread.join(timeout=JOIN_S)
            for source in self.sources:
                source.close()
            log.info("stopped; everything acknowledged is stored")

    def _finish(self) -> None:
        """Store what has been read and cannot be asked for again."""
        for source in self.sources:
            if not source.can_acknowledge:
                source.close()
        if not self.intake.finish(FINISH_S):
            log.warning("stopped before all that was read could be stored: %s", self.intake.trouble)

    def _take_in(self) -> None:
        told: dict[str, str | None] = {}
        quiet_since_s = self.clock.elapsed_s()
        while not self.stop.is_set():
            settled = self.intake.step(0.2)
            newest_ms = self.intake.newest_measured_ms
            behind = settled and newest_ms is not None and newest_ms < self.clock.now_ms() - CATCHING_UP_MS
            if behind or self.intake.trouble:
                quiet_since_s = self.clock.elapsed_s()
                self._caught_up.clear()
            elif self.clock.elapsed_s() - quiet_since_s > FIRST_ADVICE_S:
                self._caught_up.set()
            self._tell_changes(told)

    def _troubles(self) -> dict[str, str | None]:
        troubles = {"store": self.intake.trouble, **{source.name: source.trouble for source in self.sources}}
        return troubles | {carrier.name: carrier.trouble for carrier in self.carriers}

    def _tell_changes(self, told: dict[str, str | None]) -> None:
        for name, trouble in self._troubles().items():
            if trouble != told.get(name):
                if trouble:
                    log.warning("%s: %s", name, trouble)
                else:
                    log.info("%s: well again", name)
                told[name] = trouble

    def _carry(self, carrier: Carrier) -> None:
        while not self.stop.is_set():
            try:
                wait_s = carrier.step()
            except Exception:  # a slip must not leave what waits waiting until somebody starts the collector anew
                log.exception("%s: this step failed; the next comes in %d s", carrier.name, LOOK_EVERY_S)
                wait_s = LOOK_EVERY_S
            self.stop.wait(wait_s)

    def _look_after_beds(self) -> None:
        told: str | None = None
        while not self.stop.is_set():
            try:
                self.report([trouble for trouble in self._troubles().values() if trouble])
                if self._caught_up.is_set():
                    self.advise()
                told = None
            except CooldepthError as error:
                if str(error) != told:  # a store that is away for hours is told once
                    log.warning("advice: %s", error)
                told = str(error)
            except Exception:  # a slip in a rule must not end the watch over the other beds
                log.exception("advice: this look failed; the next comes in %d s", LOOK_EVERY_S)
            (self.stop if self._caught_up.is_set() else self._caught_up).wait(LOOK_EVERY_S)
