"""How far a planting is, in sentences: its stage, what moved it, and what else speaks. Pure."""

from __future__ import annotations

from collections.abc import Iterator

from collector.advice.season.state import PlantingState, SeasonState
from collector.advice.voice import Voice
from collector.crop.chilling import DAY_S
from collector.crop.observed import Mover
from collector.crop.stage import Reason


def headline(one: PlantingState, season: SeasonState, voice: Voice) -> str:
    """The stage in a sentence: "Ember: leaves, by your count of 6 leaves on 12 April."."""
    name = one.planting.variety
    if one.stage is None and not one.in_ground and one.lifted is None:
        return f"{name}: planted {voice.date(one.planted, season.today)}, by the plan."
    if one.stage is None:
        return f"{name}: not known how far; only a look would tell."
    why = " and ".join(_reason(reason, season, voice) for reason in one.stage.moved_by)
    how = "" if one.stage.seen else "likely "
    return f"{name}: {how}{one.stage.stage.value}, by {why}."


def lines(one: PlantingState, season: SeasonState, voice: Voice) -> tuple[str, ...]:
    """What is known of the planting, a sentence each."""
    return tuple(_lines(one, season, voice))


def _lines(one: PlantingState, season: SeasonState, voice: Voice) -> Iterator[str]:
    today = season.today
    if one.planted <= today:
        yield f"In the ground since {voice.date(one.planted, today)}, {(today - one.planted).days} days."
    gathered_d, wanted_d = one.chill.gathered_s / DAY_S, one.chill.wanted_s / DAY_S
    gap_d = one.chill.gap_s / DAY_S
    unknown = f"; of {gap_d:.0f} days it is not known" if gap_d >= 1.5 else ""
    yield f"In the cold for {gathered_d:.0f} days, in store and soil; a {one.planting.kind} wants {wanted_d:.0f}{unknown}."
    if one.heat is None:
        yield "Heat since planting is not known: no thermometer in the air of this garden has spoken."
    else:
        missing_d = one.heat.gap_s / DAY_S
        least = f", at least: {missing_d:.0f} days are missing" if missing_d >= 1.0 else ""
        base = voice.temperature(season.method.heat.base_c.value)
        yield f"Heat since planting: {voice.degree_days(one.heat.sum_k_d)} over {base}{least}."
    definition = season.method.definition.name.lower()
    limit_h = season.method.day.bulbing_h.value
    yield f"The day is {one.day_h:.1f} hours long ({definition}); bulbing wants {limit_h:g}."
    if one.bulbing_expected is not None:
        yield f"Bulbing is expected about {voice.date(one.bulbing_expected, today)}."
    elif one.long_day is None:
        yield f"Days never get {limit_h:g} hours long here: a variety of low latitudes, or another limit of yours, is wanted."
    if one.stage is not None and one.stage.held_by is not None and one.stage.look_again is not None:
        yield (
            f"Heat and light suggest more, but your look of {voice.date(one.stage.held_by.day or today, today)} shows less; "
            f"look again {voice.date(one.stage.look_again, today)}."
        )
    if one.window is not None:
        last = f" to {voice.date(one.window.last, today)}" if one.window.last else ""
        yield f"By your last two counts it may be lifted from {voice.date(one.window.first, today)}{last}."


_WORDS = {
    Mover.PLANTING: "its planting",
    Mover.SAID: "your word",
    Mover.LEAF_COUNT: "your count of {number:.0f} leaves",
    Mover.STEM: "the stem that thickens",
    Mover.SCAPE: "the scape",
    Mover.BULB_TO_NECK: "a bulb {number:.1f} times its neck",
    Mover.BROWNED: "{number:.0f} brown leaves",
    Mover.DAYLENGTH: "days of {number:.1f} hours",
    Mover.HEAT_SUM: "{heat}",
    Mover.DAYS: "{number:.0f} days since planting",
    Mover.DAYS_LIFTED: "{number:.0f} days since the lift",
}
_SEEN = (Mover.SAID, Mover.LEAF_COUNT, Mover.STEM, Mover.SCAPE, Mover.BULB_TO_NECK, Mover.BROWNED, Mover.PLANTING)


def _reason(reason: Reason, season: SeasonState, voice: Voice) -> str:
    words = _WORDS[reason.mover].format(number=reason.number or 0.0, heat=voice.degree_days(reason.number or 0.0))
    if reason.mover in _SEEN and reason.day is not None:
        day = voice.date(reason.day, season.today)
        return f"{words} {day if day in ('today', 'yesterday') else f'on {day}'}"
    return words
