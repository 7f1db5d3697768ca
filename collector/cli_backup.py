"""`cooldepth backup` and `restore`: all that a garden has on disk in one file, and back."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from collector import keepsafe, tables, wiring
from collector.errors import CooldepthError, GardenFileError


def add_backup(parser: argparse.ArgumentParser) -> None:
    """The words of `backup`."""
    parser.add_argument(
        "--out", type=Path, metavar="FILE", help="where to write it (garden-DATE.cooldepth beside the garden file)"
    )
    parser.add_argument("--verify", type=Path, metavar="FILE", help="read a backup through instead, and say whether it is whole")


def add_restore(parser: argparse.ArgumentParser) -> None:
    """The words of `restore`."""
    parser.add_argument("file", type=Path, metavar="FILE", help="the backup")
    parser.add_argument("--overwrite", action="store_true", help="what is there is moved aside")


def backup(arguments: argparse.Namespace) -> int:
    """Copy readings, journal, pictures and garden file into one file, while everything runs, and read it back."""
    if arguments.verify is not None:
        print(f"{arguments.verify}: whole; {_said(keepsafe.verify_backup(arguments.verify))}")
        return 0
    garden = wiring.read_garden(arguments.garden)
    now = tables.time_text(wiring.now_ms())
    out = arguments.out or arguments.garden.with_name(f"{arguments.garden.stem}-{now[:19].replace(':', '')}.cooldepth")
    if not out.parent.is_dir():
        raise CooldepthError(f"{out.parent}: no such folder; is what it lies on there? Make it, or give another with --out")
    told = keepsafe.back_up(garden, arguments.garden, out, now, _progress)
    print(f"{out}: {_said(told)}; read back and whole")
    if garden.store.kind == "influx":
        print(
            "cooldepth: readings that have arrived in InfluxDB are not in it; back those up by InfluxDB's own means",
            file=sys.stderr,
        )
    return 0


def restore(arguments: argparse.Namespace) -> int:
    """Put a backup back: garden file, readings, journal, pictures. Nothing is written over unless that is said."""
    path: Path = arguments.garden
    try:
        store = wiring.read_garden(path).store_path if path.exists() else None
    except GardenFileError as error:
        raise CooldepthError(f"{path} is there and cannot be read; move it away first. {error.problems[0]}") from error
    told = keepsafe.restore_backup(arguments.file, path, store, overwrite=arguments.overwrite, say=_progress)
    print(f"{path}: {_said(told)}; restored")
    return 0


def _progress(sentence: str) -> None:
    print(sentence, file=sys.stderr)


def _said(told: Mapping[str, Any]) -> str:
    rows = told["rows"]
    return f"{rows['reading']} readings and {rows['journal']} journal entries of {told['made_utc'][:19]} UTC"
