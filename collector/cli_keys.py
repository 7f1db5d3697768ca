"""`cooldepth keys`: what broker, database, collector and pages know each other by, made where it is missing."""

from __future__ import annotations

import argparse
from pathlib import Path

from collector import wiring
from collector.keys import Keys

# By these a broker is called in docker-compose.yml and on its own computer.
USUAL_HOSTS = ("broker", "localhost", "127.0.0.1")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The words of `keys`."""
    parser.add_argument("--into", type=Path, default=Path("keys"), metavar="FOLDER", help="where they are kept (keys)")
    parser.add_argument(
        "--host",
        action="append",
        default=[],
        metavar="NAME",
        help=f"name or address that boards call the broker by, may be given again (beside {', '.join(USUAL_HOSTS)})",
    )
    parser.add_argument(
        "--stake",
        action="append",
        default=[],
        metavar="NAME",
        help="an account of its own for a stake, which may write below garden/NAME/ alone; may be given again",
    )
    parser.add_argument("--group", type=int, metavar="GID", help="a group that may read them too (only their owner)")
    parser.add_argument("--show", metavar="NAME", help="tell one secret instead: pages, stakes, or the name of a stake")


def keys(arguments: argparse.Namespace) -> int:
    """Make the passwords, tokens and certificates of a garden where they are missing; what is there stays as it is."""
    kept = Keys(arguments.into, wiring.now_ms(), arguments.group)
    if arguments.show is not None:
        print(kept.show(arguments.show))
        return 0
    made = kept.make((*USUAL_HOSTS, *arguments.host), arguments.stake)
    for name in made:
        print(f"made {arguments.into / name}")
    if not made:
        print(f"{arguments.into}: all there")
    return 0
