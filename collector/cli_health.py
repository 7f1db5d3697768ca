"""`cooldepth health`: how the collector is, for whatever watches over it."""

from __future__ import annotations

import argparse
import json

from collector import wiring


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The words of `health`."""
    parser.add_argument("--json", action="store_true", help="print JSON")


def health(arguments: argparse.Namespace) -> int:
    """How the collector is, by what it last left word of; ends with 0 when it is up and readings come in, else with 1."""
    with wiring.open_wellness(arguments.garden) as wellness:
        found = wellness.health()
    print(json.dumps(found.plain(), indent=2) if arguments.json else found.status)
    return 0 if found.well else 1
