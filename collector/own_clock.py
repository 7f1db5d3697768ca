"""Our own clock may be set while we run: how it goes is watched against one that never jumps."""

from __future__ import annotations

from dataclasses import dataclass

from collector import checks
from collector.ports import Clock


@dataclass(frozen=True, slots=True)
class Jump:
    """How our own clock has gone since it was last looked at: `before_ms`, `now_ms` [ms since 1970 UTC]."""

    before_ms: int
    now_ms: int
    elapsed_s: float
    first: bool = False
    back: bool = False
    forward: bool = False


class OwnClock:
    """Watches our own clock against one that never jumps."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._seen: Jump | None = None

    def jump(self) -> Jump:
        """How the clock has gone since the last jump that was accepted."""
        now_ms, elapsed_s = self._clock.now_ms(), self._clock.elapsed_s()
        if self._seen is None:
            return Jump(now_ms, now_ms, elapsed_s, first=True)
        before_ms = self._seen.now_ms
        stepped_ms = (now_ms - before_ms) - (elapsed_s - self._seen.elapsed_s) * 1000
        back, forward = stepped_ms < -checks.FUTURE_AFTER_MS, stepped_ms > checks.FUTURE_AFTER_MS
        return Jump(before_ms, now_ms, elapsed_s, back=back, forward=forward)

    def accept(self, jump: Jump) -> None:
        """It is dealt with; the next one counts from there."""
        self._seen = jump
