"""The path of a reading: take, decode, claim, check, commit, and only then acknowledge.

Every record of every message ends in exactly one way: as a reading, as unclaimed, or refused with a
reason. A batch the store cannot take now is held and tried again; nothing of it is acknowledged, and nothing
more is taken until it is on disk, so that what waits, waits at the broker.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from collector import checks
from collector.decode import lines, senml
from collector.errors import DecodeError, StoreBusyError
from collector.model import Arrival, Batch, Delivery, Envelope, Measurement, Probe, Reading, Refusal, Unclaimed
from collector.ports import Clock, ReadingStore, Source
from collector.units import UNIT_RULES

RETRY_FIRST_S = 1.0
RETRY_MAX_S = 60.0

# Each refused record of a message is kept with the whole message, but so many times at most; the rest share one.
REFUSALS_OF_ONE_MESSAGE = 10

# Arrivals of one address are made to differ by counting up from the last; a last one further ahead than this
# is no burst but a clock that was set back.
BURST_AHEAD_MS = 5 * 60 * 1000


class Why(StrEnum):
    """The kinds of reason for a refusal, as they are counted."""

    TOO_LONG = "too long"
    NOT_SENML = "not senml"
    NO_READING = "no reading"
    NO_TIME = "no time"
    UNIT = "unit"
    IMPOSSIBLE = "impossible"


@dataclass(slots=True)
class Counts:
    """What became of everything since the start.

    Each record of a decoded message, and each message that could not be decoded, counts once: as one of `readings`,
    one of `unclaimed`, or under its reason in `refused`.
    """

    messages: int = 0
    readings: int = 0
    unclaimed: int = 0
    refused: Counter[Why] = field(default_factory=Counter)


@dataclass(slots=True)
class _Round:
    """What one commit will write.

    `first_ms` tells when a message that is sent again, and was committed before, came first. Messages are told apart
    by their identity there and in `arrivals`: two of them may well be equal.
    """

    first_ms: dict[int, int]
    readings: list[Reading] = field(default_factory=list)
    unclaimed: list[Unclaimed] = field(default_factory=list)
    refusals: list[Refusal] = field(default_factory=list)
    arrivals: dict[int, Arrival] = field(default_factory=dict)
    refused: Counter[Why] = field(default_factory=Counter)

    def record_arrival(self, envelope: Envelope, arrival_ms: int) -> None:
        """Remember when a numbered message came, should it be sent again."""
        if envelope.delivery is not None:
            number = envelope.delivery.message_id
            self.arrivals[id(envelope)] = Arrival(envelope.source, number, _digest(envelope), arrival_ms)

    def refuse(self, envelope: Envelope, refused: list[tuple[Why, str]]) -> None:
        """Keep the message with each reason; beyond the first few, with all further ones at once."""
        self.refused.update(why for why, _ in refused)
        if id(envelope) in self.first_ms:
            return  # sent again: it is kept already
        reasons = [reason for _, reason in refused]
        if len(reasons) > REFUSALS_OF_ONE_MESSAGE:
            rest = len(reasons) - REFUSALS_OF_ONE_MESSAGE + 1
            reasons[-rest:] = [f"{rest} more records of this message, the first: {reasons[-rest]}"]
        for reason in reasons:
            self.refusals.append(Refusal(envelope.received_ms, envelope.source, reason, envelope.payload, envelope.size))
        if id(envelope) not in self.arrivals:
            self.record_arrival(envelope, envelope.received_ms)

    def batch(self) -> Batch:
        return Batch(tuple(self.readings), tuple(self.unclaimed), tuple(self.refusals), tuple(self.arrivals.values()))


class Intake:
    """Takes readings in from `sources` for `probes` and commits them to `store`. One thread calls `step`."""

    def __init__(self, sources: Sequence[Source], store: ReadingStore, probes: Iterable[Probe], clock: Clock) -> None:
        self.counts = Counts()
        self._sources = tuple(sources)
        self._store = store
        self._probes = {probe.address: probe for probe in probes}
        self._clock = clock
        latest = store.latest()
        self._memories: dict[str, checks.ProbeMemory | None] = {
            probe_id: checks.remember(reading) for probe_id, reading in latest.items()
        }
        self._last_arrival_ms: dict[str, int] = _arrivals(self._probes.values(), latest)
        self._taken: list[tuple[Source, Sequence[Envelope]]] = []
        self._round: _Round | None = None
        self._retry_s = RETRY_FIRST_S
        self._retry_at_s = 0.0
        self._trouble: str | None = None
        self._newest_measured_ms: int | None = None

    @property
    def trouble(self) -> str | None:
        """Why nothing can be committed now, in a sentence; None when all is well."""
        return self._trouble

    @property
    def newest_measured_ms(self) -> int | None:
        """The newest time of measurement [ms] in the last batch that held a reading; None before the first."""
        return self._newest_measured_ms

    def step(self, wait_s: float) -> int:
        """One round: take, decode, claim, check, commit, acknowledge. Answers how many messages it settled.

        Args:
            wait_s: how long to wait [s] where nothing has come yet.

        Raises:
            StoreError: the store failed in a way that waiting does not mend; nothing was acknowledged.
        """
        if not self._taken:
            self._taken = self._take(wait_s)
            if not self._taken:
                return 0
        else:
            due_s = self._retry_at_s - self._clock.elapsed_s()
            if due_s > 0:
                self._clock.sleep(min(wait_s, due_s))
            if due_s > wait_s:
                return 0
        return self._finish()

    def _take(self, wait_s: float) -> list[tuple[Source, Sequence[Envelope]]]:
        """What has come from each source; they share the wait, and none waits once something has come."""
        if not self._sources:
            self._clock.sleep(wait_s)
        taken: list[tuple[Source, Sequence[Envelope]]] = []
        for source in self._sources:
            envelopes = source.take(0.0 if taken else wait_s / len(self._sources))
            if envelopes:
                taken.append((source, envelopes))
        return taken

    def _finish(self) -> int:
        """Settle and commit what was taken, and thank for it; if the store is busy, keep it for later."""
        messages = sum(len(envelopes) for _, envelopes in self._taken)
        try:
            if self._round is None:
                self._round = self._settle()
            self._store.commit(self._round.batch())
        except StoreBusyError as busy:
            self._trouble = f"{messages} messages wait to be stored: {busy}"
            self._retry_at_s = self._clock.elapsed_s() + self._retry_s
            self._retry_s = min(2 * self._retry_s, RETRY_MAX_S)
            return 0
        taken, done = self._taken, self._round
        self._taken, self._round, self._trouble, self._retry_s = [], None, None, RETRY_FIRST_S
        for source, envelopes in taken:
            source.acknowledge(envelopes)
        self._count(messages, done)
        return messages

    def _count(self, messages: int, done: _Round) -> None:
        self.counts.messages += messages
        self.counts.readings += len(done.readings)
        self.counts.unclaimed += len(done.unclaimed)
        self.counts.refused.update(done.refused)
        if done.readings:
            self._newest_measured_ms = max(reading.measured_ms for reading in done.readings)

    def _settle(self) -> _Round:
        envelopes = [envelope for _, some in self._taken for envelope in some]
        # Asked before anything is remembered: where the store is too busy to answer, nothing has happened yet.
        current = _Round(
            {
                id(envelope): first_ms
                for envelope in envelopes
                if envelope.delivery is not None and envelope.delivery.again
                if (first_ms := self._first_arrival(envelope, envelope.delivery)) is not None
            }
        )
        for envelope in envelopes:
            self._settle_one(envelope, current)
        return current

    def _first_arrival(self, envelope: Envelope, delivery: Delivery) -> int | None:
        return self._store.first_arrival(envelope.source, delivery.message_id, _digest(envelope))

    def _settle_one(self, envelope: Envelope, current: _Round) -> None:
        if envelope.size > len(envelope.payload):
            reason = f"{envelope.size} bytes; want at most {len(envelope.payload)}. Its head is kept; send shorter packs"
            current.refuse(envelope, [(Why.TOO_LONG, reason)])
            return
        try:
            records = senml.resolve(lines.without_check(envelope.payload))
        except DecodeError as error:
            current.refuse(envelope, [(Why.NOT_SENML, str(error))])
            return

        arrival_ms = envelope.received_ms
        timeless = [one.address for one in records if isinstance(one, Measurement) and one.measured_ms is None]
        if timeless and not envelope.kept:
            arrival_ms = self._arrival_ms(envelope, timeless, current)
        refused: list[tuple[Why, str]] = []
        for record in records:
            if isinstance(record, DecodeError):
                refused.append((Why.NO_READING, str(record)))
            elif record.measured_ms is None and envelope.kept:
                refused.append((Why.NO_TIME, f"{record.address}: kept by the broker, and no time tells since when; send a time"))
            else:
                why = self._claim(record, arrival_ms, envelope, current)
                if why is not None:
                    refused.append(why)
        if refused:
            current.refuse(envelope, refused)

    def _claim(self, one: Measurement, arrival_ms: int, envelope: Envelope, current: _Round) -> tuple[Why, str] | None:
        """Add the measurement to the round as a reading or as unclaimed, or answer why it is neither."""
        measured_ms = arrival_ms + one.offset_ms if one.measured_ms is None else one.measured_ms
        probe = self._probes.get(one.address)
        if probe is None:
            current.unclaimed.append(Unclaimed(one.address, one.unit, measured_ms, one.value, arrival_ms, envelope.source))
            return None
        rule = UNIT_RULES[probe.quantity]
        # A ratio has no unit, so it may come without one; nothing else may (RFC 8428, section 4.5.2).
        factors = rule.accepts.get(rule.unit if one.unit is None and rule.unit == "/" else one.unit or "")
        if factors is None:
            got = "no unit" if one.unit is None else f"unit {one.unit!r}"
            wanted = " or ".join(repr(unit) for unit in rule.accepts)
            return Why.UNIT, f"{one.address}: {got}; probe {probe.id} measures {probe.quantity}, which wants {wanted}"
        factor, offset = factors
        value = factor * one.value + offset
        low, high = rule.possible
        if not low <= value <= high:
            got = f"{one.value:g} {one.unit or ''}".rstrip()
            wanted = f"{low:g} to {high:g} {rule.unit}"
            return Why.IMPOSSIBLE, f"{one.address}: {got} is no {probe.quantity} (probe {probe.id}); want {wanted}"
        memory, flags = checks.check(self._memories.get(probe.id), probe, measured_ms, value, envelope.received_ms)
        self._memories[probe.id] = memory
        current.readings.append(Reading(probe.id, measured_ms, value, one.value, arrival_ms, flags))
        return None

    def _arrival_ms(self, envelope: Envelope, addresses: list[str], current: _Round) -> int:
        """When a message with no time of its own came, told apart from the last of each of its addresses.

        A message that the broker sends again came when it came first, so it is the same reading.
        """
        first_ms = current.first_ms.get(id(envelope))
        if first_ms is not None:
            return first_ms
        arrival_ms = envelope.received_ms
        for address in addresses:
            last_ms = self._last_arrival_ms.get(address)
            if last_ms is not None and arrival_ms <= last_ms <= arrival_ms + BURST_AHEAD_MS:
                arrival_ms = last_ms + 1
        for address in addresses:
            self._last_arrival_ms[address] = arrival_ms
        current.record_arrival(envelope, arrival_ms)
        return arrival_ms


def _digest(envelope: Envelope) -> bytes:
    """Eight bytes that tell this message from others of the same number."""
    return hashlib.blake2b(envelope.source.encode(errors="replace") + b"\0" + envelope.payload, digest_size=8).digest()


def _arrivals(probes: Iterable[Probe], latest: Mapping[str, Reading]) -> dict[str, int]:
    return {probe.address: latest[probe.id].received_ms for probe in probes if probe.id in latest}
