"""`cooldepth calibrate` and `recalibrate`: what the numbers of a probe mean, from when on, and what it said worked out anew."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Mapping

from collector import cli_tables, tables, wiring
from collector.calibration import CONSTANTS, Calibration, Curve, Kind, refuse_impossible, to_plain
from collector.errors import CooldepthError, GardenFileError
from collector.model import Garden, Probe
from collector.units import UNIT_RULES, Quantity

ACTIONS = ("list", "add", "strike")
# Such a curve takes a resistance.
_OF_RESISTANCE = frozenset({Kind.BETA, Kind.PLATINUM, Kind.STEINHART_HART})
# Such a curve tells what the probe is, and not how it was found one day: it holds for all that it ever said.
_OF_ITS_KIND = _OF_RESISTANCE | {Kind.TOPP}


def add_calibrate(parser: argparse.ArgumentParser) -> None:
    """The words of `calibrate`."""
    parser.add_argument("action", nargs="?", choices=ACTIONS, default="list", help="what to do (list)")
    parser.add_argument("--probe", metavar="ID", help="id of the probe")
    parser.add_argument(
        "--curve", choices=[kind.value for kind in Kind], default=Kind.POINTS.value, help="kind of curve (points)"
    )
    parser.add_argument(
        "--point",
        action="append",
        default=[],
        metavar="SENT=TRUE",
        help="what it said and what was true, as 0.4=0 in melting ice; may be given again: one is an offset, more a curve",
    )
    parser.add_argument("--constant", action="append", default=[], metavar="NAME=NUMBER", help=_constants_words())
    parser.add_argument("--takes", metavar="UNIT", help="unit of what it sends, as Ohm, V or count (that of its quantity)")
    parser.add_argument(
        "--per-k", type=float, default=0.0, metavar="N", help="what it sends rises by N for each kelvin of the soil"
    )
    parser.add_argument(
        "--at-c", type=float, default=20.0, metavar="T", help="soil temperature at which the points were taken (20)"
    )
    parser.add_argument("--thermometer", metavar="ID", help="probe that tells the temperature of the soil there")
    parser.add_argument(
        "--from", dest="start", type=cli_tables.time_ms, metavar="T", help="from when on, ISO 8601 (now; a kind of probe: always)"
    )
    parser.add_argument("--note", default="", metavar="TEXT", help="how it was found")
    parser.add_argument("--number", type=int, metavar="N", help="of the calibration to take back")
    parser.add_argument("--json", action="store_true", help="print JSON")


def add_recalibrate(parser: argparse.ArgumentParser) -> None:
    """The words of `recalibrate`."""
    parser.add_argument("--probe", action="append", metavar="ID", help="only this probe; may be given again (all)")
    cli_tables.add_span(parser)


def calibrate(arguments: argparse.Namespace) -> int:
    """What the numbers of probes mean: list it, add a dated calibration, take one back. Nothing that was sent is changed."""
    garden = wiring.read_garden(arguments.garden)
    with wiring.open_season(garden) as season:
        match arguments.action:
            case "add":
                one = season.calibrate(_new(arguments, garden))
                _show([one], arguments)
                _tell_what_follows(one, arguments)
            case "strike":
                if arguments.number is None:
                    raise CooldepthError("--number is missing; `cooldepth calibrate` lists them")
                one = season.strike_calibration(arguments.number, wiring.now_ms())
                _show([one], arguments)
                _tell_what_follows(one, arguments)
            case _:
                _show([one for one in season.calibrations() if arguments.probe in (None, one.probe_id)], arguments)
    return 0


def recalibrate(arguments: argparse.Namespace) -> int:
    """Work out anew what probes sent, by the calibrations that hold now: rollups, estimates and pages follow."""
    garden = wiring.read_garden(arguments.garden)
    probes = [_probe(garden, probe_id, arguments) for probe_id in arguments.probe] if arguments.probe else garden.probes
    unfit = 0
    with wiring.open_replay(garden) as (replay, season):
        waiting = season.to_replay()
        for probe in probes:
            looked_at = changed = 0
            for portion in replay.run(probe.id, arguments.start, arguments.end):
                looked_at, changed, unfit = looked_at + portion.looked_at, changed + portion.changed, unfit + portion.unfit
                print(f"{probe.id}: {looked_at} readings, {changed} changed so far", file=sys.stderr)
            print(f"{probe.id}: {looked_at} readings, {changed} changed")
            if arguments.start <= waiting.get(probe.id, -1) and arguments.end >= tables.ENDS_MS:
                season.replayed(probe.id, waiting[probe.id], None)
    if unfit:
        told = "cannot be what their probe measures, by its calibration; they stay as they were"
        print(f"cooldepth: {unfit} readings {told}", file=sys.stderr)
        return 1
    return 0


def _new(arguments: argparse.Namespace, garden: Garden) -> Calibration:
    if arguments.probe is None:
        raise CooldepthError("--probe is missing; say whose numbers the calibration tells")
    probe, kind, now_ms = _probe(garden, arguments.probe, arguments), Kind(arguments.curve), wiring.now_ms()
    if arguments.thermometer is not None:
        thermometer = _probe(garden, arguments.thermometer, arguments)
        if thermometer.quantity is not Quantity.SOIL_TEMPERATURE:
            raise CooldepthError(
                f"--thermometer {thermometer.id}: it measures {thermometer.quantity.value}; want a soil thermometer"
            )
    curve = Curve(
        kind,
        takes=arguments.takes or ("Ohm" if kind in _OF_RESISTANCE else UNIT_RULES[probe.quantity].unit),
        points=tuple(sorted(_pair(text, "--point") for text in arguments.point)),
        constants=_constants(kind, dict(_named(text) for text in arguments.constant)),
        per_k=arguments.per_k,
        at_c=arguments.at_c,
        thermometer=arguments.thermometer,
    )
    refuse_impossible(curve, probe.quantity)
    start_ms = arguments.start if arguments.start is not None else 0 if kind in _OF_ITS_KIND else now_ms
    return Calibration(probe.id, start_ms, curve, now_ms, arguments.note)


def _constants(kind: Kind, told: Mapping[str, float]) -> tuple[float, ...]:
    wanted = CONSTANTS[kind]
    usual = {"ohm_at_0_c": 100.0, "ohm_at_25_c": 10_000.0}
    if unknown := sorted(told.keys() - set(wanted)):
        raise CooldepthError(f"--constant {unknown[0]}: a curve {kind.value} has {', '.join(wanted) or 'none'}")
    if missing := [name for name in wanted if name not in told and name not in usual]:
        raise CooldepthError(f"--constant {missing[0]}=... is missing for a curve {kind.value}")
    return tuple(told.get(name, usual.get(name, 0.0)) for name in wanted)


def _constants_words() -> str:
    kinds = "; ".join(f"{kind.value} has {', '.join(names)}" for kind, names in CONSTANTS.items() if names)
    return f"a constant of the curve, may be given again: {kinds}"


def _pair(text: str, option: str) -> tuple[float, float]:
    sent, _, true = text.partition("=")
    try:
        return float(sent), float(true)
    except ValueError:
        raise CooldepthError(f"{option} {text!r}: want two numbers, as 0.4=0") from None


def _named(text: str) -> tuple[str, float]:
    name, _, number = text.partition("=")
    try:
        return name, float(number)
    except ValueError:
        raise CooldepthError(f"--constant {text!r}: want a name and a number, as beta_k=3950") from None


def _probe(garden: Garden, probe_id: str, arguments: argparse.Namespace) -> Probe:
    found = next((probe for probe in garden.probes if probe.id == probe_id), None)
    if found is None:
        known = ", ".join(sorted(probe.id for probe in garden.probes)) or "none"
        raise GardenFileError(str(arguments.garden), [f"no probe {probe_id!r}; it has {known}"])
    return found


def _show(several: list[Calibration], arguments: argparse.Namespace) -> None:
    if arguments.json:
        print(json.dumps([_plain(one) for one in several], indent=2))
        return
    for one in several:
        curve = to_plain(one.curve)
        points = ", ".join(f"{sent:g}={true:g}" for sent, true in one.curve.points)
        more = ", ".join(f"{name} {value}" for name, value in curve.items() if name not in ("kind", "points"))
        told = f"{points} ({more})" if points else more
        struck = "" if one.struck_ms is None else f" (taken back {tables.time_text(one.struck_ms)})"
        note = f": {one.note}" if one.note else ""
        print(f"{one.number}  {one.probe_id} from {tables.time_text(one.from_ms)}  {one.curve.kind.value} {told}{note}{struck}")


def _plain(one: Calibration) -> dict[str, object]:
    return {
        "number": one.number,
        "probe": one.probe_id,
        "from_utc": tables.time_text(one.from_ms),
        "curve": to_plain(one.curve),
        "note": one.note,
        "written_utc": tables.time_text(one.written_ms),
        "struck_utc": None if one.struck_ms is None else tables.time_text(one.struck_ms),
    }


def _tell_what_follows(one: Calibration, arguments: argparse.Namespace) -> None:
    since = "" if one.from_ms == 0 else f" --from {tables.time_text(one.from_ms)}"
    print(
        f"cooldepth: a collector that runs works out anew what {one.probe_id} has sent since then; without one, "
        f"do it with: cooldepth recalibrate --garden {arguments.garden} --probe {one.probe_id}{since}",
        file=sys.stderr,
    )
