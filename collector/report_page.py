"""A season's report as one HTML page that needs nothing else, and prints well. Pure.

Whatever a grower wrote, names and notes, is text and never markup.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Iterable, Iterator
from html import escape

import numpy as np

from collector.advice.compare import Difference
from collector.advice.season.entry_words import entry_words
from collector.advice.voice import Voice, voice_of
from collector.model import Bed
from collector.report import BedRecord, Pair, Report
from collector.units import UnitSystem

_STYLE = """
:root { color-scheme: light; }
body { max-width: 46rem; margin: 2rem auto; padding: 0 1rem; color: #17120e; background: #fff;
  font: 15px/1.45 Overpass, "Segoe UI", Roboto, "Noto Sans", system-ui, sans-serif; }
h1 { font-size: 26px; margin: 0 0 4px; } h2 { font-size: 20px; margin: 28px 0 6px; } h3 { font-size: 16px; margin: 16px 0 4px; }
table { border-collapse: collapse; width: 100%; } th, td { text-align: left; padding: 3px 10px 3px 0; vertical-align: top; }
th { width: 42%; }
tr + tr th, tr + tr td { border-top: 1px solid #a79d8f; } td.number { font-variant-numeric: tabular-nums; white-space: nowrap; }
.note { color: #4b4239; font-size: 13px; } svg { width: 100%; height: auto; margin: 6px 0; }
section { break-before: page; } section:first-of-type { break-before: auto; }
tr, svg, h2, h3 { break-inside: avoid; } h2, h3 { break-after: avoid; }
@page { margin: 18mm 16mm; } @media print { body { margin: 0; max-width: none; padding: 0; } }
"""
_WIDE, _HIGH, _LEFT, _FOOT = 720, 220, 60, 22


def page(report: Report) -> str:
    """The page."""
    voice = voice_of(report.garden)
    title = f"{report.garden.name}: {_long(report.first, voice)} to {_long(report.last, voice)}"
    made = voice.local(report.made_ms)
    invented = ["<p><b>Simulated garden: its readings are invented.</b></p>"] if report.garden.simulated else []
    parts = [
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{escape(title)}</title><style>{_STYLE}</style></head><body>",
        f"<h1>{escape(title)}</h1>",
        f'<p class="note">Made {escape(_long(made.date(), voice))}. Days count of which three quarters are known.</p>',
        *invented,
        *(part for record in report.beds for part in _bed(record, voice)),
        *_pairs(report.pairs, voice),
        "</body></html>\n",
    ]
    return "\n".join(parts)


# ---------------------------------------------------------------- a bed


def _bed(record: BedRecord, voice: Voice) -> Iterator[str]:
    bed = record.bed
    yield f"<section><h2>{escape(bed.name)}</h2>"
    yield f"<p>{escape(' '.join(_what_it_is(bed, voice)))}</p>"
    yield from _stages(record, voice)
    yield "<h3>At the cloves</h3>"
    known = int(np.isfinite(record.mean_c).sum())
    if known:
        yield _course(record, voice)
        yield _rows(_temperatures(record, voice))
    else:
        yield "<p>Not known: no day of these had readings near the cloves.</p>"
    yield "<h3>Water, feed and harvest</h3>"
    yield _rows(_given(record, voice))
    yield from _list("What was told", [(one.raised_ms, one.title) for one in record.told], voice)
    yield from _list("Journal", [(one.at_ms, entry_words(one, voice)) for one in record.entries], voice)
    yield "</section>"


def _what_it_is(bed: Bed, voice: Voice) -> Iterator[str]:
    for one in bed.plantings:
        plants = f"{one.plants} plants of " if one.plants else ""
        yield f"{plants}{one.variety}, {one.kind}, at {voice.depth(one.depth_m)}, planted {_long(one.planted, voice)}."
    covers = " and ".join(f"{voice.depth(one.thickness_m)} of {one.material}" for one in bed.covers)
    yield f"Covered with {covers}." if covers else "No cover is told."
    if bed.cool_limit_c is not None:
        yield f"Cool limit {voice.temperature(bed.cool_limit_c)}."


def _stages(record: BedRecord, voice: Voice) -> Iterator[str]:
    lines = []
    for one in record.season.plantings:
        if one.stage is None:
            lines.append(f"{one.planting.variety}: not known how far.")
            continue
        how = "as you saw" if one.stage.seen else "as heat, light and days suggest"
        why = ", ".join(
            f"{reason.mover.value}{f' {reason.number:.0f}' if reason.number is not None else ''}" for reason in one.stage.moved_by
        )
        lines.append(f"{one.planting.variety}: {one.stage.stage.value}, {how} ({why}).")
    if lines:
        yield f"<h3>How far it is, {escape(_long(record.season.today, voice))}</h3>"
        yield "".join(f"<p>{escape(line)}</p>" for line in lines)


def _temperatures(record: BedRecord, voice: Voice) -> Iterator[tuple[str, str]]:
    known = np.isfinite(record.mean_c)
    days = [day for day, there in zip(record.days, known, strict=True) if there]
    means_c = record.mean_c[known]
    warmest = int(means_c.argmax())
    yield "Days known", f"{known.sum()} of {len(record.days)}"
    yield "Mean of all days", voice.temperature(float(means_c.mean()))
    yield "Warmest day", f"{voice.temperature(float(means_c[warmest]))}, {_long(days[warmest], voice)}"
    if record.bed.cool_limit_c is not None:
        over = means_c > record.bed.cool_limit_c
        yield "Days over the cool limit", f"{over.sum()}"
        yield "Hours over the cool limit", f"{np.nansum(record.over_h):.0f}"


def _given(record: BedRecord, voice: Voice) -> Iterator[tuple[str, str]]:
    untold = f", and {record.untold} waterings of which no amount was told" if record.untold else ""
    litres = record.water_mm * record.bed.area_m2
    if math.isnan(litres):
        yield "Water given by the journal", "not known: the bed's area is not told"
    else:
        yield "Water given by the journal", f"{voice.water(litres)}{untold}"
    feed = record.season.feed
    yield "Feedings", f"{len(feed.given)}"
    yield "Nitrogen, with that at planting", voice.nitrogen(feed.stand.season_g_m2)
    if record.yield_kg_m2 is None or math.isnan(record.yield_kg_m2):
        yield "Yield", "not weighed"
    else:
        yield "Yield", voice.mass(1000.0 * record.yield_kg_m2 * record.bed.area_m2)
    if record.diameter_mm is not None:
        yield "Width of a usual bulb", voice.width(record.diameter_mm)


def _list(title: str, lines: Iterable[tuple[int, str]], voice: Voice) -> Iterator[str]:
    rows = list(lines)
    yield f"<h3>{escape(title)}</h3>"
    if not rows:
        yield "<p>Nothing.</p>"
        return
    yield _rows((f"{_long(voice.local(at_ms).date(), voice)} {voice.clock(at_ms)}", text) for at_ms, text in rows)


def _rows(rows: Iterable[tuple[str, str]]) -> str:
    cells = "".join(f"<tr><th>{escape(name)}</th><td>{escape(value)}</td></tr>" for name, value in rows)
    return f"<table>{cells}</table>"


# ---------------------------------------------------------------- the course of a season, drawn


def _course(record: BedRecord, voice: Voice) -> str:
    """Daily means at the cloves against the limit; a line ends where days are not known."""
    limit_c, means_c = record.bed.cool_limit_c, record.mean_c
    low_c = min(float(np.nanmin(means_c)), limit_c if limit_c is not None else math.inf) - 1.0
    high_c = max(float(np.nanmax(means_c)), limit_c if limit_c is not None else -math.inf) + 1.0
    days = max(len(record.days) - 1, 1)

    def x(day: int) -> float:
        return _LEFT + (_WIDE - _LEFT - 8) * day / days

    def y(value_c: float) -> float:
        return 8 + (_HIGH - _FOOT - 8) * (high_c - value_c) / (high_c - low_c)

    pieces, piece = [], ""
    for day, mean_c in enumerate(means_c.tolist()):
        if math.isnan(mean_c):
            pieces.append(piece)
            piece = ""
        else:
            piece += f"{'L' if piece else 'M'}{x(day):.1f} {y(mean_c):.1f}"
    line = "".join([*pieces, piece])
    marks = [
        f'<text x="0" y="{y(value_c) + 4:.1f}" font-size="12">{escape(voice.temperature(value_c))}</text>'
        for value_c in (low_c + 1.0, high_c - 1.0)
    ]
    if limit_c is not None:
        marks.append(
            f'<path d="M{_LEFT} {y(limit_c):.1f}H{_WIDE - 8}" stroke="#17120e" stroke-dasharray="6 4" fill="none"/>'
            f'<text x="{_WIDE - 8}" y="{y(limit_c) - 4:.1f}" font-size="12" text-anchor="end">your limit</text>'
        )
    for day, date in enumerate(record.days):
        if date.day == 1:
            marks.append(f'<path d="M{x(day):.1f} {_HIGH - _FOOT}v5" stroke="#17120e"/>')
            marks.append(f'<text x="{x(day) + 2:.1f}" y="{_HIGH - 4}" font-size="12">{date:%b}</text>')
    said = f"Daily means at the cloves, {voice.temperature(low_c + 1.0)} to {voice.temperature(high_c - 1.0)}"
    return (
        f'<svg viewBox="0 0 {_WIDE} {_HIGH}" role="img" aria-label="{escape(said)}">'
        f'<path d="{line}" fill="none" stroke="#6b2f55" stroke-width="2"/>{"".join(marks)}</svg>'
    )


# ---------------------------------------------------------------- beds beside each other


def _pairs(pairs: Iterable[Pair], voice: Voice) -> Iterator[str]:
    all_pairs = list(pairs)
    if not all_pairs:
        return
    yield "<section><h2>Beds beside each other</h2>"
    yield (
        '<p class="note">How much more the first has than the second, in the mean of the days known of both, with the interval '
        "that holds the true difference four times in five. Days that follow each other are alike, and count for fewer. "
        "It tells how sure the difference of these beds in this season is, and not why. One harvest of each tells nothing "
        "of chance.</p>"
    )
    for pair in all_pairs:
        yield f"<h3>{escape(pair.first.bed.name)} and {escape(pair.second.bed.name)}</h3>"
        yield _rows(_beside(pair, voice))
    yield "</section>"


def _beside(pair: Pair, voice: Voice) -> Iterator[tuple[str, str]]:
    yield "Mean at the cloves", _difference(pair.mean_k, voice.warmer_by, "warmer", "cooler")
    if pair.first.bed.cool_limit_c != pair.second.bed.cool_limit_c:
        yield "Hours over the limit", "not compared: the beds have limits of their own"
    else:
        yield "Hours a day over the limit", _difference(pair.over_h, lambda hours: f"{hours:.1f}", "more", "fewer")
    first, second = pair.first, pair.second
    if not math.isnan(first.water_mm + second.water_mm):
        yield "Water given", f"{_height(first.water_mm, voice)} and {_height(second.water_mm, voice)}"
    if first.yield_kg_m2 is not None and second.yield_kg_m2 is not None:
        yield "Yield by area", f"{_by_area(first.yield_kg_m2, voice)} and {_by_area(second.yield_kg_m2, voice)}"
    if first.diameter_mm is not None and second.diameter_mm is not None:
        yield "Width of a usual bulb", f"{voice.width(first.diameter_mm)} and {voice.width(second.diameter_mm)}"


def _difference(found: Difference | None, told: Callable[[float], str], more: str, less: str) -> str:
    if found is None:
        return "not known: no day in common"
    mean = f"{told(abs(found.mean))} {more if found.mean >= 0 else less}"
    if math.isnan(found.low):
        return f"{mean}, by {found.days} days: too few to say how sure that is"
    low, high = (f"{'+' if end >= 0 else '−'}{told(abs(end))}" for end in (found.low, found.high))
    sure = "" if found.sure else "; it may be none"
    return f"{mean} ({low} to {high}{sure}), by {found.days} days, worth {found.independent:.0f}"


def _height(water_mm: float, voice: Voice) -> str:
    return f"{water_mm / 25.4:.1f} in" if voice.units is UnitSystem.US else f"{water_mm:.0f} litres a square metre"


def _by_area(kg_m2: float, voice: Voice) -> str:
    return f"{kg_m2 / 0.45359237 * 0.3048**2:.2f} lb/ft²" if voice.units is UnitSystem.US else f"{kg_m2:.2f} kg/m²"


def _long(day: dt.date, voice: Voice) -> str:
    month = f"{day:%B}"
    return f"{month} {day.day}, {day.year}" if voice.units is UnitSystem.US else f"{day.day} {month} {day.year}"
