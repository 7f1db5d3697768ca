"""`cooldepth check`: is the garden file sound, can everything it names be reached, and a service that runs it."""

from __future__ import annotations

import argparse
import getpass
import json
import shutil
import subprocess
import sys
from pathlib import Path

from collector import reach, service, wiring
from collector.errors import CooldepthError
from collector.service import Scope


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The words of `check`."""
    parser.add_argument("--json", action="store_true", help="print JSON")
    parser.add_argument(
        "--systemd",
        choices=[one.value for one in Scope],
        help="write a service instead that runs it from the computer's start on",
    )
    parser.add_argument("--into", type=Path, default=Path(), metavar="FOLDER", help="where to write the service (this folder)")
    parser.add_argument("--run-as", default=None, metavar="USER", help="who the computer's service runs as (you)")


def check(arguments: argparse.Namespace) -> int:
    """Is the garden file sound, and can everything it names be reached?"""
    if arguments.systemd is not None:
        return _write_service(arguments)
    garden = wiring.read_garden(arguments.garden, secrets=True)
    # A source says that it tries again: a check does not, it ends here.
    reached = [(what, trouble and trouble.removesuffix("; trying again")) for what, trouble in reach.reach(garden)]
    found = [("garden file " + str(arguments.garden), None), *reached]
    if arguments.json:
        print(json.dumps([{"what": what, "well": trouble is None, "trouble": trouble} for what, trouble in found], indent=2))
    else:
        for what, trouble in found:
            print(f"{what}: {trouble or 'well'}")
    return 0 if all(trouble is None for _, trouble in found) else 1


def _write_service(arguments: argparse.Namespace) -> int:
    garden, scope = wiring.read_garden(arguments.garden), Scope(arguments.systemd)
    user = arguments.run_as or getpass.getuser()
    if scope is Scope.SYSTEM and user == "root":
        raise CooldepthError("the service needs no root; name another user, who owns the folder of the store, with --run-as")
    written = (arguments.into / service.NAME).absolute()
    text = service.unit(
        scope,
        garden,
        arguments.garden.absolute(),
        _program(),
        user=user,
        listen=["--host", arguments.host, "--port", str(arguments.port)],
    )
    try:
        written.write_text(text, encoding="utf-8")
    except OSError as error:
        raise CooldepthError(f"{written} cannot be written: {error.strerror}; give another folder with --into") from error
    print(f"wrote {written}")
    verified = _verified(scope, written)
    print(service.what_next(scope, written))
    return verified


def _program() -> list[str]:
    """How this very program is called."""
    beside = Path(sys.executable).with_name("cooldepth")
    return [str(beside)] if beside.exists() else [sys.executable, "-m", "collector"]


def _verified(scope: Scope, written: Path) -> int:
    """Let systemd read it, where there is one."""
    analyze = shutil.which("systemd-analyze")
    if analyze is None:
        print("systemd-analyze is not here, so it was not verified")
        return 0
    words = ["--user"] if scope is Scope.USER else []
    done = subprocess.run([analyze, "verify", *words, str(written)], capture_output=True, text=True, check=False)
    said = [line for line in (done.stdout + done.stderr).splitlines() if service.NAME in line]
    for line in said:
        print(f"systemd-analyze: {line}", file=sys.stderr)
    print(f"systemd-analyze finds it {'sound' if not said else 'wanting, see above'}")
    return 1 if said else 0
