"""SenML in CBOR: bytes to the same records that a pack in JSON has, as plain values. It touches no wire and no clock.

Source: RFC 8428, section 6 and its table of labels; RFC 8949, Concise Binary Object Representation. How we read them:

- A pack is an array, so its first byte is 0x80 to 0x9f, which no JSON text begins with: a sender need not say which it sends.
- Labels come as the numbers of the table; as text they are taken too. A label twice in one record is refused (RFC 8949,
  section 5.6: such a map is not valid).
- A number is an integer, a float of any width, or a decimal fraction (tag 4). Other tags are refused: no label of a reading
  wants one, and some of them make a few bytes mean hours of work.
- Not-a-number and infinity, which JSON cannot say, are refused.
"""

from __future__ import annotations

import math
from decimal import Decimal
from io import BytesIO
from typing import Any

import cbor2

from collector.errors import DecodeError

# RFC 8428, section 6, Table 4.
_LABELS = {-1: "bver", -2: "bn", -3: "bt", -4: "bu", -5: "bv", -6: "bs"} | dict(
    enumerate(("n", "u", "v", "vs", "vb", "s", "t", "ut", "vd"))
)
_DEPTH_MOST = 8  # an array of flat records has two levels; what is unknown in them may have some more
_EXPONENT_MOST = 400  # beyond that a double is infinite or zero


def is_pack(payload: bytes) -> bool:
    """Whether a message is an array of CBOR, and so no JSON."""
    return b"\x80" <= payload[:1] <= b"\x9f"


def plain_records(payload: bytes) -> list[dict[str, Any]]:
    """The records of a pack by the labels that JSON uses; data (`vd`) is an empty text.

    Raises:
        DecodeError: no CBOR, no array of records, or a record that SenML does not allow.

    Source: RFC 8428, section 6.
    """
    rest = BytesIO(payload)
    decoder = cbor2.CBORDecoder(
        rest, semantic_decoders=_SEMANTICS, tag_hook=_refused, max_depth=_DEPTH_MOST, allow_duplicate_keys=False, read_size=1
    )
    try:
        pack = decoder.decode()
    except (cbor2.CBORError, ValueError, TypeError, ArithmeticError, MemoryError, RecursionError) as error:
        raise DecodeError(f"no SenML pack: {_reason(error)}; want a CBOR array of records (RFC 8428, section 6)") from None
    if rest.tell() < len(payload):
        raise DecodeError(f"no SenML pack: {len(payload) - rest.tell()} bytes follow the array; want one array alone")
    return [_record(each, number) for number, each in enumerate(pack, start=1)]


def _record(raw: object, number: int) -> dict[str, Any]:
    if not isinstance(raw, dict):
        raise DecodeError(f"no SenML pack: record {number} is no map; want a CBOR array of maps (RFC 8428, section 6)")
    record: dict[str, Any] = {}
    for key, value in raw.items():
        label = _LABELS.get(key, "") if isinstance(key, int) and not isinstance(key, bool) else key
        if not isinstance(label, str):
            raise DecodeError(f"record {number}: a label of kind {type(key).__name__}; want a number of RFC 8428, or text")
        if label in record:
            raise DecodeError(f"label {label[:40]!r} stands twice in one record; want it once")
        if label.endswith("_"):
            raise DecodeError(f"label {label[:40]!r} must be understood (RFC 8428, section 4.4) and is not known here")
        if label in _KNOWN:
            record[label] = _plain(value, label, number)
    return record


def _plain(value: object, label: str, number: int) -> object:
    """A value as JSON would have it."""
    if isinstance(value, bytes):
        return "" if label == "vd" else value
    if isinstance(value, int) and not isinstance(value, bool) and label != "bver":
        try:
            return float(value)
        except OverflowError:
            raise DecodeError(f"record {number}: {label!r} is beyond the range of a double") from None
    if isinstance(value, float) and not math.isfinite(value):
        raise DecodeError(f"record {number}: {label!r} is {value}; want a number")
    return value


def _decimal_fraction(parts: object, _immutable: bool) -> float:
    if not isinstance(parts, (list, tuple)) or len(parts) != 2 or not all(type(part) is int for part in parts):
        raise ValueError("a decimal fraction that is no pair of whole numbers")
    exponent, mantissa = parts
    if abs(exponent) > _EXPONENT_MOST or mantissa.bit_length() > 64:
        raise ValueError("a decimal fraction beyond the range of a double")
    return float(Decimal(mantissa).scaleb(exponent))


def _refused(_tagged: object, _immutable: bool = False) -> Any:
    raise ValueError("a tag that no label of a reading wants")


def _reason(error: Exception) -> str:
    """What the library says, and what is behind it, short."""
    said = str(error.__cause__ or error) or type(error).__name__
    return said[:120]


_KNOWN = frozenset(_LABELS.values())
# What the library would decode by itself, all but decimal fractions.
_OWN_TAGS = (0, 1, 2, 3, 5, 25, 28, 29, 30, 35, 36, 37, 52, 54, 100, 256, 258, 260, 261, 1004, 43000, 55799)
_SEMANTICS: dict[int, Any] = {4: _decimal_fraction, **dict.fromkeys(_OWN_TAGS, _refused)}
