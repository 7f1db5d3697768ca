"""`cooldepth export`, `refused`, `import` and `forecast`: tables out and in."""

from __future__ import annotations

import argparse
import io
import itertools
import math
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Protocol, TextIO
from zoneinfo import ZoneInfo

from collector import foreign_table, tables, wiring
from collector.errors import CooldepthError, DecodeError, GardenFileError
from collector.foreign_table import Dates
from collector.model import Batch, Garden
from collector.rollup import Every

TIME_BEGINS_MS = 0
TIME_ENDS_MS = tables.ENDS_MS
MEANS = {"10min": Every.TEN_MINUTES, "hour": Every.HOUR, "day": Every.DAY}


class Add(Protocol):
    """Adds a command to the words of a call, with an example of it."""

    def __call__(self, name: str, command: Callable[[argparse.Namespace], int], example: str) -> argparse.ArgumentParser: ...


def add_commands(add: Add) -> None:
    """The words of these commands."""
    new = add("export", export, "--garden garden.toml --probe terrace-t12 --from 2026-04-01 > april.csv")
    new.add_argument("--probe", action="append", metavar="ID", help="only this probe; may be given again (all)")
    add_span(new)
    new.add_argument(
        "--means",
        choices=sorted(MEANS),
        help="not each reading, but least, mean and greatest of each ten minutes, hour or day (UTC) of those to be believed",
    )
    new.add_argument("--format", choices=["csv", "parquet"], default="csv")
    new.add_argument("--out", type=Path, metavar="FILE", help="where to write it (standard output; a Parquet file needs a name)")

    new = add("refused", refused, "--garden garden.toml --format csv")
    new.add_argument("--format", choices=["csv"], default="csv")

    new = add("import", import_file, "--garden garden.toml --yes old-logger.csv")
    new.add_argument("file", type=Path, metavar="FILE.csv", help="columns time_utc, probe, value; or a table of another logger")
    new.add_argument("--yes", action="store_true", help="write; without it the file is only read and judged")
    new.add_argument(
        "--dates", choices=[order.value for order in Dates if order is not Dates.UNIX], help="of another logger's table"
    )
    new.add_argument(
        "--zone", type=_zone, metavar="ZONE", help="time zone of its times, as Europe/Lisbon (the garden's, or as it says)"
    )
    new.add_argument("--bed", metavar="ID", help="the bed that it tells of (all)")
    new.add_argument(
        "--as-sent", action="store_true", help="its numbers are what the probes sent, and calibrations hold for them (else: true)"
    )
    new.add_argument(
        "--column", action="append", default=[], metavar="HEADING=PROBE[:UNIT]", help="whose a column is, and in which unit"
    )

    new = add("forecast", forecast, "--garden garden.toml --bed terrace --depth-cm 12 --hours 72 --weather days.csv")
    new.add_argument("--bed", required=True, metavar="ID", help="id of the bed")
    new.add_argument("--depth-cm", type=_depth_cm, required=True, metavar="D", help="depth below the soil surface")
    new.add_argument("--hours", type=_hours, default=72, metavar="N", help="how many hours ahead, 1 to 168 (72)")
    new.add_argument("--at", type=time_ms, metavar="T", help="from this time on, by no reading later than it (now)")
    new.add_argument(
        "--weather", type=Path, metavar="FILE.csv", help="hourly weather: its rows up to T were observed, the later are forecast"
    )
    new.add_argument("--format", choices=["csv"], default="csv")


def add_span(parser: argparse.ArgumentParser) -> None:
    """The words of a span of time."""
    parser.add_argument(
        "--from", dest="start", type=time_ms, default=TIME_BEGINS_MS, metavar="T", help="from this time on, ISO 8601"
    )
    parser.add_argument(
        "--to", dest="end", type=time_ms, default=TIME_ENDS_MS, metavar="T", help="up to this time; UTC unless it says"
    )


def export(arguments: argparse.Namespace) -> int:
    """Readings as a table, oldest first."""
    garden = wiring.read_garden(arguments.garden)
    wanted = arguments.probe or [probe.id for probe in garden.probes]
    known = {probe.id for probe in garden.probes}
    if unknown := [probe_id for probe_id in wanted if probe_id not in known]:
        raise GardenFileError(str(arguments.garden), [f"no probe {unknown[0]!r}; it has {', '.join(sorted(known)) or 'none'}"])
    if arguments.format == "parquet":
        return _export_parquet(arguments, garden, wanted)
    with wiring.open_readings(garden) as readings, _out(arguments.out) as out:
        if arguments.means is not None:
            rolled = (readings.steps(probe_id, arguments.start, arguments.end, MEANS[arguments.means]) for probe_id in wanted)
            tables.write_steps(rolled, garden, out)
            return 0
        tables.write_export(readings.readings(wanted, arguments.start, arguments.end), garden, out)
        pruned_ms = [readings.pruned_before_ms().get(probe_id, arguments.start) for probe_id in wanted]
    if max(pruned_ms, default=arguments.start) > arguments.start:
        print(
            f"cooldepth: single readings before {tables.time_text(max(pruned_ms))} were let go (store.keep_raw_days); "
            "what is kept of them comes with --means 10min",
            file=sys.stderr,
        )
    return 0


def _export_parquet(arguments: argparse.Namespace, garden: Garden, wanted: Sequence[str]) -> int:
    if arguments.out is None or arguments.means is not None:
        raise CooldepthError("--format parquet writes single readings into a file: want --out FILE.parquet, and no --means")
    try:
        from collector.parquet import write_parquet
    except ImportError:
        raise CooldepthError("Parquet needs pyarrow: pip install 'cooldepth[parquet]'") from None
    with wiring.open_readings(garden) as readings:
        count = write_parquet(readings.readings(wanted, arguments.start, arguments.end), garden, arguments.out)
    print(f"{arguments.out}: {count} readings")
    return 0


@contextmanager
def _out(path: Path | None) -> Iterator[TextIO]:
    if path is None:
        yield sys.stdout
        return
    with path.open("w", encoding="utf-8", newline="") as file:
        yield file


def refused(arguments: argparse.Namespace) -> int:
    """What was refused, and why."""
    garden = wiring.read_garden(arguments.garden)
    with wiring.open_readings(garden) as readings:
        tables.write_refused(readings.refused(), sys.stdout)
        counts = readings.counts()
    if counts.refused > counts.refused_kept:
        print(
            f"cooldepth: these are the newest {counts.refused_kept} of {counts.refused}; the older were let go", file=sys.stderr
        )
    return 0


def import_file(arguments: argparse.Namespace) -> int:
    """Readings from a table, into the store; of another logger's table it tells first what it takes for what."""
    garden = wiring.read_garden(arguments.garden)
    stored = refused_rows = 0
    with wiring.open_readings(garden) as readings:
        pruned_before_ms = readings.pruned_before_ms()
    with _open_lines(arguments.file) as lines, wiring.open_store(garden) as store:
        for chunk in _chunks(lines, arguments, garden, pruned_before_ms):
            if arguments.yes:
                store.commit(Batch(readings=chunk.readings, imported=True))
            stored += len(chunk.readings)
            refused_rows += len(chunk.refused)
            for line_number, reason in chunk.refused:
                print(f"{arguments.file}:{line_number}: {reason}", file=sys.stderr)
            print(f"{stored} readings, {refused_rows} rows refused so far", file=sys.stderr)
    if arguments.yes:
        print(f"{arguments.file}: {stored} readings stored, {refused_rows} rows refused")
    else:
        print(
            f"{arguments.file}: {stored} readings could be stored, {refused_rows} rows refused; nothing is written without --yes"
        )
    return 0 if refused_rows == 0 else 1


def _chunks(
    lines: IO[bytes], arguments: argparse.Namespace, garden: Garden, pruned_before_ms: Mapping[str, int]
) -> Iterable[tables.Chunk]:
    """The readings of our own kind of table, or of another that is told first."""
    head = [line for _, line in zip(range(foreign_table.SAMPLE_ROWS), lines, strict=False)]
    first = head[0].decode("utf-8-sig", "replace") if head else ""
    whole = itertools.chain(head, lines)
    if set(tables.IMPORT_COLUMNS) <= {cell.strip() for cell in first.split(",")}:
        return tables.read_import(whole, garden, wiring.now_ms(), pruned_before_ms, as_sent=arguments.as_sent)
    told = foreign_table.Told(
        Dates(arguments.dates) if arguments.dates else None,
        arguments.zone,
        tuple(_column(text) for text in arguments.column),
        arguments.bed,
    )
    try:
        plan = foreign_table.plan([_text(line) for line in head], garden, told)
    except DecodeError as error:
        raise CooldepthError(f"{arguments.file}: {error}") from None
    for sentence in foreign_table.in_words(plan):
        print(f"{arguments.file}: {sentence}", file=sys.stderr)
    chunks = foreign_table.read(map(_text, whole), plan, wiring.now_ms(), as_sent=arguments.as_sent)
    return (tables.without_pruned(chunk, pruned_before_ms) for chunk in chunks)


def _text(line: bytes) -> str:
    """Tables are UTF-8, or else what spreadsheets on Windows write."""
    try:
        return line.decode("utf-8-sig")
    except UnicodeDecodeError:
        return line.decode("cp1252", "backslashreplace")


def _column(text: str) -> tuple[str, str, str | None]:
    heading, equals, whose = text.rpartition("=")
    if not equals:
        raise CooldepthError(f"--column {text!r}: want HEADING=PROBE, or HEADING=PROBE:UNIT")
    probe_id, _, unit = whose.partition(":")
    return heading, probe_id, unit or None


def _zone(text: str) -> str:
    try:
        ZoneInfo(text)
    except (ValueError, OSError, KeyError):
        raise argparse.ArgumentTypeError(
            f"{text!r} is no time zone; want a name of the IANA database, as Europe/Lisbon"
        ) from None
    return text


def forecast(arguments: argparse.Namespace) -> int:
    """The soil's temperature at a depth in the hours ahead, with its 80 % band."""
    from collector.forecaster import read_weather, write_forecast

    garden = wiring.read_garden(arguments.garden)
    weather = None
    if arguments.weather:
        with _open_lines(arguments.weather) as lines, io.TextIOWrapper(lines, encoding="utf-8") as text:
            try:
                weather = read_weather(text)
            except (DecodeError, UnicodeDecodeError) as error:
                raise CooldepthError(f"{arguments.weather}: {error}") from None
    if garden.bed(arguments.bed) is None:
        known = ", ".join(bed.id for bed in garden.beds)
        raise GardenFileError(str(arguments.garden), [f"no bed {arguments.bed!r}; it has {known}"])
    # What a public service says now was not known then: it serves the present alone.
    with wiring.open_forecaster(garden, public=arguments.at is None and weather is None) as forecaster:
        now_ms = wiring.now_ms() if arguments.at is None else arguments.at
        ahead = forecaster.ahead(arguments.bed, arguments.depth_cm / 100, now_ms, arguments.hours, weather)
    write_forecast(ahead, sys.stdout)
    return 0


# ---------------------------------------------------------------- the words of a call


def time_ms(text: str) -> int:
    """A time as a call tells it [ms since 1970 UTC]; UTC unless it says."""
    try:
        time = datetime.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no time; want 2026-04-13 or 2026-04-13T06:00:00Z") from None
    return round((time if time.tzinfo else time.replace(tzinfo=UTC)).timestamp() * 1000)


def _depth_cm(text: str) -> float:
    from collector.soil.forecast.banks import COLUMN_M

    try:
        depth_cm = float(text)
    except ValueError:
        depth_cm = math.nan
    if not 0 <= depth_cm <= 100 * COLUMN_M:
        raise argparse.ArgumentTypeError(f"{text!r} is no depth of this soil; want 0 to {100 * COLUMN_M:g} cm below its surface")
    return depth_cm


def _hours(text: str) -> int:
    from collector.soil.forecast.model import LONGEST_H

    if not text.isdecimal() or not 1 <= int(text) <= LONGEST_H:
        raise argparse.ArgumentTypeError(f"{text!r} is no number of hours ahead; want 1 to {LONGEST_H}")
    return int(text)


def _open_lines(path: Path) -> IO[bytes]:
    try:
        return path.open("rb")
    except OSError as error:
        raise CooldepthError(f"{path}: cannot be read ({error.strerror}); give the path of a CSV file") from error
