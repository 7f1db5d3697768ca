"""Two beds, or two seasons, beside each other in words: which was cooler, by how much, and how sure that is. Pure."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

from collector.advice.compare import LEAST_DAYS, Difference
from collector.advice.season.beside import Pair
from collector.advice.season.past import Past, Span
from collector.advice.voice import Voice

# What the words in brackets mean; it stands where differences do.
HOW_SURE = (
    "The numbers in brackets hold the true difference four times in five. Days that follow each other are alike, and count for "
    "fewer; with the days of one season, brackets for nineteen times in twenty would be too wide to tell beds apart. It tells "
    "how sure the difference of these days is, and not why they differ."
)
ONE_HARVEST = "One harvest of each tells nothing of chance: by the yield of a single year no bed is the better one."


def names(first: Span, second: Span, voice: Voice) -> tuple[str, str]:
    """What two spans are called beside each other: by their bed, and by their planting too where that is needed."""
    if first.bed.id != second.bed.id and first.planted == second.planted:
        return first.bed.name, second.bed.name
    return span_name(first, voice), span_name(second, voice)


def span_name(span: Span, voice: Voice) -> str:
    """A span by its bed and when it was planted: "Terrace bed, planted 20 October 2025"."""
    if span.planted is not None:
        return f"{span.bed.name}, planted {voice.full_date(span.planted)}"
    return f"{span.bed.name}, from {voice.full_date(span.first)}"


def headline(pair: Pair, voice: Voice) -> str:
    """Which was cooler at the cloves, in a sentence."""
    first, second = names(pair.first.span, pair.second.span, voice)
    found = pair.mean_k
    if found is None:
        return "Which was cooler is not known: they have no day in common of which both tell."
    if found.sure is False:
        return "Which was cooler, these days do not tell."
    mean = voice.warmer_by(abs(found.mean))
    told = f"{first} was {mean} {'warmer' if found.mean >= 0.0 else 'cooler'} at the cloves than {second}."
    return told if found.sure else f"{told} That is by {_days(found.days)}, too few to say how sure it is."


def notes(pair: Pair) -> tuple[str, ...]:
    """What must be known to read the rows, in sentences."""
    said = [HOW_SURE]
    if pair.years:
        apart = abs(pair.years)
        said.append(
            f"The same days of the year are compared, {apart} {'year' if apart == 1 else 'years'} apart. The weather was "
            "another, and its difference is in all of these numbers."
        )
    if pair.first.harvest is not None and pair.second.harvest is not None:
        said.append(ONE_HARVEST)
    return tuple(said)


def rows(pair: Pair, voice: Voice) -> Iterator[tuple[str, str]]:
    """What differs, and by how much: a name, and a line."""
    first, second = pair.first, pair.second
    yield "Mean at the cloves", _difference(pair.mean_k, voice.warmer_by, "warmer", "cooler")
    if first.bed.cool_limit_c != second.bed.cool_limit_c:
        yield "Hours over the limit", "not compared: the beds have limits of their own"
    elif first.bed.cool_limit_c is None:
        yield "Hours over the limit", "not known: no cool limit is set"
    else:
        hours = _difference(pair.over_h, lambda hours: f"{hours:.1f} h", "more", "fewer")
        yield f"Hours a day over {voice.temperature(first.bed.cool_limit_c)}", hours
    yield "Water given", f"{_water(first, voice)} and {_water(second, voice)}"
    if first.rain_mm is not None and second.rain_mm is not None and pair.years:
        yield "Rain caught", f"{voice.water_height(first.rain_mm)} and {voice.water_height(second.rain_mm)}"
    for stage, since_d in first.seen_d.items():
        if stage in second.seen_d:
            yield f"First seen {stage.value}", f"{since_d} and {second.seen_d[stage]} days after planting"
    yield from _harvests(pair, voice)


def _harvests(pair: Pair, voice: Voice) -> Iterator[tuple[str, str]]:
    first, second = pair.first.harvest, pair.second.harvest
    if first is None or second is None:
        yield "Yield", "not weighed" if first is second else "weighed of one of them only"
        return
    yields = (first.yield_kg_m2(pair.first.bed.area_m2), second.yield_kg_m2(pair.second.bed.area_m2))
    if yields[0] is not None and yields[1] is not None:
        yield "Yield", f"{voice.yield_by_area(yields[0])} and {voice.yield_by_area(yields[1])}"
    if first.diameter_mm is not None and second.diameter_mm is not None:
        yield "Width of a usual bulb", f"{voice.width(first.diameter_mm)} and {voice.width(second.diameter_mm)}"
    if first.yield_kg and second.yield_kg and first.bulbs and second.bulbs:
        bulbs_g = (1000.0 * first.yield_kg / first.bulbs, 1000.0 * second.yield_kg / second.bulbs)
        yield "Weight of a usual bulb", f"{voice.mass(bulbs_g[0])} and {voice.mass(bulbs_g[1])}"


def _water(past: Past, voice: Voice) -> str:
    if math.isnan(past.water_mm):
        return "not known (no area is told)"
    return voice.water_height(past.water_mm) + (f" (and {_untold(past.untold)})" if past.untold else "")


def _untold(count: int) -> str:
    return f"{count} {'watering' if count == 1 else 'waterings'} of which no amount was told"


def _difference(found: Difference | None, told: Callable[[float], str], more: str, less: str) -> str:
    if found is None:
        return "not known: no day in common"
    mean = f"{told(abs(found.mean))} {more if found.mean >= 0.0 else less}"
    if math.isnan(found.low):
        return f"{mean}, by {_days(found.days)}: fewer than {LEAST_DAYS}, too few to say how sure that is"
    # The ends are of the same kind as the mean, so that "2 cooler (1 to 3)" needs no signs.
    ends = (found.low, found.high) if found.mean >= 0.0 else (-found.high, -found.low)
    low, high = (f"{'−' if end < 0.0 and told(-end) != told(0.0) else ''}{told(abs(end))}" for end in ends)
    sure = "" if found.sure else "; it may be none"
    return f"{mean} ({low} to {high}{sure}), by {_days(found.days)}, which count as {found.independent:.0f}"


def _days(count: int) -> str:
    return f"{count} {'day' if count == 1 else 'days'}"
