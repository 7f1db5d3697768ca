"""A season's report as one HTML page that needs nothing else, and prints well. Pure.

Whatever a grower wrote, names and notes, is text and never markup.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from html import escape

import numpy as np

from collector.advice.season.beside import Pair
from collector.advice.season.beside_words import headline as beside_headline
from collector.advice.season.beside_words import names, notes
from collector.advice.season.beside_words import rows as beside_rows
from collector.advice.season.built import locale_of
from collector.advice.season.entry_words import entry_words
from collector.advice.season.season_words import headline, lines
from collector.advice.voice import Voice, voice_of
from collector.calls import Notice
from collector.model import Bed
from collector.report import BedRecord, Report

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
# The limits by which a report's numbers were judged; those of diseases, the lift and the store speak in calls.
_TOLD_LIMITS = ("chill_", "heat_", "day_", "spring_", "autumn_", "look_", "feed_")
_WIDE, _HIGH, _LEFT, _FOOT = 720, 220, 60, 22


def page(report: Report) -> str:
    """The page."""
    voice = voice_of(report.garden)
    title = f"{report.garden.name}: {voice.full_date(report.first)} to {voice.full_date(report.last)}"
    made = voice.local(report.made_ms)
    invented = ["<p><b>Simulated garden: its readings are invented.</b></p>"] if report.garden.simulated else []
    parts = [
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{escape(title)}</title><style>{_STYLE}</style></head><body>",
        f"<h1>{escape(title)}</h1>",
        f'<p class="note">Made {escape(voice.full_date(made.date()))}. Days count of which three quarters are known.</p>',
        *invented,
        *(part for record in report.beds for part in _bed(record, voice)),
        *_pairs(report.pairs, voice),
        *_limits(report),
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
    known = int(np.isfinite(record.past.mean_c).sum())
    if known:
        yield _course(record, voice)
        yield _rows(_temperatures(record, voice))
    else:
        yield "<p>Not known: no day of these had readings near the cloves.</p>"
    yield "<h3>Water, feed and harvest</h3>"
    yield _rows(_given(record, voice))
    yield from _list("What was told", [(one.raised_ms, _told(one, voice)) for one in record.told], voice)
    yield from _list("Journal", [(one.at_ms, entry_words(one, voice)) for one in record.past.entries], voice)
    yield "</section>"


def _what_it_is(bed: Bed, voice: Voice) -> Iterator[str]:
    for one in bed.plantings:
        plants = f"{one.plants} plants of " if one.plants else ""
        yield f"{plants}{one.variety}, {one.kind}, at {voice.depth(one.depth_m)}, planted {voice.full_date(one.planted)}."
    covers = " and ".join(f"{voice.depth(one.thickness_m)} of {one.material}" for one in bed.covers)
    yield f"Covered with {covers}." if covers else "No cover is told."
    if bed.cool_limit_c is not None:
        yield f"Cool limit {voice.temperature(bed.cool_limit_c)}."


def _stages(record: BedRecord, voice: Voice) -> Iterator[str]:
    season = record.season
    if season.plantings:
        yield f"<h3>How far it is, {escape(voice.full_date(season.today))}</h3>"
    for one in season.plantings:
        yield f"<p><b>{escape(headline(one, season, voice))}</b> {escape(' '.join(lines(one, season, voice)))}</p>"
    seen = [(f"First seen {stage.value}", f"{since_d} days after planting") for stage, since_d in record.past.seen_d.items()]
    if seen:
        yield _rows(seen)


def _temperatures(record: BedRecord, voice: Voice) -> Iterator[tuple[str, str]]:
    known = np.isfinite(record.past.mean_c)
    days = [day for day, there in zip(record.past.days, known, strict=True) if there]
    means_c = record.past.mean_c[known]
    warmest = int(means_c.argmax())
    yield "Days known", f"{known.sum()} of {len(record.past.days)}"
    yield "Mean of all days", voice.temperature(float(means_c.mean()))
    yield "Warmest day", f"{voice.temperature(float(means_c[warmest]))}, {voice.full_date(days[warmest])}"
    if record.bed.cool_limit_c is not None:
        over = means_c > record.bed.cool_limit_c
        yield "Days over the cool limit", f"{over.sum()}"
        yield "Hours over the cool limit", f"{np.nansum(record.past.over_h):.0f}"


def _given(record: BedRecord, voice: Voice) -> Iterator[tuple[str, str]]:
    past = record.past
    untold = f", and {past.untold} waterings of which no amount was told" if past.untold else ""
    litres = past.water_mm * past.bed.area_m2
    if math.isnan(litres):
        yield "Water given by the journal", "not known: the bed's area is not told"
    else:
        yield "Water given by the journal", f"{voice.water(litres)}, {voice.water_height(past.water_mm)}{untold}"
    if past.rain_mm is not None:
        yield "Rain caught by the gauge", voice.water_height(past.rain_mm)
    feed = record.season.feed
    yield "Feedings", f"{len(feed.given)}"
    yield "Nitrogen, with that at planting", voice.nitrogen(feed.stand.season_g_m2)
    harvest = past.harvest
    if harvest is None or harvest.yield_kg is None:
        yield "Yield", "not weighed"
    else:
        by_area = harvest.yield_kg_m2(past.bed.area_m2)
        yield "Yield", voice.mass(1000.0 * harvest.yield_kg) + (f", {voice.yield_by_area(by_area)}" if by_area else "")
    if harvest is not None and harvest.bulbs is not None:
        yield "Bulbs", f"{harvest.bulbs}"
    if harvest is not None and harvest.diameter_mm is not None:
        yield "Width of a usual bulb", voice.width(harvest.diameter_mm)


def _list(title: str, lines: Iterable[tuple[int, str]], voice: Voice) -> Iterator[str]:
    rows = list(lines)
    yield f"<h3>{escape(title)}</h3>"
    if not rows:
        yield "<p>Nothing.</p>"
        return
    yield _rows((f"{voice.full_date(voice.local(at_ms).date())} {voice.clock(at_ms)}", text) for at_ms, text in rows)


def _told(notice: Notice, voice: Voice) -> str:
    """A call, and until when it stood."""
    if notice.cleared_ms is None:
        return f"{notice.title} Still stands."
    return f"{notice.title} Over {voice.full_date(voice.local(notice.cleared_ms).date())} {voice.clock(notice.cleared_ms)}."


def _rows(rows: Iterable[tuple[str, str]]) -> str:
    cells = "".join(f"<tr><th>{escape(name)}</th><td>{escape(value)}</td></tr>" for name, value in rows)
    return f"<table>{cells}</table>"


# ---------------------------------------------------------------- the course of a season, drawn


def _course(record: BedRecord, voice: Voice) -> str:
    """Daily means at the cloves against the limit; a line ends where days are not known."""
    limit_c, means_c = record.bed.cool_limit_c, record.past.mean_c
    low_c = min(float(np.nanmin(means_c)), limit_c if limit_c is not None else math.inf) - 1.0
    high_c = max(float(np.nanmax(means_c)), limit_c if limit_c is not None else -math.inf) + 1.0
    days = max(len(record.past.days) - 1, 1)

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
    for day, date in enumerate(record.past.days):
        if date.day == 1:
            marks.append(f'<path d="M{x(day):.1f} {_HIGH - _FOOT}v5" stroke="#17120e"/>')
            marks.append(f'<text x="{x(day) + 2:.1f}" y="{_HIGH - 4}" font-size="12">{date:%b}</text>')
    said = f"Daily means at the cloves, {voice.temperature(low_c + 1.0)} to {voice.temperature(high_c - 1.0)}"
    return (
        f'<svg viewBox="0 0 {_WIDE} {_HIGH}" role="img" aria-label="{escape(said)}">'
        f'<path d="{line}" fill="none" stroke="#6b2f55" stroke-width="2"/>{"".join(marks)}</svg>'
    )


# ---------------------------------------------------------------- beds beside each other, and the limits


def _pairs(pairs: Sequence[Pair], voice: Voice) -> Iterator[str]:
    if not pairs:
        return
    yield "<section><h2>Beds beside each other</h2>"
    yield "<p>How much more the first has than the second, in the mean of the days that are known of both.</p>"
    for pair in pairs:
        yield f"<h3>{escape(' and '.join(names(pair.first.span, pair.second.span, voice)))}</h3>"
        yield f"<p>{escape(beside_headline(pair, voice))}</p>"
        yield _rows(beside_rows(pair, voice))
    for note in dict.fromkeys(note for pair in pairs for note in notes(pair)):
        yield f'<p class="note">{escape(note)}</p>'
    yield "</section>"


def _limits(report: Report) -> Iterator[str]:
    """What the numbers above were judged by, and who says so."""
    method = locale_of(report.garden).method
    told = [(name, limit) for name, limit in method.named().items() if name.startswith(_TOLD_LIMITS)]
    yield "<section><h2>By which limits</h2>"
    yield (
        '<p class="note">By their names and units in the garden file, where each may be set. Weak means that those who grow '
        "and those who measure do not agree, or that nobody has measured it where you grow.</p>"
    )
    yield _rows((name, f"{limit.value:g} {limit.unit}; {limit.evidence.value}: {limit.source}") for name, limit in told)
    yield "</section>"
