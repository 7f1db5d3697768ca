"""One round of the intake: what one commit will write, and what it will count."""

from __future__ import annotations

import hashlib
from collections import Counter
from dataclasses import dataclass, field
from enum import StrEnum

from collector.model import Arrival, Batch, Envelope, Reading, Refusal, Spoken, Unclaimed

# A message with refused records is kept once, with so many of the reasons at most.
REASONS_TOLD = 10


class Why(StrEnum):
    """The kinds of reason for a refusal, as they are counted."""

    TOO_LONG = "too long"
    TOO_MANY = "too many"
    UNREADABLE = "unreadable"
    NO_READING = "no reading"
    NO_TIME = "no time"
    UNIT = "unit"
    IMPOSSIBLE = "impossible"


@dataclass(slots=True)
class Counts:
    """What became of everything since the start.

    Each record of a decoded message, and each message that could not be decoded, counts once: as one of `readings`,
    one of `unclaimed`, or under its reason in `refused`. A message that was settled before and came again counts
    among `messages` and `again` alone.
    """

    messages: int = 0
    again: int = 0
    readings: int = 0
    unclaimed: int = 0
    refused: Counter[Why] = field(default_factory=Counter)


@dataclass(slots=True)
class Round:
    """What one commit will write, and what it will count.

    Messages are told apart by their identity in `arrivals`: two of them may well be equal.
    """

    messages: int
    again: int
    numbered: int
    readings: list[Reading] = field(default_factory=list)
    beside: list[Reading] = field(default_factory=list)
    unclaimed: list[Unclaimed] = field(default_factory=list)
    refusals: list[Refusal] = field(default_factory=list)
    arrivals: dict[int, Arrival] = field(default_factory=dict)
    refused: Counter[Why] = field(default_factory=Counter)
    spoken: list[Spoken] = field(default_factory=list)

    def record_arrival(self, envelope: Envelope, arrival_ms: int) -> None:
        """Remember when a numbered message came, should it be sent again; the first time told counts."""
        if envelope.delivery is not None and id(envelope) not in self.arrivals:
            number = envelope.delivery.message_id
            self.arrivals[id(envelope)] = Arrival(envelope.source, number, digest(envelope), arrival_ms)

    def refuse(self, envelope: Envelope, refused: list[tuple[Why, str]]) -> None:
        """Keep the message once, with the reasons for which records of it are refused, all or the first few."""
        self.refused.update(why for why, _ in refused)
        reasons = [reason for _, reason in refused[:REASONS_TOLD]]
        if len(refused) > REASONS_TOLD:
            reasons.append(f"and {len(refused) - REASONS_TOLD} more records")
        self.keep(envelope, "; ".join(reasons))

    def keep(self, envelope: Envelope, told: str) -> None:
        """Keep a refused message, with the reason."""
        self.refusals.append(Refusal(envelope.received_ms, envelope.source, told, envelope.payload, envelope.size))
        self.record_arrival(envelope, envelope.received_ms)

    def batch(self) -> Batch:
        return Batch(
            tuple(self.readings),
            tuple(self.unclaimed),
            tuple(self.refusals),
            tuple(self.arrivals.values()),
            tuple(self.beside),
            self.numbered,
            spoken=tuple(self.spoken),
        )


def digest(envelope: Envelope) -> bytes:
    """Eight bytes that tell this message from others of the same number."""
    return hashlib.blake2b(envelope.source.encode(errors="replace") + b"\0" + envelope.payload, digest_size=8).digest()
