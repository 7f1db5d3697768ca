"""The path of a reading: take, decode, claim, check, commit, and only then acknowledge.

Every record of every message ends in exactly one way: as a reading, as unclaimed, or refused with a
reason. A batch the store cannot take now is held and tried again; nothing of it is acknowledged, and nothing
more is taken until it is on disk, so that what waits, waits at the broker.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from collector import checks
from collector.calibration import Book, Curve
from collector.convert import SOIL_PATIENCE_MS, Refused, Untold, value_of
from collector.decode.reader import Reader
from collector.errors import DecodeError, StoreBusyError
from collector.intake_round import Counts, Round, Why, digest
from collector.model import (
    UNBELIEVED_TIME,
    Delivery,
    Envelope,
    Flag,
    Measurement,
    Probe,
    Reading,
    Spoken,
    Unclaimed,
)
from collector.own_clock import OwnClock
from collector.pace import Pace
from collector.ports import Clock, ReadingStore, Source
from collector.units import UNIT_RULES

RETRY_FIRST_S = 1.0
RETRY_MAX_S = 60.0

# Arrivals of one address are made to differ by counting up from the last; a last one further ahead than this
# is no burst (of millions, at a millisecond each) but a clock that was set back while the collector was down.
BURST_AHEAD_MS = 60 * 60 * 1000
# No time lies beyond: the end of the year 9999.
END_MS = 253_402_300_800_000


class Intake:
    """Takes readings in from `sources` for `probes` and commits them to `store`. One thread calls `step`."""

    def __init__(
        self,
        sources: Sequence[Source],
        store: ReadingStore,
        probes: Iterable[Probe],
        clock: Clock,
        book: Book | None = None,
        reader: Reader | None = None,
        pace: Pace | None = None,
    ) -> None:
        self.counts = Counts()
        self._pace = pace or Pace()
        self._now_s = clock.elapsed_s()
        self._reader = reader or Reader()
        self._book = book or Book()
        self._spoken = {one.probe_id: one.unit for one in store.spoken()}
        self._special = self._special_now()
        self._sources = tuple(sources)
        self._store = store
        self._probes = {probe.address: probe for probe in probes}
        self._clock = clock
        self._times = OwnClock(clock)
        self._memories: dict[str, checks.ProbeMemory | None] = {}
        self._last_arrival_ms: dict[str, int] = {}
        self._remember(store.latest())
        self._taken: list[tuple[Source, Sequence[Envelope]]] = []
        self._round: Round | None = None
        self._future: set[str] = set()  # probes with readings that were, since the start, found to be of the future
        self._retry_s = RETRY_FIRST_S
        self._retry_at_s = 0.0
        self._trouble: str | None = None
        self._newest_measured_ms: int | None = None

    def calibrate(self, book: Book) -> None:
        """From now on these calibrations hold. Any thread may call it."""
        self._book = book
        self._special = self._special_now()

    @property
    def trouble(self) -> str | None:
        """Why nothing can be committed now, in a sentence; None when all is well."""
        return self._trouble

    @property
    def floods(self) -> list[str]:
        """Who says more than it may, in sentences. Any thread may ask."""
        return self._pace.floods(self._clock.elapsed_s())

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
            self._taken = self._take(wait_s, self._sources)
            if not self._taken:
                return 0
        else:
            due_s = self._retry_at_s - self._clock.elapsed_s()
            if due_s > 0:
                self._clock.sleep(min(wait_s, due_s))
            if due_s > wait_s:
                return 0
        return self._finish()

    def finish(self, within_s: float) -> bool:
        """Settle what is in hand, and what was read already by a source that cannot be asked for it again.

        To be called when those sources have stopped reading. False where `within_s` [s] were not enough: a busy store.

        Raises:
            StoreError: as `step` does.
        """
        until_s = self._clock.elapsed_s() + within_s
        while True:
            if not self._taken:
                self._taken = self._take(0.0, [source for source in self._sources if not source.can_acknowledge])
            if not self._taken:
                return True
            if not self._finish():
                if self._clock.elapsed_s() >= until_s:
                    return False
                self._clock.sleep(RETRY_FIRST_S)

    def _take(self, wait_s: float, sources: Sequence[Source]) -> list[tuple[Source, Sequence[Envelope]]]:
        """What has come from each source; they share the wait, and none waits once something has come."""
        if not sources:
            self._clock.sleep(wait_s)
        taken: list[tuple[Source, Sequence[Envelope]]] = []
        for source in sources:
            envelopes = source.take(0.0 if taken else wait_s / len(sources))
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
        self._count(done)
        return messages

    def _count(self, done: Round) -> None:
        self.counts.messages += done.messages
        self.counts.again += done.again
        self.counts.readings += len(done.readings) + len(done.beside)
        self.counts.unclaimed += len(done.unclaimed)
        self.counts.refused.update(done.refused)
        if done.readings or done.beside:
            self._newest_measured_ms = max(reading.measured_ms for reading in (*done.readings, *done.beside))

    def _settle(self) -> Round:
        envelopes = [envelope for _, some in self._taken for envelope in some]
        # Asked before anything is remembered: where the store is too busy to answer, nothing has happened yet.
        self._heed_our_clock()
        new = [envelope for envelope in envelopes if not self._is_stored(envelope, envelope.delivery)]
        self._now_s = self._clock.elapsed_s()
        numbered = sum(envelope.delivery is not None for envelope in new)
        current = Round(len(envelopes), len(envelopes) - len(new), numbered)
        for envelope in new:
            self._settle_one(envelope, current)
        return current

    def _is_stored(self, envelope: Envelope, delivery: Delivery | None) -> bool:
        """True where the broker sends a message again that was committed, and its acknowledgement did not get there."""
        if delivery is None or not delivery.again:
            return False
        return self._store.first_arrival(envelope.source, delivery.message_id, digest(envelope)) is not None

    def _remember(self, latest: Mapping[str, Reading]) -> None:
        self._memories = {probe_id: checks.remember(reading) for probe_id, reading in latest.items()}
        self._last_arrival_ms = _arrivals(self._probes.values(), latest)

    def _heed_our_clock(self) -> None:
        """Our own clock may have been wrong, and be set while we run: put right what was believed by it."""
        jump = self._times.jump()
        if jump.first or jump.back:
            ahead = [id_ for id_, memory in self._memories.items() if memory and checks.is_future(memory.newest_ms, jump.now_ms)]
            for probe_id in ahead:
                # What seemed present is still to come: it stands as the newest no longer.
                self._store.mark(probe_id, jump.now_ms + checks.FUTURE_AFTER_MS + 1, END_MS, Flag.FUTURE, on=True)
            if ahead or jump.back:
                self._remember(self._store.latest())
            self._future.update(ahead)
        elif jump.forward:
            for probe_id in self._future:
                # What seemed to come is past: our clock was behind.
                self._store.mark(probe_id, jump.before_ms, jump.now_ms + checks.FUTURE_AFTER_MS + 1, Flag.FUTURE, on=False)
            if self._future:
                self._remember(self._store.latest())
            self._future.clear()
        self._times.accept(jump)

    def _settle_one(self, envelope: Envelope, current: Round) -> None:
        if envelope.size > len(envelope.payload):
            reason = f"{envelope.size} bytes; want at most {len(envelope.payload)}. Its head is kept; send shorter packs"
            current.refuse(envelope, [(Why.TOO_LONG, reason)])
            return
        if not self._pace.may_speak(envelope.source, self._now_s):
            current.refused[Why.TOO_MANY] += 1
            if self._pace.is_sample(envelope.source, self._now_s):
                current.keep(envelope, "says more than it may; of what is beyond that one message a minute is kept")
            return
        try:
            records = self._reader.records(envelope)
        except DecodeError as error:
            current.refuse(envelope, [(Why.UNREADABLE, str(error))])
            return

        self._pace.spoke(envelope.source, len(records), self._now_s)
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

    def _claim(self, one: Measurement, arrival_ms: int, envelope: Envelope, current: Round) -> tuple[Why, str] | None:
        """Add the measurement to the round as a reading or as unclaimed, or answer why it is neither."""
        measured_ms = arrival_ms + one.offset_ms if one.measured_ms is None else one.measured_ms
        probe = self._probes.get(one.address)
        if probe is None:
            current.unclaimed.append(Unclaimed(one.address, one.unit, measured_ms, one.value, arrival_ms, envelope.source))
            return None
        rule = UNIT_RULES[probe.quantity]
        value: float | Refused | Untold = one.value
        # Nearly all speak in the usual unit and have no curve: they are spared the asking.
        if one.unit != rule.unit or probe.id in self._special or not rule.possible[0] <= one.value <= rule.possible[1]:
            value = self._value(probe, one, measured_ms, arrival_ms, current)
        if isinstance(value, float):
            memory, flags = checks.check(self._memories.get(probe.id), probe, measured_ms, value, envelope.received_ms)
            self._memories[probe.id] = memory
        elif isinstance(value, Refused):
            return Why(value.why.value), value.reason
        else:
            flags = checks.of_time(measured_ms, envelope.received_ms) | Flag.UNCALIBRATED
            value = one.value
        reading = Reading(probe.id, measured_ms, value, one.value, arrival_ms, flags)
        if one.measured_ms is not None and not (flags and flags & UNBELIEVED_TIME):
            current.readings.append(reading)
            return None
        # Boards whose clock starts at the same date with each boot send the same times again and again.
        current.beside.append(reading)
        current.record_arrival(envelope, arrival_ms)
        if flags and flags & Flag.FUTURE:
            self._future.add(probe.id)
        return None

    def _value(
        self, probe: Probe, one: Measurement, measured_ms: int, arrival_ms: int, current: Round
    ) -> float | Refused | Untold:
        """What a number stands for, by its unit or the curve that holds; a unit that the probe did not speak in is noted."""
        usual = UNIT_RULES[probe.quantity].unit
        unit = one.unit or usual
        if unit != self._spoken.get(probe.id, usual):
            self._spoken[probe.id] = unit
            self._special = self._special_now()
            current.spoken.append(Spoken(probe.id, arrival_ms, unit))
        curve = self._book.curve(probe.id, measured_ms)
        return value_of(probe, one.unit, one.value, curve, None if curve is None else self._soil_c(curve, measured_ms))

    def _special_now(self) -> frozenset[str]:
        """Probes that have a curve, or spoke in another unit than the usual one."""
        return frozenset({*self._spoken, *self._book.probes})

    def _soil_c(self, curve: Curve, measured_ms: int) -> float | None:
        """What the thermometer that a curve heeds said last, if that is not too long ago [°C]."""
        memory = self._memories.get(curve.thermometer) if curve.thermometer is not None else None
        if memory is None or memory.trusted_ms is None or abs(measured_ms - memory.trusted_ms) > SOIL_PATIENCE_MS:
            return None
        return memory.trusted_value

    def _arrival_ms(self, envelope: Envelope, addresses: list[str], current: Round) -> int:
        """When a message with no time of its own came, told apart from the last of each of its addresses."""
        arrival_ms = envelope.received_ms
        for address in addresses:
            last_ms = self._last_arrival_ms.get(address)
            if last_ms is not None and arrival_ms <= last_ms <= arrival_ms + BURST_AHEAD_MS:
                arrival_ms = last_ms + 1
        for address in addresses:
            self._last_arrival_ms[address] = arrival_ms
        current.record_arrival(envelope, arrival_ms)
        return arrival_ms


def _arrivals(probes: Iterable[Probe], latest: Mapping[str, Reading]) -> dict[str, int]:
    return {probe.address: latest[probe.id].received_ms for probe in probes if probe.id in latest}
