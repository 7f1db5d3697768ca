"""`cooldepth unclaimed`, `claim` and `mounted`: who speaks without being known, where it is, and whether it sits well."""

from __future__ import annotations

import argparse
import csv
import difflib
import json
import sys

from collector import tables, wiring
from collector.errors import CooldepthError
from collector.units import Quantity

COLUMNS = ("address", "unit", "value", "time_utc", "source", "may_be")


def add_unclaimed(parser: argparse.ArgumentParser) -> None:
    """The words of `unclaimed`."""
    how = parser.add_mutually_exclusive_group()
    how.add_argument("--format", choices=["csv"], default="csv")
    how.add_argument("--json", action="store_true", help="print JSON")
    how.add_argument(
        "--in-hand",
        type=float,
        metavar="S",
        help="close your hand around a thermometer: tells which one moves, as soon as one does, or gives up after S seconds",
    )


def add_claim(parser: argparse.ArgumentParser) -> None:
    """The words of `claim`."""
    parser.add_argument("address", metavar="ADDRESS", help="as `cooldepth unclaimed` tells it, or the pages")
    parser.add_argument("--bed", required=True, metavar="ID", help="id of the bed")
    parser.add_argument("--quantity", choices=[one.value for one in Quantity], help="what it measures (what its unit says)")
    parser.add_argument("--depth-cm", type=float, metavar="D", help="depth below the soil surface, for what is in the soil")
    parser.add_argument("--id", metavar="ID", help="what to call the probe (made of bed, quantity and depth)")


def add_mounted(parser: argparse.ArgumentParser) -> None:
    """The words of `mounted`."""
    parser.add_argument("--bed", metavar="ID", help="only this bed (all)")
    parser.add_argument("--json", action="store_true", help="print JSON")


def unclaimed(arguments: argparse.Namespace) -> int:
    """Addresses that speak and that no probe of the garden file has, each with its last word."""
    from collector.advice.claims import Claims, may_be

    garden = wiring.read_garden(arguments.garden)
    if arguments.in_hand is not None:
        return _in_hand(arguments)
    with wiring.open_readings(garden) as readings:
        found = [
            (one.address, one.unit or "", one.value, tables.time_text(one.measured_ms), one.source, may_be(one.unit))
            for one in Claims(garden, readings, wiring.clock()).strangers()
        ]
    if arguments.json:
        print(json.dumps([dict(zip(COLUMNS, row, strict=True)) for row in found], indent=2))
        return 0
    if not found:
        print("cooldepth: nothing speaks that no probe has", file=sys.stderr)
    table = csv.writer(sys.stdout, lineterminator="\n")
    table.writerow(COLUMNS)
    for address, unit, value, at, source, kinds in found:
        row = (tables.harmless(address), tables.harmless(unit), value, at, tables.harmless(source))
        table.writerow((*row, " or ".join(kinds)))
    return 0


def _in_hand(arguments: argparse.Namespace) -> int:
    """Watch all thermometers until one moves as no other does."""
    clock = wiring.clock()
    since_ms, until_s = clock.now_ms(), clock.elapsed_s() + arguments.in_hand
    with wiring.open_claims(arguments.garden) as claims:
        while True:
            moved, found = claims.in_hand(since_ms)
            if found is not None:
                whose = f"probe {found.probe.id}" if found.probe is not None else "not claimed yet"
                print(f"{found.address}  {found.moved_k:+.1f} K, now {found.last_c:.1f} °C ({whose})")
                return 0
            if clock.elapsed_s() >= until_s:
                break
            clock.sleep(1.0)
    heard = sum(one.words > 0 for one in moved)
    told = (
        "none has spoken meanwhile: wait for as long as they take to speak"
        if not heard
        else f"{heard} spoke, and none moved alone"
    )
    print(f"cooldepth: not found within {arguments.in_hand:g} s; {told}", file=sys.stderr)
    return 1


def claim(arguments: argparse.Namespace) -> int:
    """Give an address to a new probe of a bed: writes it into the garden file, and a collector that runs begins to heed it."""
    from collector.advice.claims import may_be

    garden = wiring.read_garden(arguments.garden)
    with wiring.open_claims(arguments.garden) as claims:
        kinds = [Quantity(arguments.quantity)] if arguments.quantity else []
        heard = [one for one in claims.strangers() if one.address == arguments.address]
        kinds = kinds or [kind for one in heard for kind in may_be(one.unit)]
        if any(probe.address == arguments.address for probe in garden.probes):
            kinds = kinds or list(Quantity)  # it is told whose it is
        if not kinds:
            near = difflib.get_close_matches(arguments.address, [one.address for one in claims.strangers()], 1)
            if near:
                raise CooldepthError(f"{arguments.address} has not been heard; did you mean {near[0]}?")
            raise CooldepthError(
                f"{arguments.address} has not been heard, so its unit does not tell; say what it is with --quantity"
            )
        depth_m = None if arguments.depth_cm is None else arguments.depth_cm / 100
        probe = claims.claim(arguments.address, arguments.bed, kinds[0], depth_m, arguments.id)
    kept = "what it said before counts too" if heard else "it has not been heard yet"
    beside = [
        one.id
        for one in garden.probes
        if (one.bed_id, one.quantity, one.depth_m) == (probe.bed_id, probe.quantity, probe.depth_m) and one.depth_m is not None
    ]
    kept += f"; {beside[0]} is at the same depth, is that meant?" if beside else ""
    print(f"{arguments.garden}: {probe.address} is probe {probe.id} of bed {garden.bed(probe.bed_id).name} now; {kept}")  # type: ignore[union-attr]
    return 0


def mounted(arguments: argparse.Namespace) -> int:
    """Do the probes of a bed sit well? What their first hour tells, and what two days do; ends with 1 where one is odd."""
    from collector.advice import mounted as judged

    garden = wiring.read_garden(arguments.garden)
    beds = [bed for bed in garden.beds if arguments.bed in (None, bed.id)]
    if not beds:
        raise CooldepthError(
            f"--bed {arguments.bed}: the garden file names {', '.join(bed.id for bed in garden.beds) or 'no bed'}"
        )
    with wiring.open_claims(arguments.garden) as claims:
        found = [(bed, look) for bed in beds for look in claims.mounted(bed)]
    rows = [(bed.id, look.probe.id if look.probe else "order", look.how.value, look.words) for bed, look in found]
    if arguments.json:
        print(json.dumps([dict(zip(("bed", "probe", "how", "words"), row, strict=True)) for row in rows], indent=2))
    else:
        for row in rows:
            print("  ".join(row))
        if not rows:
            print("No probes yet. `cooldepth unclaimed` tells what speaks, `cooldepth claim` gives it a place.")
    return 1 if any(look.how is judged.How.ODD for _, look in found) else 0
