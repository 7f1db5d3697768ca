"""What a page about feed tells of a bed: the next feeding, how much of what, what was given, and the cautions. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from collector.advice.season.feed import products
from collector.advice.season.state import FeedState, SeasonState
from collector.advice.state import BedState
from collector.advice.voice import Voice
from collector.crop.cautions import FEEDING


@dataclass(frozen=True, slots=True)
class FeedView:
    """The feeding of one bed in words; `share` is what was given of the season's usual upper end [ratio], as `ends` tells it.

    `products` are how much of each product the next feeding takes and how to mix it, empty where none is to come.
    """

    heading: str
    products: tuple[str, ...]
    plan: tuple[str, ...]
    given: str
    ends: str
    share: float
    from_share: float  # where the usual range begins, on the same scale
    cautions: tuple[str, ...]


def feed_view(state: BedState, voice: Voice) -> FeedView | None:
    """The feeding of a bed; None where its season is not worked out, or nothing is planted."""
    season = state.season
    if season is None or not season.plantings:
        return None
    feed, limits = season.feed, season.method.feed
    most, least = limits.season_most_g_m2.value, limits.season_least_g_m2.value
    return FeedView(
        heading=_heading(feed, season, voice),
        products=products(state, voice) if feed.next_day is not None else (),
        plan=_plan(feed, season, voice),
        given=f"{voice.nitrogen(feed.stand.season_g_m2)} of nitrogen so far, with that at planting.",
        ends=f"A season usually takes {voice.nitrogen(least)} to {voice.nitrogen(most)} ({limits.season_most_g_m2.source}).",
        share=feed.stand.season_g_m2 / most,
        from_share=least / most,
        cautions=tuple(caution.text for caution in FEEDING),
    )


def _heading(feed: FeedState, season: SeasonState, voice: Voice) -> str:
    if not season.growing:
        return "Nothing grows here to feed."
    if feed.next_day is not None:
        dose = f": {voice.nitrogen(feed.dose_g_m2)} of nitrogen" if feed.dose_g_m2 is not None else ""
        when = voice.date(feed.next_day, season.today)
        overdue = " It is overdue." if feed.next_day < season.today else ""
        return f"Feeding {len(feed.given) + 1} of {len(feed.plan)}, {when}{dose}.{overdue}"
    if feed.plan:
        return "No more feed: the plan is done, or bulbing has begun."
    return "No plan yet: it begins with established leaves, seen or by the heat sum."


def _plan(feed: FeedState, season: SeasonState, voice: Voice) -> tuple[str, ...]:
    """What was given, and what is still planned, in order."""
    told = [
        f"Fed {voice.date(one.day, season.today)}: "
        f"{'amount not told' if one.n_g_m2 is None else f'{voice.nitrogen(one.n_g_m2)} of nitrogen'}."
        for one in feed.given
    ]
    if feed.next_day is None:
        return tuple(told)
    coming = [feed.next_day, *sorted(feed.plan)[len(feed.given) + 1 :]]
    return (*told, *(f"Planned {voice.date(day, season.today)}." for day in coming))
