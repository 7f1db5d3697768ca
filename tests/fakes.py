"""Stand-ins written by hand: a clock that moves when told, a store in memory, a wire that says what it is given."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from collector.errors import StoreError
from collector.model import Batch, Delivery, Envelope, Flag, Reading, Spoken, Unclaimed

# 2026-04-13T08:00:00Z: any moment in a season.
NOW_MS = 1_776_067_200_000


class FakeClock:
    """Time that stands until `sleep` or `pass_s` moves it."""

    def __init__(self, now_ms: int = NOW_MS) -> None:
        self.at_ms = now_ms
        self.at_s = 0.0

    def now_ms(self) -> int:
        return self.at_ms

    def elapsed_s(self) -> float:
        return self.at_s

    def sleep(self, seconds: float) -> None:
        self.pass_s(seconds)

    def pass_s(self, seconds: float) -> None:
        self.at_s += seconds
        self.at_ms += round(seconds * 1000)


class FakeReadingStore:
    """A store in memory. `fail` names the errors that its next commits raise, in order."""

    def __init__(self, latest: Mapping[str, Reading] | None = None) -> None:
        self.batches: list[Batch] = []
        self.fail: list[StoreError] = []
        self.marks: list[tuple[str, int, int, Flag, bool]] = []
        self.let_gone: list[Unclaimed] = []
        self._forgotten = 0
        self._latest = dict(latest or {})

    def commit(self, batch: Batch) -> None:
        if self.fail:
            raise self.fail.pop(0)
        self.batches.append(batch)

    def first_arrival(self, source: str, message_id: int, digest: bytes) -> int | None:
        for batch in reversed(self.batches[self._forgotten :]):
            for arrival in batch.arrivals:
                if (arrival.source, arrival.message_id, arrival.digest) == (source, message_id, digest):
                    return arrival.received_ms
        return None

    def spoken(self) -> Sequence[Spoken]:
        return [one for batch in self.batches for one in batch.spoken]

    def forget_arrivals(self) -> None:
        self._forgotten = len(self.batches)

    def mark(self, probe_id: str, from_ms: int, to_ms: int, flag: Flag, *, on: bool) -> None:
        self.marks.append((probe_id, from_ms, to_ms, flag, on))

    def latest(self) -> Mapping[str, Reading]:
        return self._latest

    def kept_of(self, addresses: Collection[str], most: int) -> Sequence[Unclaimed]:
        kept = [one for batch in self.batches for one in batch.unclaimed if one.address in addresses and one not in self.let_gone]
        return sorted(kept, key=lambda one: (one.address, one.measured_ms))[:most]

    def let_go(self, kept: Sequence[Unclaimed]) -> None:
        self.let_gone.extend(kept)

    def close(self) -> None:
        pass

    @property
    def readings(self) -> dict[tuple[str, int], Reading]:
        """What was handed over, by its key; the later value wins. Those `beside` are not moved to a free place here."""
        return {(one.probe_id, one.measured_ms): one for batch in self.batches for one in (*batch.readings, *batch.beside)}

    @property
    def refusals(self) -> list[str]:
        """The reason of each refusal, oldest first."""
        return [one.reason for batch in self.batches for one in batch.refusals]


class FakeSource:
    """A wire that hands over what was put into `waiting`, one list per `take`."""

    can_acknowledge = True
    trouble: str | None = None

    def __init__(self, clock: FakeClock, name: str = "fake wire") -> None:
        self.name = name
        self.waiting: list[list[Envelope]] = []
        self.acknowledged: list[Envelope] = []
        self.takes = 0
        self._clock = clock

    def say(self, *payloads: bytes, topic: str = "garden/stake", again: bool = False) -> None:
        """Put messages there, numbered from 1 in each call, to be taken together."""
        now_ms = self._clock.now_ms()
        self.waiting.append(
            [
                Envelope(f"mqtt {topic}", payload, now_ms, len(payload), Delivery(number, again))
                for number, payload in enumerate(payloads, start=1)
            ]
        )

    def take(self, wait_s: float) -> Sequence[Envelope]:
        self.takes += 1
        if self.waiting:
            return self.waiting.pop(0)
        self._clock.sleep(wait_s)
        return ()

    def acknowledge(self, envelopes: Sequence[Envelope]) -> None:
        self.acknowledged.extend(envelopes)

    def close(self) -> None:
        pass
