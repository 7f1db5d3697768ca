"""Probes that speak when they are asked: a bus behind a serial port, asked by a thread of its own.

Each device has its own time: one that does not answer is asked less and less often, and never keeps the others waiting for
long. What they say goes on as SenML, like everything that comes over a wire.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

import msgspec

from collector.errors import DecodeError
from collector.model import Envelope
from collector.ports import Clock

QUEUE_MOST = 10_000
REOPEN_S = 2.0
OPEN_S = 3.0
# A device that fails is asked after its usual time, then twice, four times and at most so many times as long.
MOST_PATIENCE = 8
_REST_S = 0.1


@dataclass(frozen=True, slots=True)
class Said:
    """A number of a device: whose, in which SenML unit."""

    address: str
    unit: str | None
    value: float


class Bus(Protocol):
    """What a polled source needs of a wire. One thread calls it."""

    @property
    def name(self) -> str:
        """What the grower calls it: `sdi12 /dev/ttyUSB0`."""

    @property
    def devices(self) -> Sequence[str]:
        """What each device on it is called in a sentence."""

    def open(self) -> None:
        """Open the port, or raise OSError."""

    def ask(self, device: int) -> Sequence[Said]:
        """What a device measures now. Raises DecodeError for one that does not answer well, OSError where the port has gone."""

    def close(self) -> None:
        """Let go of the port. Harmless when called twice."""


@dataclass(slots=True)
class _Turn:
    """When a device is to be asked next [s], how often it failed since it last did not, and what is wrong."""

    due_s: float
    failed: int = 0
    trouble: str | None = None


@dataclass(slots=True)
class _State:
    """What the thread and its source share, under one lock."""

    changed: threading.Condition = field(default_factory=threading.Condition)
    queue: deque[Envelope] = field(default_factory=lambda: deque(maxlen=QUEUE_MOST))
    port_trouble: str | None = None


class PolledSource:
    """A `ports.Source` for one bus. It cannot acknowledge: what was measured at a moment is not measured again."""

    can_acknowledge = False

    def __init__(self, bus: Bus, every_s: float, clock: Clock) -> None:
        """Nothing is opened before the first `take`."""
        self._bus = bus
        self._every_s = every_s
        self._clock = clock
        self._state = _State()
        self._turns = [_Turn(0.0) for _ in bus.devices]
        self._asked = threading.Event()
        self._stop = threading.Event()
        self._asker: threading.Thread | None = None

    @property
    def name(self) -> str:
        """That of its bus."""
        return self._bus.name

    @property
    def trouble(self) -> str | None:
        """What is wrong with the port, or with devices on it, in a sentence; None when all is well."""
        with self._state.changed:
            if self._state.port_trouble is not None:
                return self._state.port_trouble
            silent = [turn.trouble for turn in self._turns if turn.trouble is not None]
        return "; ".join(silent) or None

    def take(self, wait_s: float) -> Sequence[Envelope]:
        """What devices have said, at once if anything is there, else after at most `wait_s` [s].

        The first call opens the port, and returns when each device was asked once or `trouble` tells what is wrong.
        """
        if self._asker is None and not self._stop.is_set():
            self._asker = threading.Thread(target=self._ask_on, name=self.name, daemon=True)
            self._asker.start()
            self._asked.wait(OPEN_S)
        with self._state.changed:
            self._state.changed.wait_for(lambda: self._state.queue or self._stop.is_set(), timeout=wait_s)
            came = list(self._state.queue)
            self._state.queue.clear()
        return came

    def acknowledge(self, envelopes: Sequence[Envelope]) -> None:
        """Nothing: nobody on a wire waits for it."""

    def close(self) -> None:
        """Let go of the port and end the thread; what was said may still be taken. Harmless when called twice."""
        self._stop.set()
        with self._state.changed:
            self._state.changed.notify_all()
        if self._asker is not None:
            self._asker.join()
            self._asker = None

    # ------------------------------------------------------------ in the asker's thread

    def _ask_on(self) -> None:
        while not self._stop.is_set():
            try:
                self._bus.open()
                self._say(None)
                while not self._stop.is_set():
                    self._ask_those_due()
                    self._stop.wait(_REST_S)
            except Exception as error:  # noqa: BLE001 - a thread that dies would fall silent; a driver may raise anything
                self._say(f"{error}; trying again")
            finally:
                self._bus.close()
            self._asked.set()
            self._stop.wait(REOPEN_S)

    def _ask_those_due(self) -> None:
        """Each device whose time has come, the one that is due longest first, so that each has its turn."""
        now_s = self._clock.elapsed_s()
        due = sorted((turn.due_s, device) for device, turn in enumerate(self._turns) if turn.due_s <= now_s)
        for _, device in due:
            if self._stop.is_set():
                return
            turn = self._turns[device]
            try:
                self._keep(self._bus.ask(device))
            except DecodeError as error:
                turn.failed += 1
                turn.trouble = f"{self._bus.devices[device]}: {error}"
            else:
                turn.failed, turn.trouble = 0, None
            patience = 1 if turn.failed < 2 else min(2 ** (turn.failed - 1), MOST_PATIENCE)
            turn.due_s = now_s + self._every_s * patience
        if due:
            self._asked.set()

    def _keep(self, said: Sequence[Said]) -> None:
        now_ms = self._clock.now_ms()
        records = [
            {"n": one.address, "v": one.value, "t": now_ms / 1000} | ({} if one.unit is None else {"u": one.unit}) for one in said
        ]
        payload = msgspec.json.encode(records)
        with self._state.changed:
            self._state.queue.append(Envelope(self._bus.name, payload, now_ms, len(payload)))
            self._state.changed.notify_all()

    def _say(self, trouble: str | None) -> None:
        with self._state.changed:
            self._state.port_trouble = trouble
