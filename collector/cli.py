"""The `cooldepth` command: words in, exit status out.

0 is success, 1 a failure that is explained, 2 a call or a garden file that cannot be used.
Only this module prints. What one command alone needs is loaded by that command: the collector starts without it.
"""

from __future__ import annotations

import argparse
import getpass
import io
import json
import logging
import math
import os
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import IO

from collector import cli_report, tables, wiring
from collector.cli_journal import add_arguments, journal
from collector.errors import CooldepthError, DecodeError, GardenFileError
from collector.model import Batch
from collector.ports import Clock

Command = Callable[[argparse.Namespace], int]

# Ten simulated minutes in four seconds: a day in about ten minutes, the first call within two.
DEMO_SPEED = 150.0
PASSWORD_LENGTH = 10
TIME_BEGINS_MS = 0
TIME_ENDS_MS = tables.ENDS_MS


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; answers its exit status."""
    arguments = _parser().parse_args(argv)
    logging.basicConfig(level=logging.INFO, format="%(asctime)s %(message)s", datefmt="%Y-%m-%d %H:%M:%S", stream=sys.stderr)
    logging.getLogger("httpx").setLevel(logging.WARNING)  # each request is no news, and its address may hold a key
    command: Command = arguments.command
    try:
        status = command(arguments)
        sys.stdout.flush()  # here, where it can still be told that there is no room for it
    except GardenFileError as error:
        print(error, file=sys.stderr)
        return 2
    except CooldepthError as error:
        print(f"cooldepth: {error}", file=sys.stderr)
        return 1
    except BrokenPipeError:
        # The reader of our output has seen enough (`| head`); nothing is left to say to it.
        _let_go_of_output()
        return 0
    except OSError as error:
        print(f"cooldepth: {error.strerror or error}{f': {error.filename}' if error.filename else ''}", file=sys.stderr)
        _let_go_of_output()
        return 1
    except KeyboardInterrupt:
        return 130
    return status


def _let_go_of_output() -> None:
    """What is still to be written goes nowhere, without another complaint at the end."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


class Pages:
    """The dashboard's process beside the collector, started again if it ends; the collector goes on without it.

    Its standard input is a pipe from this process, by which it knows, whatever ends this process, that it is to end too.
    """

    STARTED_S = 10.0
    AGAIN_S = 30.0

    def __init__(self, call: Sequence[str], stop: threading.Event, clock: Clock) -> None:
        self._call, self._stop, self._clock = [*call, "--until-end-of-input"], stop, clock
        self._process = self._start()
        self._watch = threading.Thread(target=self._keep_up, name="pages", daemon=True)
        self._watch.start()

    def close(self) -> None:
        """End the dashboard; the collector's stop is set by now."""
        self._process.terminate()
        self._watch.join(timeout=10)

    def _start(self) -> subprocess.Popen[bytes]:
        # In a session of its own: Ctrl-C is for this process, which then ends the pages.
        return subprocess.Popen(self._call, stdin=subprocess.PIPE, start_new_session=True)

    def _keep_up(self) -> None:
        while True:
            begun_s = self._clock.elapsed_s()
            status = self._process.wait()
            if self._process.stdin is not None:
                self._process.stdin.close()
            if self._stop.is_set():
                return
            if self._clock.elapsed_s() - begun_s < self.STARTED_S:
                told = f"could not start; the collector goes on without them, and they are tried again in {self.AGAIN_S:.0f} s"
                print(f"cooldepth: the pages {told}", file=sys.stderr)
                if self._stop.wait(self.AGAIN_S):
                    return
            else:
                print(f"cooldepth: the pages ended (status {status}); starting them again", file=sys.stderr)
            self._process = self._start()


# ---------------------------------------------------------------- the commands


def collect(arguments: argparse.Namespace) -> int:
    """Take readings in until told to stop."""
    garden = wiring.read_garden(arguments.garden, secrets=True)
    with wiring.open_daemon(garden) as daemon:
        _stop_on_signals(daemon.stop)
        daemon.run()
    return 0


def serve(arguments: argparse.Namespace) -> int:
    """Show the pages, in a process of their own that takes this one's place."""
    wiring.read_garden(arguments.garden)
    sys.stdout.flush()
    os.execv(sys.executable, _dashboard_call(arguments))
    return 1


def run(arguments: argparse.Namespace) -> int:
    """Collector and pages together; the pages are a process of their own, so that neither can stop the other."""
    garden = wiring.read_garden(arguments.garden, secrets=True)
    with wiring.open_daemon(garden) as daemon:
        _stop_on_signals(daemon.stop)
        pages = Pages(_dashboard_call(arguments), daemon.stop, daemon.clock)
        try:
            daemon.run()
        finally:
            pages.close()
    return 0


def demo(arguments: argparse.Namespace) -> int:
    """A simulated garden, end to end."""
    from collector.demo import run_demo

    try:
        socket.create_server((arguments.host, arguments.port)).close()
    except OSError as error:
        why = os.strerror(error.errno) if error.errno else str(error)
        told = f"port {arguments.port} on {arguments.host}: {why}; choose another with --port"
        raise CooldepthError(told) from error
    return run_demo(arguments.host, arguments.port, arguments.speed, arguments.folder, say=lambda text: print(text, flush=True))


def check(arguments: argparse.Namespace) -> int:
    """Is the garden file sound, and can everything it names be reached?"""
    garden = wiring.read_garden(arguments.garden, secrets=True)
    # A source says that it tries again: a check does not, it ends here.
    reached = [(what, trouble and trouble.removesuffix("; trying again")) for what, trouble in wiring.reach(garden)]
    found = [("garden file " + str(arguments.garden), None), *reached]
    if arguments.json:
        print(json.dumps([{"what": what, "well": trouble is None, "trouble": trouble} for what, trouble in found], indent=2))
    else:
        for what, trouble in found:
            print(f"{what}: {trouble or 'well'}")
    return 0 if all(trouble is None for _, trouble in found) else 1


def export(arguments: argparse.Namespace) -> int:
    """Readings as a table, oldest first."""
    garden = wiring.read_garden(arguments.garden)
    wanted = arguments.probe or [probe.id for probe in garden.probes]
    known = {probe.id for probe in garden.probes}
    if unknown := [probe_id for probe_id in wanted if probe_id not in known]:
        raise GardenFileError(str(arguments.garden), [f"no probe {unknown[0]!r}; it has {', '.join(sorted(known)) or 'none'}"])
    with wiring.open_readings(garden) as readings:
        tables.write_export(readings.readings(wanted, arguments.start, arguments.end), garden, sys.stdout)
    return 0


def refused(arguments: argparse.Namespace) -> int:
    """What was refused, and why."""
    garden = wiring.read_garden(arguments.garden)
    with wiring.open_readings(garden) as readings:
        tables.write_refused(readings.refused(), sys.stdout)
    return 0


def import_file(arguments: argparse.Namespace) -> int:
    """Readings from a table, into the store."""
    garden = wiring.read_garden(arguments.garden)
    stored = refused_rows = 0
    with _open_lines(arguments.file) as lines, wiring.open_store(garden) as store:
        for chunk in tables.read_import(lines, garden, wiring.now_ms()):
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


def user(arguments: argparse.Namespace) -> int:
    """Turn a password into the line that lets the pages ask for it."""
    import argon2

    if arguments.stdin:
        password = sys.stdin.readline().rstrip("\n")
    else:
        password = getpass.getpass("Password for the pages: ")
        if getpass.getpass("Once more: ") != password:
            print("cooldepth: the two are not the same; nothing was made", file=sys.stderr)
            return 1
    if len(password) < PASSWORD_LENGTH:
        print(f"cooldepth: want at least {PASSWORD_LENGTH} characters, got {len(password)}; nothing was made", file=sys.stderr)
        return 1
    print(f"COOLDEPTH_PASSWORD_HASH='{argon2.PasswordHasher().hash(password)}'")
    return 0


# ---------------------------------------------------------------- the words of a call


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="cooldepth",
        description="Soil temperature and water under the mulch of long-season bulb crops, and what is due today.",
    )
    commands = parser.add_subparsers(required=True, metavar="command")

    def add(name: str, command: Command, example: str, *, garden: bool = True) -> argparse.ArgumentParser:
        told = (command.__doc__ or "").strip().replace("%", "%%")  # argparse fills in percent signs
        new = commands.add_parser(name, help=told, description=told, epilog=f"example: cooldepth {name} {example}".rstrip())
        new.set_defaults(command=command)
        if garden:
            new.add_argument(
                "--garden", type=Path, default=Path("garden.toml"), metavar="FILE", help="the garden file (garden.toml)"
            )
        return new

    new = add("demo", demo, "--port 8050", garden=False)
    _add_address(new)
    new.add_argument("--speed", type=float, default=DEMO_SPEED, help=f"simulated seconds in a second ({DEMO_SPEED:g})")
    new.add_argument("--folder", type=Path, help="keep garden file and store here (a temporary folder, removed at the end)")

    _add_address(add("run", run, "--garden garden.toml"))
    add("collect", collect, "--garden garden.toml")
    _add_address(add("serve", serve, "--garden garden.toml --port 8050"))

    new = add("check", check, "--garden garden.toml")
    new.add_argument("--json", action="store_true", help="print JSON")

    new = add("export", export, "--garden garden.toml --probe terrace-t12 --from 2026-04-01 > april.csv")
    new.add_argument("--probe", action="append", metavar="ID", help="only this probe; may be given again (all)")
    new.add_argument(
        "--from", dest="start", type=_time_ms, default=TIME_BEGINS_MS, metavar="T", help="from this time on, ISO 8601"
    )
    new.add_argument(
        "--to", dest="end", type=_time_ms, default=TIME_ENDS_MS, metavar="T", help="up to this time; UTC unless it says"
    )
    new.add_argument("--format", choices=["csv"], default="csv")

    new = add("refused", refused, "--garden garden.toml --format csv")
    new.add_argument("--format", choices=["csv"], default="csv")

    new = add("import", import_file, "--garden garden.toml --yes old-logger.csv")
    new.add_argument("file", type=Path, metavar="FILE.csv", help="columns time_utc, probe, value; others are passed over")
    new.add_argument("--yes", action="store_true", help="write; without it the file is only read and judged")

    new = add("forecast", forecast, "--garden garden.toml --bed terrace --depth-cm 12 --hours 72 --weather days.csv")
    new.add_argument("--bed", required=True, metavar="ID", help="id of the bed")
    new.add_argument("--depth-cm", type=_depth_cm, required=True, metavar="D", help="depth below the soil surface")
    new.add_argument("--hours", type=_hours, default=72, metavar="N", help="how many hours ahead, 1 to 168 (72)")
    new.add_argument("--at", type=_time_ms, metavar="T", help="from this time on, by no reading later than it (now)")
    new.add_argument(
        "--weather", type=Path, metavar="FILE.csv", help="hourly weather: its rows up to T were observed, the later are forecast"
    )
    new.add_argument("--format", choices=["csv"], default="csv")

    cli_report.add_arguments(add("report", cli_report.report, "--garden garden.toml --out season.html"))
    add_arguments(add("journal", journal, "add --garden garden.toml --bed terrace --deed watered --amount litres=60"))

    new = add("user", user, "", garden=False)
    new.add_argument("--stdin", action="store_true", help="read the password from standard input")
    return parser


def _add_address(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--host", default="127.0.0.1", help="address to listen on (127.0.0.1); any other needs a password")
    parser.add_argument("--port", type=_port, default=8050, help="port of the pages (8050)")


def _port(text: str) -> int:
    if not (text.isascii() and text.isdigit() and 0 < int(text) < 65536):
        raise argparse.ArgumentTypeError(f"{text!r} is no port; want a number from 1 to 65535")
    return int(text)


def _time_ms(text: str) -> int:
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


def _dashboard_call(arguments: argparse.Namespace) -> list[str]:
    where = ["--garden", str(arguments.garden), "--host", arguments.host, "--port", str(arguments.port)]
    return [sys.executable, "-m", "dashboard", *where]


def _stop_on_signals(stop: threading.Event) -> None:
    for name in (signal.SIGTERM, signal.SIGINT):
        signal.signal(name, lambda *_: stop.set())
