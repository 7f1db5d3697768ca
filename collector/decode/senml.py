"""SenML, in JSON or CBOR: bytes to measurements. It touches no wire and no clock.

Source: Jennings et al. 2018, RFC 8428, Sensor Measurement Lists (SenML). How we read it where a
collector of soil readings has to choose:

- A pack that is not SenML at all is refused whole: broken JSON, a wrong type, a label twice in one
  record (RFC 8259, section 4, asks for unique names; two numbers for one label are no reading), a
  version we do not know (section 4.4), a label that ends in "_" (section 4.4: it must be understood).
- A record that is SenML but no reading is refused alone; the others of its pack stand. That holds for
  text, truth values and data (`vs`, `vb`, `vd`), for a sum with no value, for a name outside the
  allowed characters, and for a number that leaves the range of a double when its base is added.
- A record has exactly one value, or a sum (section 4.2). A base value alone is no measurement.
- Base fields hold from the record that carries them until a later record sets the same field again.
- A time below 2**28 s counts from now (section 4.5.3): it is left to whoever knows when the message came.
"""

from __future__ import annotations

import json
import math
import re
from functools import lru_cache

import msgspec
from msgspec import UNSET, UnsetType

from collector.decode import senml_cbor
from collector.errors import DecodeError
from collector.model import Measurement

VERSION = 10  # RFC 8428, section 4.4: the version of this very text
RELATIVE_BELOW_S = 2.0**28  # section 4.5.3; as a time it would be 1978-07-04
LATEST_S = 253_402_300_799.0  # 9999-12-31T23:59:59Z, the last second that a calendar writes in four digits

# Section 4.5.1: these characters, and a letter or digit first.
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:./_]*")
_NAME_CHARACTERS_MAX = 512  # ours: an address is a line in a list, not a text
_UNIT_CHARACTERS_MAX = 64  # ours: the longest registered unit has seven


class _Record(msgspec.Struct, frozen=True, gc=False):
    """One record as sent."""

    bn: str | UnsetType = UNSET
    bu: str | UnsetType = UNSET
    n: str | UnsetType = UNSET
    u: str | UnsetType = UNSET
    vs: str | UnsetType = UNSET
    vd: str | UnsetType = UNSET
    v: float | UnsetType = UNSET
    t: float | UnsetType = UNSET
    bt: float | UnsetType = UNSET
    bv: float | UnsetType = UNSET
    bs: float | UnsetType = UNSET
    bver: int | UnsetType = UNSET
    s: float | UnsetType = UNSET
    ut: float | UnsetType = UNSET
    vb: bool | UnsetType = UNSET


_encode = msgspec.json.Encoder().encode
_decoder = msgspec.json.Decoder(list[_Record])


@lru_cache(maxsize=4096)  # a garden says the same few names again and again
def is_name(text: str) -> bool:
    """Whether a record may be called so (RFC 8428, section 4.5.1)."""
    return len(text) <= _NAME_CHARACTERS_MAX and _NAME.fullmatch(text) is not None


def decode(payload: bytes) -> tuple[Measurement, ...]:
    """Every measurement of a pack in which each record is a reading.

    Args:
        payload: a SenML pack in JSON [bytes of UTF-8] or in CBOR.

    Times are milliseconds since 1970-01-01 UTC, units as sent.

    Raises:
        DecodeError: the pack is no SenML, or one of its records is no reading.

    Source: RFC 8428, sections 4 and 5.
    """
    records = resolve(payload)
    measurements = tuple(record for record in records if isinstance(record, Measurement))
    if len(measurements) < len(records):
        raise next(record for record in records if isinstance(record, DecodeError))
    return measurements


def resolve(payload: bytes) -> tuple[Measurement | DecodeError, ...]:
    """One entry per record of the pack, in order: its measurement, or why it is none.

    Raises:
        DecodeError: the pack as a whole is no SenML.

    Source: RFC 8428, sections 4 and 5.
    """
    records = _records(payload)
    name, unit, time_s, value = "", None, 0.0, 0.0
    total: float | UnsetType = UNSET
    resolved: list[Measurement | DecodeError] = []
    for number, record in enumerate(records, start=1):
        if record.bn is not UNSET:
            name = record.bn
        if record.bu is not UNSET:
            unit = record.bu
        if record.bt is not UNSET:
            time_s = record.bt
        if record.bv is not UNSET:
            value = record.bv
        if record.bs is not UNSET:
            total = record.bs
        try:
            resolved.append(_measurement(record, name, unit, time_s, value, total))
        except DecodeError as error:
            resolved.append(DecodeError(f"record {number} of {len(records)}: {error}"))
    return tuple(resolved)


def _records(payload: bytes) -> list[_Record]:
    records = _from_cbor(payload) if senml_cbor.is_pack(payload) else _from_json(payload)
    if not records:
        raise DecodeError("an empty array; want at least one record")
    for record in records:
        if record.bver is not UNSET and not 0 < record.bver <= VERSION:
            raise DecodeError(f"SenML version {str(record.bver)[:20]}; this program understands versions 1 to {VERSION}")
    return records


def _from_cbor(payload: bytes) -> list[_Record]:
    try:
        return msgspec.convert(senml_cbor.plain_records(payload), list[_Record])
    except msgspec.ValidationError as error:
        raise DecodeError(f"no SenML pack: {error}; want a CBOR array of records (RFC 8428, section 6)") from None


def _from_json(payload: bytes) -> list[_Record]:
    if not payload.strip():
        raise DecodeError("an empty message; want a SenML pack, a JSON array of records")
    try:
        records = _decoder.decode(payload)
    except RecursionError:
        raise DecodeError("JSON nested too deep; want a SenML pack, an array of flat records") from None
    except ValueError as error:  # of msgspec, or of UTF-8
        raise DecodeError(f"no SenML pack: {error}; want a JSON array of records (RFC 8428)") from None
    if records and not _labels_are_plain(payload, records):
        _look_at_labels(payload)
    return records


def _labels_are_plain(payload: bytes, records: list[_Record]) -> bool:
    """True where no label is unknown and none stands twice: every quotation mark is accounted for.

    The decoder keeps the last of two equal labels and skips unknown ones. Each text in JSON has two quotation marks, so
    a pack with more of them than what was decoded has, written anew, holds something else.
    """
    return b"\\" not in payload and payload.count(b'"') == _encode(records).count(b'"')


def _look_at_labels(payload: bytes) -> None:
    """Raise DecodeError where a label stands twice or must be understood; other unknown labels are fine."""
    try:
        pack = json.loads(
            payload.decode(),
            object_pairs_hook=_unique,
            parse_float=str,  # the numbers are decoded already: only the labels count here
            parse_int=str,
        )
    except RecursionError:
        raise DecodeError("JSON nested too deep; want a SenML pack, an array of flat records") from None
    except ValueError as error:
        raise DecodeError(f"no SenML pack: {error}") from None
    for record in pack:
        for label in record:
            if label.endswith("_"):
                raise DecodeError(f"label {label[:40]!r} must be understood (RFC 8428, section 4.4) and is not known here")


def _unique(pairs: list[tuple[str, object]]) -> dict[str, object]:
    labels = dict(pairs)
    if len(labels) < len(pairs):
        twice = next(label for label, _ in pairs if sum(label == other for other, _ in pairs) > 1)
        raise DecodeError(f"label {twice[:40]!r} stands twice in one record; want it once")
    return labels


def _measurement(
    record: _Record, base_name: str, base_unit: str | None, base_s: float, base_value: float, base_sum: float | UnsetType
) -> Measurement:
    value = record.v
    if value is UNSET or record.vs is not UNSET or record.vb is not UNSET or record.vd is not UNSET:
        raise DecodeError(_why_no_number(record, base_sum))
    name = base_name + record.n if record.n is not UNSET else base_name
    if not is_name(name):
        raise DecodeError(_why_no_name(name))
    unit = record.u if record.u is not UNSET else base_unit
    if unit is not None and len(unit) > _UNIT_CHARACTERS_MAX:
        raise DecodeError(f"unit {unit[:40]!r}... of {len(unit)} characters; want a SenML unit such as 'Cel'")
    value += base_value
    if not math.isfinite(value):
        raise DecodeError(f"{name}: base value {base_value} and value {record.v} add up to no number")
    time_s = base_s + record.t if record.t is not UNSET else base_s
    if time_s >= RELATIVE_BELOW_S:
        if time_s > LATEST_S:
            raise DecodeError(f"{name}: time {time_s:g} s lies beyond the year 9999; want seconds since 1970, not milliseconds")
        return Measurement(name, unit, value, round(time_s * 1000.0))
    if time_s < -RELATIVE_BELOW_S:
        raise DecodeError(f"{name}: time {time_s:g} s is more than eight years before the message")
    return Measurement(name, unit, value, None, round(time_s * 1000.0))


def _why_no_number(record: _Record, base_sum: float | UnsetType) -> str:
    got = [label for label in ("v", "vs", "vb", "vd") if getattr(record, label) is not UNSET]
    if len(got) > 1:
        return f"{len(got)} values ({', '.join(got)}); want exactly one"
    if got:
        kind = {"vs": "text", "vb": "true or false", "vd": "data"}[got[0]]
        return f"its value {got[0]!r} is {kind}; a reading is a number in 'v'"
    if record.s is not UNSET or base_sum is not UNSET:
        return "a sum with no value; a reading is a number in 'v'"
    return "no value; want a number in 'v'"


def _why_no_name(name: str) -> str:
    if not name:
        return "no name; want 'n', or 'bn' here or in an earlier record"
    if len(name) > _NAME_CHARACTERS_MAX:
        return f"name {name[:40]!r}... has {len(name)} characters; want at most {_NAME_CHARACTERS_MAX}"
    return f"name {name[:80]!r}; want letters, digits and - : . / _ only, a letter or digit first (RFC 8428, section 4.5.1)"
