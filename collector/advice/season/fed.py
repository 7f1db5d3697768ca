"""The feed plan of a bed, by what the journal tells of feedings. Pure."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from zoneinfo import ZoneInfo

from collector.advice.season.record import day_of
from collector.advice.season.state import Feeding, FeedState, PlantingState
from collector.crop import feed_plan, feeding
from collector.crop.method import Method
from collector.crop.observed import Look, Stage
from collector.journal import Deed, Entry
from collector.model import Bed, Feed, Garden


def label_of(feed: Feed) -> feeding.Label:
    """What stands on a product, as the arithmetic of feeding takes it."""
    return feeding.Label(feed.n_pct, feed.p2o5_pct, feed.k2o_pct, feed.density_kg_l)


def feed_state(
    bed: Bed, garden: Garden, method: Method, plantings: Sequence[PlantingState], own: Sequence[Entry], timezone: ZoneInfo
) -> FeedState:
    """When to feed a bed, what it was given, and how much comes next.

    A bed is fed as a whole, so the planting that bulbs first sets the plan: from its established leaves to some days
    before its bulbing. Where neither is known yet there is no plan.
    """
    given = tuple(_feeding(entry, bed, garden, timezone) for entry in own if entry.deed is Deed.FED)
    plan, stage = _plan(plantings, method)
    days = [one.day for one in given]
    next_day = feed_plan.next_feeding(plan, days, stage, method.feed) if plan else None
    since_g_m2 = sum(one.n_g_m2 or 0.0 for one in given)
    dose_g_m2 = None
    if next_day is not None and bed.nitrogen_g_m2 is not None:
        dose_g_m2 = feed_plan.dose_g_m2(bed.nitrogen_g_m2, since_g_m2, len(plan) - len(given))
    return FeedState(
        plan=plan,
        given=given,
        next_day=next_day,
        stand=feed_plan.nitrogen_stand(bed.nitrogen_at_planting_g_m2, since_g_m2, method.feed),
        dose_g_m2=dose_g_m2,
        feeds=garden.feeds,
        injector=garden.injector,
        tank_l=garden.tank_l,
    )


def _feeding(entry: Entry, bed: Bed, garden: Garden, timezone: ZoneInfo) -> Feeding:
    """A feeding with its nitrogen: as told, or by the product's label and the bed's area."""
    n_g_m2, product_g = entry.amounts.get("n_g_m2"), entry.amounts.get("product_g")
    feed = next((feed for feed in garden.feeds if feed.name == entry.what), None)
    if n_g_m2 is None and product_g is not None and feed is not None and bed.area_m2 > 0.0:
        n_g_m2 = feeding.nitrogen_g_m2(product_g, label_of(feed), bed.area_m2)
    return Feeding(day_of(entry.at_ms, timezone), n_g_m2)


def _plan(plantings: Sequence[PlantingState], method: Method) -> tuple[tuple[dt.date, ...], Stage | None]:
    growing = [(one, _bulbing_day(one)) for one in plantings if one.in_ground]
    known = [(day, one) for one, day in growing if day is not None]
    if not known:
        return (), None
    bulbing_day, first = min(known, key=lambda pair: pair[0])
    leaves_day = _leaves_day(first, method)
    furthest = max((one.at for one, _ in growing if one.at is not None), key=lambda stage: stage.place, default=None)
    return (feed_plan.feeding_days(leaves_day, bulbing_day, method.feed) if leaves_day else ()), furthest


def _bulbing_day(one: PlantingState) -> dt.date | None:
    """When bulbing is expected, or began as far as is known."""
    if one.bulbing_expected is not None or one.stage is None or one.stage.stage.place < Stage.BULBING.place:
        return one.bulbing_expected
    return max((reason.day for reason in one.stage.moved_by if reason.day is not None), default=one.long_day)


def _leaves_day(one: PlantingState, method: Method) -> dt.date | None:
    """When leaf growth was established: seen so, or by the heat that was gathered."""
    seen = [look.day for look in one.looks if _shows_leaves(look, method)]
    by_heat = one.leaves_by_heat
    return min([*seen, *([] if by_heat is None else [by_heat])], default=None)


def _shows_leaves(look: Look, method: Method) -> bool:
    counted = look.leaves is not None and look.leaves >= method.look.leaves.value
    return counted or (look.stage is not None and look.stage.place >= Stage.LEAVES.place)
