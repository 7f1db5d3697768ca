"""Tables of other loggers: which column is the time and which is whose, guessed from the heading and shown first. Pure.

Nothing is guessed from how large a value is. What the heading does not tell is taken as the grower would (the garden's own time,
the unit inside) and said; where two guesses are as good, it is asked for.
"""

from __future__ import annotations

import csv
import datetime as dt
import itertools
import math
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from zoneinfo import ZoneInfo

from collector import checks
from collector.errors import DecodeError
from collector.model import Flag, Garden, Probe, Reading
from collector.tables import CHUNK_ROWS, Chunk
from collector.units import UNIT_RULES, Quantity

# So many rows are looked at for a guess; loggers put at most so many lines before the heading. Common practice, no source.
SAMPLE_ROWS, PREAMBLE_ROWS = 2_000, 40
_DELIMITERS = ",;\t"
# Of the cells of a column of dates so many may be none.
_ODD_SHARE = 0.1


class Dates(StrEnum):
    """In which order a date is written."""

    ISO = "year-first"
    DAY_FIRST = "day-first"
    MONTH_FIRST = "month-first"
    UNIX = "seconds since 1970"


@dataclass(frozen=True, slots=True)
class Unit:
    """What a column's numbers are in: value inside = factor * number + offset."""

    name: str
    factor: float = 1.0
    offset: float = 0.0


CELSIUS, FAHRENHEIT = Unit("°C"), Unit("°F", 1 / 1.8, -32 / 1.8)
RATIO, PERCENT = Unit("m³/m³"), Unit("%", 0.01)
# Names of units as headings write them, by what they can be of.
_TEMPERATURE_UNITS = ((r"°\s*f|deg\s*f|\bf\b|fahrenheit", FAHRENHEIT), (r"°\s*c|deg\s*c|\bc\b|celsius", CELSIUS))
_MOISTURE_UNITS = ((r"m3/m3|m³/m³|m\^3", RATIO), (r"%|percent|per cent", PERCENT))
_WORDS = {
    Quantity.SOIL_MOISTURE: r"moist|water|vwc|swc",
    Quantity.RELATIVE_HUMIDITY: r"humid|\brh\b",
    Quantity.AIR_TEMPERATURE: r"\bair\b",
    Quantity.SOIL_TEMPERATURE: r"temp|soil|probe|\bt\s*\d|°|deg",
}
_DEPTH = re.compile(r"(\d+(?:[.,]\d+)?)\s*(cm|mm|inches|inch|in|\")(?![a-z])", re.IGNORECASE)
_LENGTH_M = {"cm": 0.01, "mm": 0.001, "in": 0.0254, "inch": 0.0254, "inches": 0.0254, '"': 0.0254}
_SAME_DEPTH_M = 0.006
_TIME_WORDS = re.compile(r"time|date|zeit|datum|fecha|heure|hora|timestamp|moment", re.IGNORECASE)
_UTC = re.compile(r"\b(utc|gmt|zulu)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Column:
    """A column whose numbers are those of a probe."""

    at: int
    heading: str
    probe: Probe
    unit: Unit
    assumed: bool = False  # the heading names no unit


@dataclass(frozen=True, slots=True)
class Plan:
    """How a table is to be read. `time_at` are one column, or one of the date and one of the time of day."""

    heading_line: int
    delimiter: str
    decimal_comma: bool
    width: int
    time_at: tuple[int, ...]
    dates: Dates
    zone: str
    columns: tuple[Column, ...]
    passed_over: tuple[str, ...]
    zone_assumed: bool = False


@dataclass(frozen=True, slots=True)
class Told:
    """What the grower says, so that it need not be guessed; `columns` are (heading, probe id, unit or None)."""

    dates: Dates | None = None
    zone: str | None = None
    columns: tuple[tuple[str, str, str | None], ...] = ()
    bed: str | None = None


def plan(lines: Sequence[str], garden: Garden, told: Told) -> Plan:
    """How to read a table that begins with these lines. Raises DecodeError, with what to say, where that cannot be told."""
    delimiter = max(_DELIMITERS, key=lambda sign: sum(line.count(sign) for line in lines[: PREAMBLE_ROWS * 2]))
    rows = [next(csv.reader([line], delimiter=delimiter), []) for line in lines]
    at = _heading_at(rows)
    heading, body = [cell.strip() for cell in rows[at]], [row for row in rows[at + 1 :] if len(row) == len(rows[at])]
    time_at, dates = _times(heading, body, told)
    decimal_comma = delimiter != "," and any(re.fullmatch(r"-?\d+,\d+", cell.strip()) for row in body for cell in row)
    columns = _columns(heading, body, garden, told, time_at)
    said_utc = any(_UTC.search(heading[place]) for place in time_at) or any(
        _UTC.search(" ".join(row)) for row in rows[:at] if "zone" in " ".join(row).lower() or "time" in " ".join(row).lower()
    )
    zone = told.zone or ("UTC" if said_utc or dates is Dates.UNIX else garden.timezone)
    taken = {*time_at, *(column.at for column in columns)}
    return Plan(
        heading_line=at + 1,
        delimiter=delimiter,
        decimal_comma=decimal_comma,
        width=len(heading),
        time_at=time_at,
        dates=dates,
        zone=zone,
        columns=columns,
        passed_over=tuple(name for place, name in enumerate(heading) if place not in taken and name),
        zone_assumed=told.zone is None and not said_utc and dates is not Dates.UNIX,
    )


def in_words(found: Plan) -> list[str]:
    """What was guessed, a sentence for each, for the grower to look at before anything is written."""
    zone = f"{found.zone}{', the garden’s own, since the table does not say' if found.zone_assumed else ''}"
    said = [f"line {found.heading_line} is the heading; dates are {found.dates.value}, in {zone}"]
    for column in found.columns:
        unit = f"{column.unit.name}{', since the heading does not say' if column.assumed else ''}"
        said.append(f"column {column.heading!r} is {column.probe.id} ({column.probe.quantity.value}), in {unit}")
    if found.passed_over:
        said.append(f"passed over: {', '.join(found.passed_over[:20])}")
    return said


def read(lines: Iterable[str], found: Plan, now_ms: int, *, as_sent: bool = False) -> Iterator[Chunk]:
    """The readings of a table, in chunks as they are read; refused are times and numbers that are none, each by its line.

    With `as_sent` the numbers are what probes sent, for which calibrations hold; else they are true.
    """
    reader = _Reader(found, now_ms, as_sent)
    judged = itertools.chain.from_iterable(reader.row(number, line) for number, line in enumerate(lines, start=1))
    while some := list(itertools.islice(judged, CHUNK_ROWS)):
        yield Chunk(
            readings=tuple(one for _, one in some if isinstance(one, Reading)),
            refused=tuple((line, one) for line, one in some if isinstance(one, str)),
        )


# ---------------------------------------------------------------- the guess


def _heading_at(rows: Sequence[Sequence[str]]) -> int:
    """The last row without a number before the first that is as wide and has one."""
    for at, row in enumerate(rows[: PREAMBLE_ROWS + 1]):
        after = rows[at + 1] if at + 1 < len(rows) else []
        if len(row) >= 2 and len(after) == len(row) and not any(map(_is_number, row)) and any(map(_is_number, after)):
            return at
    raise DecodeError(f"no heading was found in the first {PREAMBLE_ROWS} lines: want a row of names over rows with numbers")


def _is_number(cell: str) -> bool:
    return re.fullmatch(r"[+-]?\d+(?:[.,]\d+)?", cell.strip()) is not None


def _times(heading: Sequence[str], body: Sequence[Sequence[str]], told: Told) -> tuple[tuple[int, ...], Dates]:
    likely = sorted(range(len(heading)), key=lambda at: (_TIME_WORDS.search(heading[at]) is None, at))
    for place in likely:
        cells = [row[place].strip() for row in body if row[place].strip()]
        if (orders := _orders(cells, told)) and any(":" in cell or "T" in cell for cell in cells):
            return (place,), _one_of(orders, cells, heading[place])
        if orders == [Dates.UNIX]:
            return (place,), Dates.UNIX
        if orders:  # dates alone: the time of day stands in a column of its own
            for other in likely:
                clock = [row[other].strip() for row in body if row[other].strip()]
                if other != place and clock and all(re.fullmatch(r"\d{1,2}:\d{2}.*", cell) for cell in clock[:50]):
                    return (place, other), _one_of(orders, cells, heading[place])
    raise DecodeError(f"no column of {', '.join(heading)[:200]} holds dates and times that can be read")


def _orders(cells: Sequence[str], told: Told) -> list[Dates]:
    """The orders in which nearly all of these can be dates: a few cells may hold what they like."""
    if not cells:
        return []
    if all(re.fullmatch(r"\d{9,10}(\.\d+)?", cell) for cell in cells):
        return [Dates.UNIX]
    orders = [told.dates] if told.dates else [Dates.ISO, Dates.DAY_FIRST, Dates.MONTH_FIRST]
    return [order for order in orders if sum(_date(cell, order) is None for cell in cells) <= _ODD_SHARE * len(cells)]


def _one_of(orders: Sequence[Dates], cells: Sequence[str], heading: str) -> Dates:
    """Of several orders the one in which the rows follow each other most closely; a tie is asked for."""
    if len(orders) == 1:
        return orders[0]

    def strays(order: Dates) -> tuple[int, int]:
        days = [date.toordinal() for cell in cells if (date := _date(cell, order)) is not None]
        return len(cells) - len(days), sum(abs(after - before) > 1 for before, after in itertools.pairwise(days))

    ranked = sorted(orders, key=strays)
    if strays(ranked[0]) == strays(ranked[1]):
        raise DecodeError(f"the dates in {heading!r} may be day-first or month-first ({cells[0]!r}); say which with --dates")
    return ranked[0]


_DATE = re.compile(r"(\d{1,4})[-/. ](\d{1,2})[-/. ](\d{1,4})(?:\D|$)")


def _date(cell: str, order: Dates) -> dt.date | None:
    found = _DATE.match(cell)
    if found is None:
        return None
    first, second, third = (int(part) for part in found.groups())
    year, month, day = {
        Dates.ISO: (first, second, third), Dates.DAY_FIRST: (third, second, first), Dates.MONTH_FIRST: (third, first, second)
    }[order]  # fmt: skip
    if len(found.group(1 if order is Dates.ISO else 3)) == 2:
        year += 2000
    try:
        return dt.date(year, month, day) if year >= 1970 else None
    except ValueError:
        return None


def _columns(
    heading: Sequence[str], body: Sequence[Sequence[str]], garden: Garden, told: Told, time_at: Sequence[int]
) -> tuple[Column, ...]:
    probes = [probe for probe in garden.probes if told.bed in (None, probe.bed_id)]
    known = {probe.id: probe for probe in garden.probes}
    columns = []
    for name, probe_id, unit in told.columns:
        if name not in heading:
            raise DecodeError(f"no column {name!r}; the table has {', '.join(heading)[:200]}")
        if probe_id not in known:
            raise DecodeError(f"no probe {probe_id!r} in the garden file; it has {', '.join(sorted(known))}")
        columns.append(_column(heading.index(name), name, known[probe_id], unit))
    for place, name in enumerate(heading):
        numbers = any(re.search(r"\d", row[place]) for row in body)
        if place in time_at or not numbers or any(column.at == place for column in columns):
            continue
        if (probe := _whose(name, probes, known)) is not None:
            columns.append(_column(place, name, probe, None))
    if not columns:
        names = ", ".join(heading)[:200]
        raise DecodeError(f"no column of {names} could be told to be a probe's; say which is whose with --column HEADING=PROBE")
    twice = [one.probe.id for one, other in itertools.combinations(columns, 2) if one.probe is other.probe]
    if twice:
        raise DecodeError(f"two columns seem to be those of {twice[0]}; say which is whose with --column HEADING=PROBE")
    return tuple(columns)


def _whose(name: str, probes: Sequence[Probe], known: dict[str, Probe]) -> Probe | None:
    """By its id or address, else by what it measures and how deep, where only one probe is so."""
    for probe in known.values():
        if name in (probe.id, probe.address):
            return probe
    text = name.lower()
    quantity = next((one for one, words in _WORDS.items() if re.search(words, text)), None)
    depth = _DEPTH.search(text)
    depth_m = None if depth is None else float(depth[1].replace(",", ".")) * _LENGTH_M[depth[2].lower()]
    if quantity is Quantity.SOIL_TEMPERATURE and depth_m is None:
        return None
    alike = [
        probe
        for probe in probes
        if probe.quantity is quantity
        and (depth_m is None or (probe.depth_m is not None and abs(probe.depth_m - depth_m) <= _SAME_DEPTH_M))
    ]
    return alike[0] if len(alike) == 1 else None


def _column(place: int, name: str, probe: Probe, unit: str | None) -> Column:
    units = {
        Quantity.SOIL_TEMPERATURE: _TEMPERATURE_UNITS, Quantity.AIR_TEMPERATURE: _TEMPERATURE_UNITS,
        Quantity.SOIL_MOISTURE: _MOISTURE_UNITS,
    }.get(probe.quantity, ())  # fmt: skip
    told = (unit or _DEPTH.sub(" ", name)).lower()
    for words, found in units:
        if re.search(words, told):
            return Column(place, name, probe, found)
    if unit is not None and units:
        known = ", ".join(sorted({one.name for _, one in units}))
        raise DecodeError(f"--column {name}: no unit {unit!r} for {probe.quantity.value}; want one of {known}")
    return Column(place, name, probe, Unit(UNIT_RULES[probe.quantity].unit), assumed=bool(units))


# ---------------------------------------------------------------- the rows


class _Reader:
    """Reads the rows of a table by a plan."""

    def __init__(self, found: Plan, now_ms: int, as_sent: bool) -> None:
        self._plan = found
        self._how = Flag.NONE if as_sent else Flag.AS_TOLD
        self._now_ms = now_ms
        self._zone = ZoneInfo(found.zone)
        self._before_s: float | None = None
        self._memories: dict[str, checks.ProbeMemory | None] = {}

    def row(self, number: int, line: str) -> Iterator[tuple[int, Reading | str]]:
        """Line number, and reading or why there is none, of each column; blank rows and cells say nothing."""
        if number <= self._plan.heading_line or not line.strip():
            return
        cells = [cell.strip() for cell in next(csv.reader([line], delimiter=self._plan.delimiter), [])]
        if len(cells) != self._plan.width:
            yield number, f"the row has {len(cells)} cells, the heading {self._plan.width}; want as many"
            return
        try:
            measured_ms = self._time_ms(" ".join(cells[place] for place in self._plan.time_at))
        except DecodeError as error:
            yield number, str(error)
            return
        for column in self._plan.columns:
            if cells[column.at]:
                yield number, self._reading(column, cells[column.at], measured_ms)

    def _reading(self, column: Column, cell: str, measured_ms: int) -> Reading | str:
        text = cell.replace(",", ".") if self._plan.decimal_comma else cell
        try:
            number = float(text)
        except ValueError:
            return f"{column.heading}: {cell[:40]!r} is no number"
        value, probe = column.unit.factor * number + column.unit.offset, column.probe
        low, high = UNIT_RULES[probe.quantity].possible
        if not (math.isfinite(number) and low <= value <= high):
            return f"{column.heading}: {cell[:40]} {column.unit.name} is no {probe.quantity.value} (probe {probe.id})"
        value = round(value, 9)  # 64.4 °F is 18 °C and not 18.000000000000004
        memory, flags = checks.check_imported(self._memories.get(probe.id), probe, measured_ms, value, self._now_ms)
        self._memories[probe.id] = memory
        return Reading(probe.id, measured_ms, value, value, measured_ms, flags | self._how)

    def _time_ms(self, text: str) -> int:
        if self._plan.dates is Dates.UNIX:
            return round(float(text) * 1000)
        date, clock = _date(text, self._plan.dates), _CLOCK.search(text)
        if date is None or clock is None:
            raise DecodeError(f"{text[:40]!r} is no date and time that is {self._plan.dates.value}")
        hour, minute, second = int(clock[1]), int(clock[2]), float(clock[3] or 0)
        if clock[4]:
            hour = hour % 12 + (12 if clock[4].lower().startswith("p") else 0)
        try:
            naive = dt.datetime.combine(date, dt.time(hour, minute)) + dt.timedelta(seconds=second)
        except ValueError:
            raise DecodeError(f"{text[:40]!r} is no time of day") from None
        if (offset := _OFFSET.search(text)) is not None:
            away = 0 if offset[1] else (1 if offset[2] == "+" else -1) * (60 * int(offset[3]) + int(offset[4]))
            return round((naive - dt.timedelta(minutes=away)).replace(tzinfo=dt.UTC).timestamp() * 1000)
        return round(self._local(naive, text).timestamp() * 1000)

    def _local(self, naive: dt.datetime, text: str) -> dt.datetime:
        """A moment by the clock of the place; of an hour that comes twice the second, where the rows have passed the first."""
        moment = naive.replace(tzinfo=self._zone)
        if moment.astimezone(dt.UTC).astimezone(self._zone).replace(tzinfo=None) != naive:
            raise DecodeError(f"{text[:40]!r} was skipped by the clocks of {self._plan.zone}; does the logger keep another time?")
        again = moment.replace(fold=1)
        if self._before_s is not None and moment.timestamp() < self._before_s <= again.timestamp():
            moment = again
        self._before_s = moment.timestamp()
        return moment


_CLOCK = re.compile(r"(?:^|[ T])(\d{1,2}):(\d{2})(?::(\d{2}(?:[.]\d+)?))?\s*([AaPp]\.?[Mm])?")
_OFFSET = re.compile(r"(Z)$|([+-])(\d{2}):?(\d{2})$")
