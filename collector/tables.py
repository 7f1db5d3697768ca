"""Tables out and in: readings and refusals as CSV, readings from CSV. Pure: it is handed lines and a place to write.

Written as RFC 4180 says, but for the end of a line, which is a line feed alone.
"""

from __future__ import annotations

import csv
import datetime as dt
import difflib
import itertools
import math
from base64 import b64encode
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TextIO

from collector import checks
from collector.errors import DecodeError
from collector.model import Flag, Garden, Probe, Reading, Refusal
from collector.rollup import Steps
from collector.units import UNIT_RULES

EXPORT_COLUMNS = ("time_utc", "probe", "quantity", "depth_cm", "value", "unit", "raw", "flags")
STEP_COLUMNS = ("time_utc", "probe", "quantity", "depth_cm", "unit", "least", "mean", "most", "count")
REFUSED_COLUMNS = ("received_utc", "source", "reason", "payload_base64")
IMPORT_COLUMNS = ("time_utc", "probe", "value")
# So many rows are read before they are handed on: a season passes through a few megabytes.
CHUNK_ROWS = 10_000

_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
_MILLISECOND = dt.timedelta(milliseconds=1)
ENDS_MS = 253_402_300_800_000  # after the year 9999, which no calendar here can write


@dataclass(frozen=True, slots=True)
class Chunk:
    """Some rows of an imported table: the readings they hold, and line number and reason of those refused."""

    readings: tuple[Reading, ...]
    refused: tuple[tuple[int, str], ...]


def time_text(time_ms: int) -> str:
    """A time as ISO 8601 in UTC with milliseconds: `2026-04-13T06:00:00.000Z`."""
    return (_EPOCH + time_ms * _MILLISECOND).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def time_ms(text: str) -> int:
    """Milliseconds since 1970-01-01 UTC of an ISO 8601 date and time with Z or an offset. Raises DecodeError else."""
    try:
        time = dt.datetime.fromisoformat(text)
    except ValueError:
        raise DecodeError(f"time {text!r} is no ISO 8601 date and time; want one as 2026-04-13T06:00:00Z") from None
    if time.tzinfo is None:
        raise DecodeError(f"time {text!r} does not say its time zone; want Z for UTC, or an offset as +01:00, at its end")
    moment_ms = (time - _EPOCH) // _MILLISECOND
    if not 0 <= moment_ms < ENDS_MS:
        raise DecodeError(f"time {text!r} lies outside the years 1970 to 9999 in UTC; see the clock that wrote it")
    return moment_ms


# ---------------------------------------------------------------- out


def export_rows(readings: Iterable[Reading], garden: Garden) -> Iterator[tuple[str, ...]]:
    """One row of EXPORT_COLUMNS for each reading; numbers are written so that reading them gives the very same number."""
    about = {probe.id: (probe.quantity.value, _centimetres(probe), UNIT_RULES[probe.quantity].unit) for probe in garden.probes}
    for reading in readings:
        quantity, depth_cm, unit = about.get(reading.probe_id, ("", "", ""))
        value, raw = repr(reading.value), repr(reading.raw)
        flags = reading.flags.words if reading.flags else ""
        yield time_text(reading.measured_ms), reading.probe_id, quantity, depth_cm, value, unit, raw, flags


def write_export(readings: Iterable[Reading], garden: Garden, out: TextIO) -> None:
    """The readings as CSV, in the order given."""
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(EXPORT_COLUMNS)
    writer.writerows(export_rows(readings, garden))


def write_steps(several: Iterable[Steps], garden: Garden, out: TextIO) -> None:
    """Readings rolled up as CSV with STEP_COLUMNS, probe by probe, oldest first; `time_utc` is the begin of the step."""
    about = {probe.id: (probe.quantity.value, _centimetres(probe), UNIT_RULES[probe.quantity].unit) for probe in garden.probes}
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(STEP_COLUMNS)
    for steps in several:
        columns = (steps.begin_ms.tolist(), steps.least.tolist(), steps.mean.tolist(), steps.most.tolist(), steps.count.tolist())
        for begin_ms, least, mean, most, count in zip(*columns, strict=True):
            told = (repr(least), repr(mean), repr(most), count)
            writer.writerow((time_text(begin_ms), steps.probe_id, *about.get(steps.probe_id, ("", "", "")), *told))


def write_refused(refusals: Iterable[Refusal], out: TextIO) -> None:
    """The refusals as CSV, in the order given; the payload is the head that was kept."""
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(REFUSED_COLUMNS)
    for one in refusals:
        payload = b64encode(one.payload).decode("ascii")
        writer.writerow((time_text(one.received_ms), harmless(one.source), harmless(one.reason), payload))


def _centimetres(probe: Probe) -> str:
    return "" if probe.depth_m is None else f"{probe.depth_m * 100:.7g}"


def harmless(text: str) -> str:
    """A text that others wrote, as a cell that no spreadsheet runs and no terminal stumbles over."""
    # Strangers wrote part of this. A spreadsheet runs a cell that begins with one of these
    # signs as a formula unless an apostrophe stands before it (OWASP, "CSV Injection"); a
    # control character would break the line, or the terminal it is shown on.
    shown = _printable(text)
    return f"'{shown}" if shown.startswith(("=", "+", "-", "@")) else shown


def _printable(text: str) -> str:
    return "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode("ascii") for sign in text)


# ---------------------------------------------------------------- in


def read_import(
    lines: Iterable[bytes],
    garden: Garden,
    now_ms: int,
    pruned_before_ms: Mapping[str, int] | None = None,
    *,
    as_sent: bool = False,
) -> Iterator[Chunk]:
    """The readings of a CSV table in UTF-8 with at least IMPORT_COLUMNS, in any order, in chunks as they are read.

    Values are in the unit inside (`UNIT_RULES`). A table with all of EXPORT_COLUMNS is an export: its `raw`
    and `flags` are taken over too; else each reading is checked as one that comes over a wire is, `now_ms` [ms since
    1970 UTC] being the present. A `unit` or `quantity` that contradicts the garden file refuses its row; any other
    column is passed over. Refused, too, is a time of which the store has let its raw readings go, by probe in
    `pruned_before_ms` [ms]: nobody could tell a row that is new there from one that was counted. A row is one line. A reading
    counts as received when it was measured, so that importing twice writes the same. What it says is true, and no calibration
    bends it, but with `as_sent`: then it is what the probe sent. Raises DecodeError where the heading is not right.
    """
    rows = _rows(lines)
    _, heading = next(rows, (1, []))
    if isinstance(heading, str):
        raise DecodeError(f"line 1: {heading}")
    row_reader = _RowReader([name.strip() for name in heading], garden, now_ms, as_sent)
    pruned_ms = pruned_before_ms or {}
    judged = ((line, _unless_pruned(row_reader.reading_or_reason(row), pruned_ms)) for line, row in rows)
    while some := list(itertools.islice(judged, CHUNK_ROWS)):
        yield Chunk(
            readings=tuple(one for _, one in some if isinstance(one, Reading)),
            refused=tuple((line, one) for line, one in some if isinstance(one, str)),
        )


def without_pruned(chunk: Chunk, pruned_before_ms: Mapping[str, int]) -> Chunk:
    """A chunk without the readings of which the store has let the raw ones go [ms]; they are refused, without a line."""
    judged = [_unless_pruned(one, pruned_before_ms) for one in chunk.readings]
    refused = tuple((0, one) for one in judged if isinstance(one, str))
    return Chunk(tuple(one for one in judged if isinstance(one, Reading)), (*chunk.refused, *refused))


def _unless_pruned(one: Reading | str, pruned_before_ms: Mapping[str, int]) -> Reading | str:
    if isinstance(one, str) or one.measured_ms >= pruned_before_ms.get(one.probe_id, one.measured_ms):
        return one
    pruned = time_text(pruned_before_ms[one.probe_id])
    return f"single readings of {one.probe_id} before {pruned} were let go (store.keep_raw_days), so none can be added"


def _rows(lines: Iterable[bytes]) -> Iterator[tuple[int, list[str] | str]]:
    """Line number and cells of each row that is not blank; in place of the cells, why they cannot be had."""
    # A byte that is no UTF-8 spoils its own cell and no other.
    texts = (line.decode("utf-8", "backslashreplace") for line in lines)
    first = next(texts, "").removeprefix("\ufeff")
    for number, text in enumerate(itertools.chain([first], texts), start=1):
        # Each line by itself: a quotation mark left open must not swallow the lines that follow.
        try:
            row: list[str] | str = next(csv.reader([text], strict=True), [])
        except csv.Error as error:
            row = f"this is no row of CSV ({error}); is a quotation mark left open?"
        if row:
            yield number, row


class _RowReader:
    """Reads the rows of one table, whose heading it has judged."""

    def __init__(self, heading: list[str], garden: Garden, now_ms: int, as_sent: bool) -> None:
        self._how = Flag.NONE if as_sent else Flag.AS_TOLD
        if missing := [name for name in IMPORT_COLUMNS if name not in heading]:
            found = _printable(", ".join(heading))[:200] or "nothing"
            hint = "; the columns must be separated by commas" if ";" in found or "\\t" in found else ""
            raise DecodeError(
                f"line 1: no column {', '.join(missing)}; want at least {', '.join(IMPORT_COLUMNS)}, found {found}{hint}"
            )
        self._is_export = set(EXPORT_COLUMNS) <= set(heading)
        told = [name for name in ("unit", "quantity") if name in heading]
        columns = EXPORT_COLUMNS if self._is_export else (*IMPORT_COLUMNS, *told)
        if twice := [name for name in columns if heading.count(name) > 1]:
            raise DecodeError(f"line 1: column {twice[0]} stands {heading.count(twice[0])} times; want it once")
        self._width = len(heading)
        self._at = {name: heading.index(name) for name in columns}
        self._probes = {probe.id: probe for probe in garden.probes}
        self._now_ms = now_ms
        self._memories: dict[str, checks.ProbeMemory | None] = {}

    def reading_or_reason(self, row: list[str] | str) -> Reading | str:
        """The reading of one row, or in a sentence why it is none."""
        if isinstance(row, str):
            return row
        if len(row) != self._width:
            return f"the row has {len(row)} cells, the heading {self._width}; want as many"
        cells = {name: row[at].strip() for name, at in self._at.items()}
        try:
            return self._reading(cells)
        except DecodeError as error:
            return _printable(str(error))

    def _reading(self, cells: dict[str, str]) -> Reading:
        measured_ms = time_ms(cells["time_utc"])
        probe = self._probes.get(cells["probe"])
        if probe is None:
            near = difflib.get_close_matches(cells["probe"], self._probes, 1)
            hint = f"; did you mean {near[0]}?" if near else ""
            raise DecodeError(f"probe {cells['probe']!r} is not in the garden file{hint}")
        rule = UNIT_RULES[probe.quantity]
        for name, wanted in (("unit", rule.unit), ("quantity", probe.quantity.value)):
            if cells.get(name, "") not in ("", wanted):
                raise DecodeError(f"{name} {cells[name]!r}; probe {probe.id} of the garden file wants {wanted!r}")
        value = _number(cells["value"], "value")
        low, high = rule.possible
        if not low <= value <= high:
            raise DecodeError(f"value {value!r} is no {probe.quantity.value}; want {low:g} to {high:g} [{rule.unit}]")
        if self._is_export:
            raw = _number(cells["raw"], "raw")
            return Reading(probe.id, measured_ms, value, raw, measured_ms, _flags(cells["flags"]))
        memory, flags = checks.check_imported(self._memories.get(probe.id), probe, measured_ms, value, self._now_ms)
        self._memories[probe.id] = memory
        return Reading(probe.id, measured_ms, value, value, measured_ms, flags | self._how)


def _number(text: str, name: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = math.nan
    # Python reads 1_000 as a number, a table does not.
    if not math.isfinite(number) or "_" in text:
        hint = "; the decimal sign must be a point" if "," in text else ""
        raise DecodeError(f"{name} {text!r} is no number{hint}; want one as 12.5")
    return number


def _flags(words: str) -> Flag:
    flags = Flag.NONE
    for word in words.split():
        if word.upper() not in Flag.__members__:
            raise DecodeError(f"flag {word!r} is not known; want of {', '.join(name.lower() for name in Flag.__members__)}")
        flags |= Flag[word.upper()]
    return flags
