"""The `cooldepth` command: words in, exit status out.

0 is success, 1 a failure that is explained, 2 a call or a garden file that cannot be used.
Only the modules `cli…` print. What one command alone needs is loaded by that command: the collector starts without it.
"""

from __future__ import annotations

import argparse
import getpass
import os
import socket
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from collector import (
    cli_backup,
    cli_calibrate,
    cli_check,
    cli_claim,
    cli_health,
    cli_keys,
    cli_report,
    cli_run,
    cli_tables,
    log_format,
)
from collector.cli_journal import add_arguments, journal
from collector.errors import CooldepthError, GardenFileError

Command = Callable[[argparse.Namespace], int]

# Ten simulated minutes in four seconds: a day in about ten minutes, the first call within two.
DEMO_SPEED = 150.0
PASSWORD_LENGTH = 10


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; answers its exit status."""
    arguments = _parser().parse_args(argv)
    log_format.begin(os.environ)
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


# ---------------------------------------------------------------- the commands


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

    _add_address(add("run", cli_run.run, "--garden garden.toml"))
    add("collect", cli_run.collect, "--garden garden.toml")
    _add_address(add("serve", cli_run.serve, "--garden garden.toml --port 8050"))

    new = add("check", cli_check.check, "--garden garden.toml")
    cli_check.add_arguments(new)
    _add_address(new)  # of the pages of the service that it writes

    cli_health.add_arguments(add("health", cli_health.health, "--garden garden.toml"))

    cli_tables.add_commands(add)
    cli_claim.add_unclaimed(add("unclaimed", cli_claim.unclaimed, "--garden garden.toml"))
    cli_claim.add_claim(add("claim", cli_claim.claim, "urn:dev:ow:28a1b2c3d4e5f607 --bed terrace --depth-cm 12"))
    cli_claim.add_mounted(add("mounted", cli_claim.mounted, "--garden garden.toml --bed terrace"))
    example = "add --garden garden.toml --probe terrace-t12 --point 0.4=0 --note 'melting ice'"
    cli_calibrate.add_calibrate(add("calibrate", cli_calibrate.calibrate, example))
    cli_calibrate.add_recalibrate(add("recalibrate", cli_calibrate.recalibrate, "--garden garden.toml --probe terrace-t12"))
    cli_report.add_arguments(add("report", cli_report.report, "--garden garden.toml --out season.html"))
    add_arguments(add("journal", journal, "add --garden garden.toml --bed terrace --deed watered --amount litres=60"))

    cli_backup.add_backup(add("backup", cli_backup.backup, "--garden garden.toml --out /media/stick/garden.cooldepth"))
    cli_backup.add_restore(add("restore", cli_backup.restore, "/media/stick/garden.cooldepth --garden garden.toml"))

    cli_keys.add_arguments(add("keys", cli_keys.keys, "--into keys --host garden.local --stake gate", garden=False))

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
