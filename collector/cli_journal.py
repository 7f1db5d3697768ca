"""`cooldepth journal`: the journal read and written from the command line."""

from __future__ import annotations

import argparse
import csv
import json
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from collector import wiring
from collector.advice.voice import voice_of
from collector.errors import CooldepthError, QuestionError
from collector.journal import AMOUNTS, Deed, Entry, moment_ms
from collector.model import Garden
from collector.tables import time_text

if TYPE_CHECKING:
    from collector.advice.season.notebook import Notebook

COLUMNS = ("number", "time_utc", "bed", "deed", "planting", "what", "amounts", "note", "written_utc", "struck_utc", "picture")
DEEDS = {deed.name.lower().replace("_", "-"): deed for deed in Deed}
ACTIONS = ("list", "add", "change", "strike", "history")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The words of the command."""
    parser.add_argument("action", nargs="?", choices=ACTIONS, default="list", help="what to do (list)")
    parser.add_argument("--number", type=int, metavar="N", help="of the entry to change, to strike, or whose history to show")
    parser.add_argument("--bed", metavar="ID", help="id of the bed")
    parser.add_argument("--deed", choices=sorted(DEEDS), help="what was done or seen")
    parser.add_argument("--at", metavar="T", help="when, by the garden's clock: 2026-04-13 or 2026-04-13T07:30 (now)")
    parser.add_argument("--planting", metavar="VARIETY", help="one variety of the bed (all of it)")
    parser.add_argument("--what", metavar="TEXT", help="the product fed, the material laid, the stage seen")
    parser.add_argument(
        "--amount",
        action="append",
        default=[],
        metavar="NAME=NUMBER",
        help="as litres=60, leaves=7, browned=1, n_g_m2=1.5, yield_kg=9.5; may be given again",
    )
    parser.add_argument("--note", metavar="TEXT", help="anything else")
    parser.add_argument("--picture", type=Path, metavar="FILE", help="a picture to keep with it (JPEG, PNG or WebP)")
    parser.add_argument("--yes", action="store_true", help="keep it though something about it is odd")
    parser.add_argument("--json", action="store_true", help="print JSON")
    parser.add_argument("--format", choices=["text", "csv"], default="text", help="how a list is printed (text)")


def journal(arguments: argparse.Namespace) -> int:
    """What was done and seen in the beds: list it, add to it, change it, take it back, see what an entry said before."""
    garden = wiring.read_garden(arguments.garden)
    with wiring.open_notebook(garden) as notebook:
        match arguments.action:
            case "add":
                return _keep(_new(arguments, garden), notebook, garden, arguments)
            case "change":
                changed = _with(notebook.entry(_number(arguments)), arguments, garden)
                return _keep(changed, notebook, garden, arguments)
            case "strike":
                return _show([notebook.strike(_number(arguments))], garden, arguments)
            case "history":
                return _show(notebook.versions(_number(arguments)), garden, arguments)
            case _:
                return _show(notebook.entries(arguments.bed)[::-1], garden, arguments)


def _keep(entry: Entry, notebook: Notebook, garden: Garden, arguments: argparse.Namespace) -> int:
    asked = notebook.ask(entry)
    for question in asked:
        print(f"cooldepth: {question}", file=sys.stderr)
    if asked and not arguments.yes:
        print("cooldepth: nothing was written; with --yes it is kept as it is", file=sys.stderr)
        return 1
    return _show([notebook.write(entry, _picture(arguments.picture))], garden, arguments)


def _picture(path: Path | None) -> bytes | None:
    if path is None:
        return None
    try:
        return path.read_bytes()
    except OSError as error:
        raise CooldepthError(f"--picture {path}: it cannot be read ({error.strerror or error}); nothing was written") from error


def _new(arguments: argparse.Namespace, garden: Garden) -> Entry:
    only = garden.beds[0].id if len(garden.beds) == 1 else None
    bed_id = arguments.bed or only
    if bed_id is None or arguments.deed is None:
        missing = "--deed" if bed_id is not None else "--bed"
        raise CooldepthError(f"{missing} is missing; want cooldepth journal add --bed ID --deed {'|'.join(sorted(DEEDS))}")
    now_ms = wiring.now_ms()
    return _with(Entry(bed_id, DEEDS[arguments.deed], now_ms, now_ms), arguments, garden)


def _with(entry: Entry, arguments: argparse.Namespace, garden: Garden) -> Entry:
    """The entry with what the command tells of it."""
    told: dict[str, Any] = {
        "bed_id": arguments.bed,
        "deed": DEEDS[arguments.deed] if arguments.deed else None,
        "at_ms": None if arguments.at is None else _moment_ms(arguments.at, garden),
        "planting": arguments.planting,
        "what": arguments.what,
        "note": arguments.note,
    }
    amounts = dict(_amount(text) for text in arguments.amount)
    changed = replace(entry, **{name: value for name, value in told.items() if value is not None})
    return replace(changed, amounts={**entry.amounts, **amounts})


def _moment_ms(text: str, garden: Garden) -> int:
    at_ms = moment_ms(text, garden.timezone)
    if at_ms is None:
        raise QuestionError(f"{text!r} is no time; want 2026-04-13 or 2026-04-13T07:30")
    return at_ms


def _amount(text: str) -> tuple[str, float]:
    name, equals, number = text.partition("=")
    known = {name for amounts in AMOUNTS.values() for name in amounts}
    wanted = f"--amount {text!r}: want NAME=NUMBER with one of {', '.join(sorted(known))}"
    if not equals or name not in known:
        raise QuestionError(wanted)
    try:
        return name, float(number)
    except ValueError:
        raise QuestionError(wanted) from None


def _number(arguments: argparse.Namespace) -> int:
    if arguments.number is None:
        raise CooldepthError(f"--number is missing; want cooldepth journal {arguments.action} --number N, as the list tells it")
    return int(arguments.number)


def _show(entries: Sequence[Entry], garden: Garden, arguments: argparse.Namespace) -> int:
    if arguments.json:
        print(json.dumps([_plain(entry) for entry in entries], indent=2, ensure_ascii=False))
    elif arguments.format == "csv":
        table = csv.writer(sys.stdout, lineterminator="\n")
        table.writerow(COLUMNS)
        table.writerows([_cell(value) for value in _plain(entry).values()] for entry in entries)
    else:
        from collector.advice.season.entry_words import entry_words

        voice = voice_of(garden)
        for entry in entries:
            local = voice.local(entry.at_ms)
            struck = "  (taken back)" if entry.struck_ms is not None else ""
            print(f"{entry.number:4}  {local:%Y-%m-%d %H:%M}  {entry.bed_id}: {entry_words(entry, voice)}{struck}")
    return 0


def _plain(entry: Entry) -> dict[str, Any]:
    values = (
        entry.number,
        time_text(entry.at_ms),
        entry.bed_id,
        entry.deed.name.lower().replace("_", "-"),
        entry.planting,
        entry.what,
        dict(entry.amounts),
        entry.note,
        time_text(entry.written_ms),
        None if entry.struck_ms is None else time_text(entry.struck_ms),
        entry.picture,
    )
    return dict(zip(COLUMNS, values, strict=True))


def _cell(value: Any) -> str:
    """A cell of a table; a text that a spreadsheet would take for a formula is led by an apostrophe."""
    if isinstance(value, dict):
        return " ".join(f"{name}={number:g}" for name, number in value.items())
    text = "" if value is None else str(value)
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text
