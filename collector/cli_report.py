"""`cooldepth report`: a season as one HTML page."""

from __future__ import annotations

import argparse
import datetime as dt
from pathlib import Path

from collector import wiring


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The words of the command."""
    parser.add_argument("--out", type=Path, required=True, metavar="FILE.html", help="where to write it")
    parser.add_argument("--bed", action="append", default=[], metavar="ID", help="only this bed; may be given again (all)")
    parser.add_argument("--from", dest="first", type=_date, metavar="DATE", help="first day (the earliest planting)")
    parser.add_argument("--to", dest="last", type=_date, metavar="DATE", help="last day (the lift, or today)")


def report(arguments: argparse.Namespace) -> int:
    """A season's report as one HTML page that needs nothing else and prints well: temperatures, water, feed, calls, journal."""
    from collector.report_page import page  # the other commands do not draw

    garden = wiring.read_garden(arguments.garden)
    with wiring.open_reporter(garden) as reporter:
        made = reporter.report(arguments.bed, arguments.first, arguments.last)
    arguments.out.write_text(page(made), encoding="utf-8")
    print(f"{arguments.out}: {len(made.beds)} {'bed' if len(made.beds) == 1 else 'beds'}, {made.first} to {made.last}")
    return 0


def _date(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no date; want one as 2026-04-13") from None
