"""The one place that reads the machine's time.

Everybody else is handed a `Clock`. `now_ms` may jump (a board without a battery clock does
so at boot); `elapsed_s` never goes back, so time-outs are measured with it.
"""

from __future__ import annotations

import os
import time


class SystemClock:
    """The machine's own time."""

    def now_ms(self) -> int:
        """Milliseconds since 1970-01-01 UTC; may jump."""
        return time.time_ns() // 1_000_000

    def elapsed_s(self) -> float:
        """Seconds since some fixed moment; never goes back."""
        return time.monotonic()

    def sleep(self, seconds: float) -> None:
        """Wait that many seconds of the machine's time."""
        time.sleep(seconds)


class FastClock(SystemClock):
    """A clock for the simulated garden: its days pass `speed` times faster from a given moment on."""

    def __init__(self, start_ms: int, machine_start_ms: int, speed: float) -> None:
        self._start_ms = start_ms
        self._machine_start_ms = machine_start_ms
        self._speed = speed

    def now_ms(self) -> int:
        """Milliseconds since 1970-01-01 UTC in the simulated garden."""
        return self._start_ms + int((super().now_ms() - self._machine_start_ms) * self._speed)

    @property
    def setting(self) -> str:
        """The text from which another process makes the same clock (see `from_environment`)."""
        return f"{self._start_ms},{self._machine_start_ms},{self._speed}"


CLOCK_VARIABLE = "COOLDEPTH_SIMULATED_CLOCK"


def from_environment() -> SystemClock:
    """The machine's clock, or the fast one that the demo names to its processes in the environment."""
    setting = os.environ.get(CLOCK_VARIABLE)
    if not setting:
        return SystemClock()
    start_ms, machine_start_ms, speed = setting.split(",")
    return FastClock(int(start_ms), int(machine_start_ms), float(speed))
