"""Is a feeding due: by the plan, only into moist soil, and how much of which product. Pure."""

from __future__ import annotations

from collections.abc import Iterator

from collector.advice.season.fed import label_of
from collector.advice.season.state import FeedState
from collector.advice.state import DAY_MS, BedState
from collector.advice.verdict import Verdict
from collector.advice.voice import Voice
from collector.advice.words import Words
from collector.calls import Call, Due, Evidence
from collector.crop.cautions import FEEDING
from collector.crop.feed_plan import Enough
from collector.crop.feeding import Ratio, product_g, product_ml, tank
from collector.journal import Deed

EVIDENCE = Evidence.COMMON_PRACTICE
SOURCE = (
    "Common practice, no source: three or four feedings between established leaves and just before bulbing, none after. The "
    "sources part: Cornell 2018 finds nitrogen of little effect after emergence, Oregon State 2011 feeds just before bulbs swell."
)
DONE_LASTS_MS = 3 * DAY_MS
SOON_D = 3
# The cautions in a breath; in full they stand under "Why?" and on every page about feed.
CAUTION = "Label and local rules first. A listed backflow preventer at the tap. Never a sprayer that has held pesticide."
# Above this share of the refill line the soil is dry enough that feed would burn roots: water first. Common practice, no source.
MOIST_SHARE = 0.6


def judge(state: BedState, latched: Due | None) -> Verdict:
    """Is a feeding due; `latched` changes nothing: the plan has dates.

    Source: see SOURCE.
    """
    del latched
    season = state.season
    if season is None or not season.growing:
        return Verdict(Due.FINE, "nothing grows")
    feed = season.feed
    if state.bed.nitrogen_g_m2 is None and not feed.feeds and not feed.given:
        return Verdict(Due.FINE, "nobody feeds it")
    if feed.next_day is None:
        return Verdict(Due.FINE, "nothing left" if feed.plan else "stage not known")
    in_d = (feed.next_day - season.today).days
    numbers = {"in_d": float(in_d), "nth": float(len(feed.given) + 1), "of": float(len(feed.plan))}
    if feed.dose_g_m2 is not None:
        if feed.dose_g_m2 <= 0.0:
            return Verdict(Due.FINE, "enough given", numbers)
        numbers["dose_g_m2"] = feed.dose_g_m2
    evidence = season.method.feed.feedings.evidence
    if in_d > SOON_D:
        return Verdict(Due.FINE, "later", numbers)
    if in_d > 0:
        return Verdict(Due.SOON, "planned", numbers, evidence=evidence)
    dry = state.water is not None and state.water.depletion_mm > MOIST_SHARE * state.water.raw_mm
    return Verdict(Due.DUE, "water first" if dry else "planned", numbers, tell=True, evidence=evidence)


def words(call: Call, state: BedState, voice: Voice) -> Words:
    """The call in words."""
    numbers, season = call.numbers, state.season
    assert season is not None
    feed = season.feed
    dose = f": {voice.nitrogen(numbers['dose_g_m2'])} of nitrogen" if "dose_g_m2" in numbers else ""
    turn = f"Feeding {numbers.get('nth', 1.0):.0f} of {numbers.get('of', 1.0):.0f}"
    day = voice.date(feed.next_day, season.today) if feed.next_day is not None else ""
    if call.reason == "water first":
        sentence = f"{turn}{dose}. The soil is dry: water first, then feed, never into dry soil."
    elif call.due is Due.SOON:
        sentence = f"{turn}, {day}{dose}."
    else:
        sentence = f"{turn}{dose}. Into moist soil."
    return Words(
        heading="Water, then feed" if call.reason == "water first" else "Feed",
        sentence=sentence,
        button="Fed",
        done="You have fed it.",
        why=(*products(state, voice), *_given(feed, voice), *(caution.text for caution in FEEDING)),
        rule=(
            f"The plan spreads {numbers.get('of', 1.0):.0f} feedings evenly from established leaves to "
            f"{season.method.feed.before_bulbing_d.value:.0f} days before bulbing, and the nitrogen you want evenly over them."
        ),
        would_change="Bulbing ends the plan. nitrogen_g_m2 of the bed and [[feed]] in the garden file set the dose.",
        above_ground=False,
        depth_m=state.bed.root_depth_m / 2,
        caution=CAUTION,
        opens=Deed.FED,
    )


def products(state: BedState, voice: Voice) -> tuple[str, ...]:
    """How much of each product of the garden file the next feeding takes, and how to mix it."""
    season, bed = state.season, state.bed
    if season is None or season.feed.dose_g_m2 is None or not bed.area_m2 > 0.0:
        return ("Set nitrogen_g_m2 for the bed, and its area, to be told a dose.",)
    feed, dose_g_m2 = season.feed, season.feed.dose_g_m2
    lines = [f"That is {voice.mass(dose_g_m2 * bed.area_m2)} of nitrogen for the bed."]
    for product in feed.feeds:
        label = label_of(product)
        mass_g, volume_ml = product_g(dose_g_m2 * bed.area_m2, label), product_ml(dose_g_m2 * bed.area_m2, label)
        amount = voice.mass(mass_g) if volume_ml is None else f"{voice.mass(mass_g)}, or {voice.volume(volume_ml)},"
        lines.append(f"{product.name} ({product.n_pct:g}-{product.p2o5_pct:g}-{product.k2o_pct:g}): {amount} in all.")
        lines += [f"{product.name}, {line}" for line in _mixing(feed, dose_g_m2, bed.area_m2, product.name, voice)]
    return tuple(lines)


def _mixing(feed: FeedState, dose_g_m2: float, area_m2: float, name: str, voice: Voice) -> Iterator[str]:
    """The tank, and through the injector, in both readings where the grower does not know which."""
    if feed.tank_l is None:
        return
    label = label_of(next(one for one in feed.feeds if one.name == name))
    full = voice.litres(feed.tank_l)
    if feed.injector is None:
        can = tank(dose_g_m2, area_m2, label, feed.tank_l)
        yield f"in {full} of water: that feed holds {can.n_mg_l:.0f} mg of nitrogen a litre."
        return
    readings = {True: [Ratio.PART_IN_MIX], False: [Ratio.PART_TO_WATER], None: list(Ratio)}[feed.injector.of_mix]
    for ratio in readings:
        mixed = tank(dose_g_m2, area_m2, label, feed.tank_l, feed.injector.parts, ratio)
        counted = (
            f"1 part in {feed.injector.parts:g} of mix"
            if ratio is Ratio.PART_IN_MIX
            else f"1 part to {feed.injector.parts:g} of water"
        )
        yield (
            f"in {full} of concentrate, drawn at {counted}: {voice.litres(mixed.feed_l)} "
            f"of feed with {mixed.n_mg_l:.0f} mg of nitrogen a litre."
        )


def _given(feed: FeedState, voice: Voice) -> Iterator[str]:
    stand = feed.stand
    told = {Enough.BELOW: "below", Enough.WITHIN: "within", Enough.ABOVE: "above"}[stand.season]
    yield (
        f"Nitrogen so far, with that at planting: {voice.nitrogen(stand.season_g_m2)}, "
        f"{told} the usual range of a season (from memory)."
    )
    if stand.spring_over:
        yield f"Since it came up: {voice.nitrogen(stand.spring_g_m2)}, more than Cornell's {voice.nitrogen(5.6)} for spring."
    if any(one.n_g_m2 is None for one in feed.given):
        yield "Of a feeding nothing was told, so there was more."
