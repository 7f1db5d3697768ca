"""Payloads that were good once, mutated, through every decoder and the intake: each ends exactly one way, and soon.

Hypothesis chooses how each thousand is mutated, so a failure is shrunk to a seed that says it again.
"""

from __future__ import annotations

import random

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from collector.decode import lines, senml, senml_cbor
from collector.errors import DecodeError
from collector.intake import Intake
from collector.model import PAYLOAD_LIMIT_BYTES, Delivery, Envelope, Probe
from collector.units import Quantity
from tests.fakes import NOW_MS, FakeClock, FakeReadingStore, FakeSource

PROBES = (
    Probe("t12", "terrace", Quantity.SOIL_TEMPERATURE, "stake:t12", 0.12),
    Probe("m15", "terrace", Quantity.SOIL_MOISTURE, "stake:m15", 0.15),
)
# Samples of every kind of record (RFC 8428), our own firmware notes' among them, and what breaks parsers by convention.
GOOD = (
    b'[{"bn":"stake:","bt":1776067100,"n":"t12","u":"K","v":291.15},{"n":"m15","u":"/","v":0.31}]',
    b'[{"n":"stake:t12","u":"Cel","v":18}]',
    b'[{"n":"stake:t12","u":"Cel","t":-60,"v":18},{"bver":10,"n":"stake:m15","v":0.3,"ut":60}]',
    b'[{"n":"stake:t12","vs":"warm"},{"n":"stake:t12","vb":true},{"n":"stake:t12","vd":"AAE"},{"n":"stake:t12","s":3}]',
    b'[{"n":"stake:t12","u":"Cel","v":18}]*2E',
    bytes.fromhex(
        "82a42166" + b"stake:".hex() + "221a69dca280006374313202f94c90a30063" + b"m15".hex() + "01612f02fb3fcd916872b020c5"
    ),
    '[{"n":"stake:t12","u":"°C","v":1e308,"x_":"\\u0000\\ud800"}]'.encode(),
)
PIECES = (
    b"1e999", b"-0", b"NaN", b"Infinity", b"9" * 400, b"null", b"{}", b"[]", b"[" * 50, b'"', b"\\u", b"\\ud800", b"\x00",
    b"\xff", b"\xef\xbb\xbf", b"\r\n", b"*", b"*00", b",", b":", b'"bn":"', b'"v":', b'"t":', b"1e15", b"-1e15",
    b"true", b"\xed\xa0\x80",
)  # fmt: skip
A_THOUSAND = 1000


def mutated(chance: random.Random) -> bytes:
    """A sample with a few bytes changed, cut, doubled, swapped for another's or for what breaks parsers."""
    payload = bytearray(chance.choice(GOOD))
    for _ in range(chance.randint(1, 4)):
        at = chance.randrange(len(payload) + 1)
        match chance.randrange(7):
            case 0 if payload:
                payload[at % len(payload)] = chance.randrange(256)
            case 1:
                del payload[at : at + chance.randint(1, 12)]
            case 2:
                payload[at:at] = chance.choice(PIECES)
            case 3:
                payload[at : at + chance.randint(0, 8)] = chance.choice(PIECES)
            case 4:
                payload[at:at] = payload[at : at + chance.randint(1, 40)]
            case 5:
                other = chance.choice(GOOD)
                payload[at:] = other[chance.randrange(len(other)) :]
            case 6:
                payload[at:at] = chance.randbytes(chance.randint(1, 8))
    return bytes(payload)


def records_in(payload: bytes) -> int:
    """How many ends this payload of a broker has: one a record, or one for all of it."""
    try:
        return len(senml.resolve(payload if senml_cbor.is_pack(payload) else lines.without_check(payload)))
    except DecodeError:
        return 1


def hold_against_the_intake(seed: int, count: int) -> None:
    """Mutate so many payloads, by line and by message, and count what became of them."""
    chance = random.Random(seed)
    payloads = [mutated(chance) for _ in range(count)]
    stream = b"\n".join(payloads)
    found, rest, at = [], lines.NOTHING, 0
    while at < len(stream):
        step = chance.randint(1, 5000)
        some, rest = lines.take_lines(rest, stream[at : at + step])
        found += some
        at += step
    whole = b"\n".join(payloads).split(b"\n")
    assert [one.head for one in found + lines.whole(rest)] == [
        line[:PAYLOAD_LIMIT_BYTES] for line in (each.removesuffix(b"\r") for each in whole) if line
    ]

    clock = FakeClock()
    store, source = FakeReadingStore(), FakeSource(clock)
    intake = Intake([source], store, PROBES, clock)
    source.waiting.append(
        [
            Envelope("mqtt garden/a", payload, NOW_MS, len(payload), Delivery(number % 65_535 + 1, False), kept=number % 50 == 0)
            for number, payload in enumerate(payloads)
        ]
    )
    assert intake.step(0) == count
    counts, (batch,) = intake.counts, store.batches
    assert counts.messages == len(source.acknowledged) == count
    received = sum(map(records_in, payloads))
    assert counts.readings + counts.unclaimed + counts.refused.total() == received
    assert len(batch.readings) + len(batch.beside) == counts.readings
    assert len(batch.unclaimed) == counts.unclaimed


def fuzz(payloads: int) -> str:
    """So many mutated payloads, rounded up to thousands."""
    thousands = -(-payloads // A_THOUSAND)

    @settings(
        max_examples=thousands, deadline=60_000, database=None, phases=[Phase.generate], suppress_health_check=list(HealthCheck)
    )
    @given(st.integers(0, 2**64))
    def run(seed: int) -> None:
        hold_against_the_intake(seed, A_THOUSAND)

    run()
    return f"{thousands * A_THOUSAND} mutated payloads: none broke anything, each ended in exactly one way"
