"""The `cooldepth` command: words in, exit status out.

0 is success, 1 a failure that is explained, 2 a call or a garden file that cannot be used.
Only the modules `cli…` print. What one command alone needs is loaded by that command: the collector starts without it.
"""

from __future__ import annotations

import argparse
import getpass
import json
import logging
import os
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Callable, Sequence
from pathlib import Path

from collector import cli_report, cli_tables, wiring
from collector.cli_journal import add_arguments, journal
from collector.errors import CooldepthError, GardenFileError
from collector.ports import Clock

Command = Callable[[argparse.Namespace], int]

# Ten simulated minutes in four seconds: a day in about ten minutes, the first call within two.
DEMO_SPEED = 150.0
PASSWORD_LENGTH = 10


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
    name = "COOLDEPTH_VIEWER_HASH" if arguments.viewer else "COOLDEPTH_PASSWORD_HASH"
    print(f"{name}='{argon2.PasswordHasher().hash(password)}'")
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

    cli_tables.add_commands(add)
    cli_report.add_arguments(add("report", cli_report.report, "--garden garden.toml --out season.html"))
    add_arguments(add("journal", journal, "add --garden garden.toml --bed terrace --deed watered --amount litres=60"))

    new = add("user", user, "", garden=False)
    new.add_argument("--stdin", action="store_true", help="read the password from standard input")
    new.add_argument("--viewer", action="store_true", help="a password for those who may look and not write")
    return parser


def _add_address(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--host", default="127.0.0.1", help="address to listen on (127.0.0.1); any other needs a password")
    parser.add_argument("--port", type=_port, default=8050, help="port of the pages (8050)")


def _port(text: str) -> int:
    if not (text.isascii() and text.isdigit() and 0 < int(text) < 65536):
        raise argparse.ArgumentTypeError(f"{text!r} is no port; want a number from 1 to 65535")
    return int(text)


def _dashboard_call(arguments: argparse.Namespace) -> list[str]:
    where = ["--garden", str(arguments.garden), "--host", arguments.host, "--port", str(arguments.port)]
    return [sys.executable, "-m", "dashboard", *where]


def _stop_on_signals(stop: threading.Event) -> None:
    for name in (signal.SIGTERM, signal.SIGINT):
        signal.signal(name, lambda *_: stop.set())
