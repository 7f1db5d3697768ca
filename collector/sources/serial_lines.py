"""Lines from a serial port.

A thread reads all the time, because the kernel keeps only a few kilobytes and a commit may take longer than they
last. What it reads waits in a bounded queue; where that is full the oldest line goes, and that is told. A port that
is not there, or goes away, is opened again by its path until it is back.
"""

from __future__ import annotations

import errno
import threading
from collections import deque
from collections.abc import Sequence

import serial

from collector.decode.lines import NOTHING, Line, take_lines, whole
from collector.model import Envelope
from collector.ports import Clock
from collector.settings import SerialSettings

QUEUE_LINES = 10_000
QUEUE_BYTES = 8 * 1024 * 1024
BATCH_LINES = 1000
READ_S = 0.2
OPEN_S = 2.0  # longest wait for the first try
REOPEN_S = 0.5
LAST_READS = 100  # at the end, for a line that never falls silent
# Lost lines are told for this long after the last of them.
TELL_LOSS_S = 600.0


class SerialSource:
    """A `ports.Source` for one serial port. It cannot acknowledge: a wire does not say anything twice."""

    can_acknowledge = False

    def __init__(
        self, settings: SerialSettings, clock: Clock, *, queue_lines: int = QUEUE_LINES, queue_bytes: int = QUEUE_BYTES
    ) -> None:
        self._settings = settings
        self._clock = clock
        self._queue_lines = queue_lines
        self._queue_bytes = queue_bytes
        self._changed = threading.Condition()
        # Guarded by _changed:
        self._queue: deque[Envelope] = deque()
        self._queued_bytes = 0
        self._lost = 0
        self._lost_at_s = 0.0
        self._trouble: str | None = None
        self._tried = threading.Event()
        self._stop = threading.Event()
        self._reader: threading.Thread | None = None

    @property
    def name(self) -> str:
        """`serial PORT`."""
        return f"serial {self._settings.port}"

    @property
    def trouble(self) -> str | None:
        """What is wrong with the port, in a sentence; None when it is well."""
        with self._changed:
            if self._trouble is None and self._lost and self._clock.elapsed_s() - self._lost_at_s < TELL_LOSS_S:
                return (
                    f"{self._lost} lines were lost because they could not be stored in time; the oldest went first. "
                    "See why the store is slow"
                )
            return self._trouble

    def take(self, wait_s: float) -> Sequence[Envelope]:
        """The lines that have come, at once if there are any, else after at most `wait_s` [s].

        The first call opens the port, and returns when `trouble` tells how that went.
        """
        if self._reader is None and not self._stop.is_set():
            self._reader = threading.Thread(target=self._read_on, name=self.name, daemon=True)
            self._reader.start()
            self._tried.wait(OPEN_S)
        with self._changed:
            self._changed.wait_for(lambda: self._queue or self._stop.is_set(), timeout=wait_s)
            came = [self._queue.popleft() for _ in range(min(len(self._queue), BATCH_LINES))]
            self._queued_bytes -= sum(len(envelope.payload) for envelope in came)
        return came

    def acknowledge(self, envelopes: Sequence[Envelope]) -> None:
        """Nothing: nobody on a wire waits for it."""

    def close(self) -> None:
        """Let go of the port and end the thread; what was read may still be taken. Harmless when called twice."""
        self._stop.set()
        with self._changed:
            self._changed.notify_all()
        if self._reader is not None:
            self._reader.join()
            self._reader = None

    # ------------------------------------------------------------ in the reader's thread

    def _read_on(self) -> None:
        while not self._stop.is_set():
            try:
                self._read_port()
            except Exception as error:  # noqa: BLE001 - a thread that dies would fall silent; a driver may raise anything
                self._say(self._why(error))
            self._stop.wait(REOPEN_S)

    def _read_port(self) -> None:
        """Read until told to stop; raises when the port cannot be opened or goes away."""
        rest = NOTHING
        with serial.Serial(self._settings.port, self._settings.baud, timeout=READ_S, exclusive=True) as port:
            self._say(None)
            try:
                while not self._stop.is_set():
                    lines, rest = take_lines(rest, port.read(max(1, port.in_waiting)))
                    self._keep(lines)
                for _ in range(LAST_READS):  # what the kernel holds already would be lost
                    if not port.in_waiting:
                        break
                    lines, rest = take_lines(rest, port.read(port.in_waiting))
                    self._keep(lines)
            finally:
                # Half a line of a port that has gone must not grow together with the next one.
                self._keep(whole(rest))

    def _keep(self, lines: Sequence[Line]) -> None:
        if not lines:
            return
        now_ms = self._clock.now_ms()
        with self._changed:
            for line in lines:
                self._queue.append(Envelope(self.name, line.head, now_ms, line.size))
                self._queued_bytes += len(line.head)
            while len(self._queue) > self._queue_lines or self._queued_bytes > self._queue_bytes:
                self._queued_bytes -= len(self._queue.popleft().payload)
                self._lost += 1
                self._lost_at_s = self._clock.elapsed_s()
            self._changed.notify_all()

    def _say(self, trouble: str | None) -> None:
        with self._changed:
            self._trouble = trouble
        self._tried.set()

    def _why(self, error: Exception) -> str:
        port = self._settings.port
        match getattr(error, "errno", None):
            case errno.ENOENT:
                return f"there is no {port}: plug the device in, or set `port` in the garden file; trying again"
            case errno.EACCES | errno.EPERM:
                return f"this user may not open {port}: add it to the dialout group and sign in again; trying again"
            case errno.EBUSY | errno.EAGAIN:
                return f"another program uses {port}: end it; trying again"
        if getattr(error, "errno", None) == errno.ENOTTY or "Inappropriate ioctl" in str(error):
            return f"{port} is no serial port; set `port` in the garden file to the device, as /dev/ttyUSB0"
        if isinstance(error, ValueError):
            return f"{port} cannot be set up: {error}; see `baud` in the garden file"
        return f"{port} has gone, unplugged or reset ({error}); trying again"
