"""What is watched while things end under a collector: its memory, and whether the health page tells the truth."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from collector import wiring
from collector.clock import SystemClock
from collector.query import Health, SoilQueries
from tests.crash.test_kill import Collector

# Well above what it holds at rest and under load (measured: 60 to 80 MB), well below what a queue that grows would take.
RESIDENT_MOST_MB = 200.0
# A collector that says nothing is missed after two minutes.
MISSED_S = 150.0


class LeapingClock(SystemClock):
    """The machine's clock, and what the test has leapt over."""

    leapt_s = 0.0

    def now_ms(self) -> int:
        return super().now_ms() + round(1000 * self.leapt_s)

    def elapsed_s(self) -> float:
        return super().elapsed_s() + self.leapt_s


class HealthPage:
    """What `/health` answers of a garden, by a reader of its own beside the collector."""

    def __init__(self, garden: Path) -> None:
        read = wiring.read_garden(garden)
        self._opened = ExitStack()
        readings = self._opened.enter_context(wiring.open_readings(read))
        season = self._opened.enter_context(wiring.open_season(read))
        self._clock = LeapingClock()
        self.queries = SoilQueries(read, readings, season, self._clock)

    def now(self) -> Health:
        return self.queries.health()

    @contextmanager
    def later(self) -> Iterator[None]:
        """As it would answer if all stayed as it is for so long that a silent collector is missed."""
        self.now()
        self._clock.leapt_s += MISSED_S
        yield
        self._clock.leapt_s -= MISSED_S

    def tells(self, trouble: str) -> bool:
        """Whether it tells this trouble, or that the collector, which cannot even say so, is missed."""
        if trouble in self.now().status:
            return True
        with self.later():
            late = self.now()
        return trouble in late.status or ("has not reported since" in late.status and not late.well)

    def misses(self) -> bool:
        """Whether a collector that is gone is missed."""
        with self.later():
            late = self.now()
        return not late.well and "has not reported since" in late.status

    def close(self) -> None:
        self._opened.close()


@contextmanager
def health_of(garden: Path) -> Iterator[HealthPage]:
    """The health page of a garden, while this is open."""
    page = HealthPage(garden)
    try:
        yield page
    finally:
        page.close()


class Memory:
    """Samples what a collector holds in memory while it is open."""

    def __init__(self, collector: Collector | None = None) -> None:
        self.collector = collector
        self.most_mb = 0.0
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._sample, daemon=True)

    def __enter__(self) -> Memory:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join()

    def assert_bounded(self) -> None:
        """It was seen, and never large."""
        assert 0.0 < self.most_mb < RESIDENT_MOST_MB

    def _sample(self) -> None:
        while not self._stop.wait(0.2):
            try:
                self.most_mb = max(self.most_mb, self.collector.resident_mb() if self.collector else 0.0)
            except OSError:
                continue  # it was just killed
