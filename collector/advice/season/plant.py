"""May the cloves be planted: chilled enough, and the soil cool enough. Pure."""

from __future__ import annotations

import math

from collector.advice.season.state import PlantingState, SeasonState
from collector.advice.state import DAY_MS, BedState
from collector.advice.verdict import Verdict
from collector.advice.voice import Voice
from collector.advice.what_if_words import planting_words
from collector.advice.words import Words
from collector.calls import Call, Due, Evidence
from collector.crop.chilling import DAY_S, StockRisk, stock_risk

EVIDENCE = Evidence.WEAK
SOURCE = (
    "Chilling at 0 to 10 °C for four to eight weeks, hardnecks longer: from memory, growers' pages agree, no primary source; in "
    "growth rooms 4 to 16 °C for 20 to 60 days worked, colder and longer better (del Pozo & González 2005, abstract). Soil of "
    "10 °C at planting: growers' pages (weak); a page of Texas A&M lets it be planted below 29 °C."
)
DONE_LASTS_MS = 30 * DAY_MS
# The plan is worth a look from so many days before it on. Common practice, no source.
AHEAD_D = 21
NEAR_D = 3


def judge(state: BedState, latched: Due | None) -> Verdict:
    """May the cloves be planted; `latched` keeps a call that was told through a warmer day.

    Source: see SOURCE.
    """
    season = state.season
    waiting = () if season is None else tuple(one for one in season.plantings if not one.in_ground and one.lifted is None)
    if season is None or not waiting:
        return Verdict(Due.FINE, "nothing to plant")
    first = min(waiting, key=lambda one: one.planted)
    ahead_d = (first.planted - season.today).days
    if ahead_d > AHEAD_D:
        return Verdict(Due.FINE, "not yet time")
    numbers = _numbers(first, season)
    about = season.named(waiting)
    near = 0 < ahead_d <= NEAR_D  # worth a word before the cloves are in the wrong soil
    chilled = numbers["gathered_d"] >= numbers["wanted_d"]
    if first.chill.gap_s > 0.0 and not chilled:
        return Verdict(Due.NOT_KNOWN, "store not known", numbers, about=about)
    if not chilled:
        return Verdict(Due.SOON, "not chilled enough", numbers, tell=near, about=about)
    if first.soil_c is None:
        return Verdict(Due.NOT_KNOWN, "soil not known", numbers, about=about)
    if first.cool_day == season.today or (latched is Due.DUE and first.soil_c <= numbers["limit_c"] + 1.0):
        return Verdict(Due.DUE, "cool enough", numbers, tell=True, about=about)
    if first.cool_day is not None:
        return Verdict(Due.SOON, "cool enough soon", numbers, about=about)
    return Verdict(Due.SOON, "soil is warm", numbers, tell=near, about=about)


def words(call: Call, state: BedState, voice: Voice) -> Words:
    """The call in words."""
    numbers, season = call.numbers, state.season
    what = call.about or "the cloves"
    assert season is not None
    first = min((one for one in season.plantings if not one.in_ground), key=lambda one: one.planted, default=season.plantings[0])
    missing_d = math.ceil(numbers.get("wanted_d", 0.0) - numbers.get("gathered_d", 0.0))
    soil = voice.temperature(numbers["soil_c"]) if "soil_c" in numbers else ""
    limit = voice.temperature(numbers["limit_c"]) if "limit_c" in numbers else ""
    heading, button = f"Wait with planting {what}", "Planted"
    match call.reason:
        case "cool enough":
            heading = f"Plant {what}"
            sentence = f"The cloves are chilled, and the soil at {voice.depth(first.planting.depth_m)} averages {soil}."
        case "cool enough soon":
            day = voice.date(first.cool_day, season.today) if first.cool_day else "soon"
            sentence = (
                f"The soil at {voice.depth(first.planting.depth_m)} averages {soil} "
                f"and is foreseen at {limit} or less from {day} on."
            )
        case "soil is warm":
            sentence = (
                f"The soil at {voice.depth(first.planting.depth_m)} averages {soil}, and no day at {limit} or less is in sight."
            )
        case "not chilled enough":
            sentence = f"The cloves lack {missing_d} days of cold."
        case "store not known":
            heading, button = "Planting: not known", "Planted"
            sentence = (
                "How cold the cloves lie was not told: give chilled_at_c in the garden file, or put a thermometer beside them."
            )
        case _:
            heading, button = "Planting: not known", "Planted"
            sentence = f"No thermometer tells the soil at {voice.depth(first.planting.depth_m)}."
    return Words(
        heading=heading,
        sentence=sentence,
        button=button,
        done="It is planted.",
        why=(*_why(call, first, season, voice), *planting_words(state.outlook, voice)),
        rule=(
            f"Planting is due when the cloves had {numbers.get('wanted_d', 0.0):.0f} days in the cold, "
            "and the soil at their depth "
            f"averages {limit or 'your limit'} or less for some days."
        ),
        would_change="Other limits of yours under [limits] in the garden file would.",
        above_ground=False,
        depth_m=first.planting.depth_m,
    )


def _numbers(one: PlantingState, season: SeasonState) -> dict[str, float]:
    numbers = {
        "gathered_d": one.chill.gathered_s / DAY_S,
        "wanted_d": one.chill.wanted_s / DAY_S,
        "limit_c": season.method.plant.soil_c.value,
    }
    return numbers | ({} if one.soil_c is None else {"soil_c": one.soil_c})


def _why(call: Call, one: PlantingState, season: SeasonState, voice: Voice) -> tuple[str, ...]:
    numbers = call.numbers
    lines = [f"By the garden file it is planted {voice.date(one.planting.planted, season.today)}."]
    if "gathered_d" in numbers:
        cold, warm = (voice.temperature(limit.value) for limit in (season.method.chill.cold_c, season.method.chill.warm_c))
        lines.append(
            f"In the cold, {cold} to {warm}: {numbers['gathered_d']:.0f} days so far; "
            f"a {one.planting.kind} wants {numbers['wanted_d']:.0f}."
        )
    at_c = one.planting.chilled_at_c
    if at_c is not None and stock_risk(at_c, season.method.chill) is StockRisk.TOO_COLD:
        low = voice.temperature(season.method.chill.stock_cold_c.value)
        lines.append(
            f"USDA Handbook 66 warns of planting stock below {low}: rough bulbs and side shoots. "
            "Yet 4 °C is among the treatments "
            "that made garlic bulb best (del Pozo & González 2005): the sources part here."
        )
    if at_c is not None and stock_risk(at_c, season.method.chill) is StockRisk.TOO_WARM:
        high = voice.temperature(season.method.chill.stock_warm_c.value)
        lines.append(f"USDA Handbook 66 warns of planting stock above {high}: it sprouts and ripens late.")
    return tuple(lines)
