"""Any JSON: numbers taken out of a message by where they stand. It touches no wire and no clock.

Source: Bryan, Zyp, Nottingham 2013, RFC 6901, JavaScript Object Notation (JSON) Pointer.
"""

from __future__ import annotations

import datetime as dt
import json
import math
import re
from collections.abc import Sequence

from collector.decode.senml import LATEST_S, is_name
from collector.errors import DecodeError
from collector.model import Measurement
from collector.settings import JsonField, JsonSettings

_INDEX = re.compile(r"0|[1-9][0-9]*")  # section 4: no leading zeros
_ESCAPE = re.compile(r"~(?![01])")


def is_pointer(text: str) -> bool:
    """Whether a text can be a pointer (section 3)."""
    return (text == "" or text.startswith("/")) and _ESCAPE.search(text) is None


def found_at(document: object, pointer: str) -> object:
    """What a pointer points to. Raises DecodeError, with how far it leads, where there is nothing."""
    at = document
    gone = ""
    for token in pointer.split("/")[1:]:
        name = token.replace("~1", "/").replace("~0", "~")
        if isinstance(at, dict) and name in at:
            at = at[name]
        elif isinstance(at, list) and _INDEX.fullmatch(name) and int(name) < len(at):
            at = at[int(name)]
        else:
            raise DecodeError(f"nothing at {pointer}: {_there(at, gone)}")
        gone += "/" + token
    return at


def _there(at: object, gone: str) -> str:
    place = f"at {gone or 'the top'}"
    if isinstance(at, dict):
        return f"{place} there is {', '.join(list(at)[:8]) or 'an empty object'}"
    if isinstance(at, list):
        return f"{place} there is a list of {len(at)}"
    return f"{place} there is {json.dumps(at)[:40]}"


def read(payload: bytes, settings: JsonSettings, topic: str) -> list[Measurement | DecodeError]:
    """What the fields of a message say, each by itself.

    Raises DecodeError for what is no JSON, and for a time that is none: then nothing in it can be placed.
    """
    try:
        document = json.loads(payload, parse_constant=_no_number)
    except (ValueError, RecursionError) as error:
        raise DecodeError(f"no JSON: {error}; the garden file says that {topic} speaks it") from None
    measured_ms = None if settings.time is None else _time_ms(found_at(document, settings.time), settings)
    return [_measured(document, field, settings, topic, measured_ms) for field in settings.fields]


def address_of(settings: JsonSettings, field: JsonField, topic: str) -> str:
    """What the measurements of a field are called: as it is told, else by topic and pointer."""
    return (settings.address if settings.address is not None else topic) + (
        field.pointer if field.address is None else field.address
    )


def _measured(
    document: object, field: JsonField, settings: JsonSettings, topic: str, measured_ms: int | None
) -> Measurement | DecodeError:
    address = address_of(settings, field, topic)
    if not is_name(address):
        return DecodeError(f"{address[:80]!r} can be no address; give [[json.field]] an address of letters, digits and - : . / _")
    try:
        value = found_at(document, field.pointer)
    except DecodeError as error:
        return error
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        return DecodeError(f"{address}: {json.dumps(value)[:40]} at {field.pointer} is no number")
    try:
        number = float(value)  # many boards send numbers as texts
    except (ValueError, OverflowError):
        return DecodeError(f"{address}: {json.dumps(value)[:40]} at {field.pointer} is no number")
    if not math.isfinite(number):
        return DecodeError(f"{address}: {json.dumps(value)[:40]} at {field.pointer} is no number that a reading can have")
    return Measurement(address, field.unit, number, measured_ms)


def _no_number(text: str) -> float:
    raise ValueError(f"{text} is no number of JSON (RFC 8259, section 6)")


def _time_ms(told: object, settings: JsonSettings) -> int:
    """A time as the board tells it [ms since 1970 UTC]."""
    wanted = {"s": "seconds", "ms": "milliseconds", "iso": "ISO 8601 with its zone"}[settings.time_in]
    try:
        if settings.time_in == "iso":
            time = dt.datetime.fromisoformat(told)  # type: ignore[arg-type]  # the type error is caught
            if time.tzinfo is not None:
                return round(time.timestamp() * 1000)
        elif not isinstance(told, bool):
            seconds = float(told) / (1000.0 if settings.time_in == "ms" else 1.0)  # type: ignore[arg-type]
            if 0 <= seconds <= LATEST_S:
                return round(seconds * 1000)
    except (TypeError, ValueError, OverflowError):
        pass
    raise DecodeError(f"the time at {settings.time} is {json.dumps(told)[:40]}; want {wanted}")


def matches(topic_filter: str, topic: str) -> bool:
    """Whether a topic is one of a topic filter (MQTT 5, section 4.7)."""
    wanted, given = topic_filter.split("/"), topic.split("/")
    if topic.startswith("$") and wanted[0] in ("+", "#"):
        return False
    for place, level in enumerate(wanted):
        if level == "#":
            return True
        if place >= len(given) or level not in ("+", given[place]):
            return False
    return len(wanted) == len(given)


def settings_for(several: Sequence[JsonSettings], source: str) -> tuple[JsonSettings, str] | None:
    """How the messages of a source are to be read, and their topic or port; None where they are SenML."""
    kind, _, name = source.partition(" ")
    for one in several:
        if (kind == "mqtt" and one.topic is not None and matches(one.topic, name)) or (kind == "serial" and one.port == name):
            return one, name
    return None
