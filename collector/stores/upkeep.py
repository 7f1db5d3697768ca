"""Keeps the SQLite store quick to read and as small as the grower wants it: rolls readings up, and lets raw ones go.

It runs beside the intake, in portions that keep no commit waiting for long, and rests several times as long as it worked.
"""

from __future__ import annotations

from pathlib import Path

from collector.errors import StoreError
from collector.ports import Clock
from collector.stores import rollups
from collector.stores.rollups import TEN_MS
from collector.stores.schema import Writer

DAY_MS = 86_400_000
# Ten minutes at once, and readings at once: each takes some hundredths of a second on a small computer.
ROLLED_AT_ONCE, PRUNED_AT_ONCE = 400, 4_000
# While there is more to do it rests so many times as long as it worked; then until the next ten minutes are over.
RESTS_TIMES, LEAST_REST_S, IDLE_S, TROUBLE_S = 4.0, 0.02, 30.0, 10.0


class Upkeep:
    """A carrier for the daemon. One thread calls it."""

    name = "upkeep of the store"

    def __init__(self, path: Path, keep_raw_days: int | None, clock: Clock) -> None:
        """Open the file. Raises what `schema.open_writer` raises. With None raw readings are kept for ever."""
        self.trouble: str | None = None
        self._writer = Writer(path)
        self._keep_raw_ms = None if keep_raw_days is None else keep_raw_days * DAY_MS
        self._clock = clock

    def step(self) -> float:
        """One portion. Answers how long to wait [s] before the next."""
        began_s = self._clock.elapsed_s()
        try:
            worked = self.work()
        except StoreError as error:  # the intake tells of the store too; here it says what stands still
            self.trouble = f"the readings are not rolled up, so that long charts are slow: {error}"
            return TROUBLE_S
        self.trouble = None
        return max(LEAST_REST_S, RESTS_TIMES * (self._clock.elapsed_s() - began_s)) if worked else IDLE_S

    def work(self) -> bool:
        """One portion; False where nothing was left to do. Raises StoreError where the store cannot be written."""
        now_ms = self._clock.now_ms()
        with self._writer.transaction() as connection:
            if rollups.roll(connection, now_ms // TEN_MS, ROLLED_AT_ONCE):
                return True
        if self._keep_raw_ms is None:
            return False
        with self._writer.transaction() as connection:
            return bool(rollups.prune(connection, (now_ms - self._keep_raw_ms) // DAY_MS * DAY_MS, PRUNED_AT_ONCE))

    def close(self) -> None:
        """Finish. Harmless when called twice."""
        self._writer.close()
