"""How much one source may say, so that a broken board takes neither the card nor the time of the others. Pure.

Each topic or port has a store of readings to say, as large as what a whole farm's boards may have kept for weeks, that is filled
again steadily, faster than soil and air could ask for. Only what goes beyond both is refused: counted, and a message of it kept
now and then, so that somebody can see what it is.
"""

from __future__ import annotations

# Common practice, no source: two million readings are forty probes a minute for five weeks, and a hundred a second are forty
# probes that speak more than twice a second.
AT_ONCE, A_SECOND = 2_000_000, 100.0
# Strangers may make up topics without end: beyond so many, those that are full again are forgotten, and then all share one.
MOST_SOURCES = 4096
_REST = ""
# One message of a flood is kept in so long a time.
SAMPLE_EVERY_S = 60.0
# A flood is over when nothing had to be refused for so long.
OVER_AFTER_S = 600.0


class Pace:
    """Watches how much each source says."""

    def __init__(self, at_once: int = AT_ONCE, a_second: float = A_SECOND) -> None:
        self._at_once = float(at_once)
        self._a_second = a_second
        self._left: dict[str, tuple[float, float]] = {}  # what may still be said, and when that was so [s]
        self._refused_s: dict[str, float] = {}
        self._sampled_s: dict[str, float] = {}

    def may_speak(self, source: str, now_s: float) -> bool:
        """Whether a message of the source is to be read; now_s is of a clock that only runs forward [s]."""
        if self._now(self._named(source, now_s), now_s) >= 1.0:
            return True
        _note(self._refused_s, source, now_s)
        return False

    def spoke(self, source: str, readings: int, now_s: float) -> None:
        """It has said so many readings."""
        name = self._named(source, now_s)
        self._left[name] = (self._now(name, now_s) - readings, now_s)  # a pack that is begun is read: below 0 is a debt

    def is_sample(self, source: str, now_s: float) -> bool:
        """Whether this refused message is one to keep."""
        if now_s - self._sampled_s.get(source, -SAMPLE_EVERY_S) < SAMPLE_EVERY_S:
            return False
        _note(self._sampled_s, source, now_s)
        return True

    def floods(self, now_s: float) -> list[str]:
        """What is wrong now, in sentences. Another thread than the one that speaks may ask: it looks at a copy."""
        refused = [source for source, at_s in dict(self._refused_s).items() if now_s - at_s < OVER_AFTER_S]
        return [
            f"{source} has said more than {self._a_second:g} readings a second for long; what is beyond that is refused"
            for source in sorted(refused)[:10]
        ]

    def _named(self, source: str, now_s: float) -> str:
        if source in self._left or len(self._left) < MOST_SOURCES:
            return source
        self._left = {name: told for name, told in self._left.items() if self._now(name, now_s) < self._at_once}
        return source if len(self._left) < MOST_SOURCES else _REST

    def _now(self, name: str, now_s: float) -> float:
        left, at_s = self._left.get(name, (self._at_once, now_s))
        return min(self._at_once, left + (now_s - at_s) * self._a_second)


def _note(times_s: dict[str, float], source: str, now_s: float) -> None:
    """Keep in mind when it was; strangers without end take no memory without end."""
    if source not in times_s and len(times_s) >= MOST_SOURCES:
        times_s.clear()
    times_s[source] = now_s
