"""Curing after the lift, and how long a store will keep the bulbs."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from collector.calls import Evidence
from collector.crop.limits import Limit, inside
from collector.crop.spans import LONGEST_S, Array, Times, both_known, lines_of, spans_of

DAY_S, HOUR_S = 86_400.0, 3600.0


@dataclass(frozen=True, slots=True)
class CureLimits:
    """What is too hot or too damp, and when bulbs are cured: hung in shade, or by warmth."""

    hot_c: Limit
    damp_pct: Limit
    hung_least_d: Limit
    hung_most_d: Limit
    warm_low_c: Limit
    warm_high_c: Limit
    dry_pct: Limit
    warm_d: Limit


_KANSAS = "Kansas extension column on harvesting garlic: 4 to 6 weeks hung"
_FORCED = "27 to 32 °C, 60 to 70 % humidity, 10 to 14 days: from memory"
USUAL = CureLimits(
    hot_c=Limit(32.0, "°C", Evidence.PUBLISHED, "UNH Extension 2017, harvest reminders: avoid sun and above 90 °F"),
    damp_pct=Limit(70.0, "%RH", Evidence.WEAK, _FORCED),
    hung_least_d=Limit(28.0, "d", Evidence.PUBLISHED, _KANSAS),
    hung_most_d=Limit(42.0, "d", Evidence.PUBLISHED, _KANSAS),
    warm_low_c=Limit(27.0, "°C", Evidence.WEAK, _FORCED),
    warm_high_c=Limit(32.0, "°C", Evidence.WEAK, _FORCED),
    dry_pct=Limit(60.0, "%RH", Evidence.WEAK, _FORCED),
    warm_d=Limit(10.0, "d", Evidence.WEAK, _FORCED),
)


class Cured(StrEnum):
    """Whether the bulbs should be cured: by days hung, by days of warmth, or not yet."""

    NOT_YET = "not yet"
    BY_DAYS = "by days hung"
    BY_WARMTH = "by days of warmth"


@dataclass(frozen=True, slots=True)
class CureStand:
    """How the cure goes: days since the lift; hours too hot and too damp, warm and dry enough, and not known.

    An hour that is not known is none of the others. Necks dry and wrappers that rustle decide, not these numbers.
    """

    hung_d: float
    hot_h: float
    damp_h: float
    warm_h: float
    gap_h: float
    cured: Cured


def cure_stand(
    time_ms: Times,
    air_c: Array,
    humidity_pct: Array,
    lifted_ms: int,
    now_ms: int,
    limits: CureLimits = USUAL,
    longest_s: float = LONGEST_S,
) -> CureStand:
    """How the cure goes, by readings in the place where the bulbs hang [d and h].

    Args:
        time_ms: times of n readings, each later than the one before [ms since 1970 UTC].
        air_c: air temperature at those times, NaN is not known [°C].
        humidity_pct: relative humidity at those times, NaN is not known [%RH].
        lifted_ms: when the bulbs were lifted [ms since 1970 UTC].
        now_ms: the moment, later [ms since 1970 UTC].
        limits: what is too hot or too damp, and when bulbs are cured.
        longest_s: two readings farther apart than this have a gap between them [s].

    Raises:
        ValueError: arrays of unequal lengths, times out of order, or a moment not after the lift.

    Source: the limits. A Japanese trial (Horticultural Research 13(2):169, abstract) found days of 34 °C and unheated nights
    to beat 33 °C without pause, so a hot hour is told and not called a failure.
    """
    air = lines_of(time_ms, air_c, lifted_ms, now_ms, longest_s)
    humid = lines_of(time_ms, humidity_pct, lifted_ms, now_ms, longest_s)
    both = spans_of(time_ms, both_known(air_c, humidity_pct), lifted_ms, now_ms, longest_s)
    warm = (air_c >= limits.warm_low_c.value) & (air_c <= limits.warm_high_c.value)
    dry = (humidity_pct >= limits.dry_pct.value) & (humidity_pct <= limits.damp_pct.value)
    warm_s = float(both.length_s[both.both_ends(warm & dry)].sum())
    hung_d = (now_ms - lifted_ms) / 1000.0 / DAY_S
    cured = Cured.NOT_YET
    if hung_d >= limits.hung_least_d.value:
        cured = Cured.BY_DAYS
    elif warm_s >= limits.warm_d.value * DAY_S:
        cured = Cured.BY_WARMTH
    return CureStand(
        hung_d=hung_d,
        hot_h=air.above_s(limits.hot_c.value) / HOUR_S,
        damp_h=humid.above_s(limits.damp_pct.value) / HOUR_S,
        warm_h=warm_s / HOUR_S,
        gap_h=both.gap_s / HOUR_S,
        cured=cured,
    )


@dataclass(frozen=True, slots=True)
class StoreRange:
    """A way to store bulbs, and for how many months it keeps them; `most_months` is None where the source says "more than"."""

    low_c: float
    high_c: float
    damp_pct: float
    least_months: float
    most_months: float | None
    evidence: Evidence
    source: str


_DAVIS = "UC Davis Postharvest, Garlic: recommendations for maintaining postharvest quality"
_HB66 = "USDA Agricultural Handbook 66, garlic storage (a quotation)"
COLD_STORE = StoreRange(-1.0, 0.0, 70.0, 9.0, None, Evidence.PUBLISHED, f"{_DAVIS}: -1 to 0 °C, 60 to 70 %, more than 9 months")
COLD_TABLE = StoreRange(0.0, 0.0, 70.0, 6.0, 7.0, Evidence.PUBLISHED, f"{_HB66}: 0 °C, 65 to 70 %, 6 to 7 months")
WARM_STORE = StoreRange(20.0, 30.0, 75.0, 1.0, 2.0, Evidence.PUBLISHED, f"{_DAVIS}: 20 to 30 °C, below 75 %, 1 to 2 months")
STORES = (COLD_STORE, COLD_TABLE, WARM_STORE)
SPROUT_LOW_C = Limit(5.0, "°C", Evidence.PUBLISHED, f"{_DAVIS}: sprouts fastest at 5 to 18 °C")
SPROUT_HIGH_C = Limit(18.0, "°C", Evidence.PUBLISHED, f"{_DAVIS}: sprouts fastest at 5 to 18 °C")


@dataclass(frozen=True, slots=True)
class StoreStand:
    """What the sources say of a store: each range that it lies in (they may differ), and what spoils the bulbs.

    `ranges` is empty where no source tells of such a temperature, or it is too damp or not known to be dry enough.
    `too_damp` is None where the humidity is not known.
    """

    ranges: tuple[StoreRange, ...]
    sprouts: bool
    too_damp: bool | None


def store_stand(air_c: float, humidity_pct: float | None) -> StoreStand:
    """What the sources say of a store for bulbs to eat [months]; planting stock has `chilling.stock_risk`.

    Args:
        air_c: temperature of the store [°C].
        humidity_pct: its relative humidity; None is not known [%RH].

    Raises:
        ValueError: a temperature outside -50 to 60 °C, or a humidity outside 0 to 110 %.

    Source: UC Davis Postharvest, Garlic; USDA Agricultural Handbook 66.
    """
    inside("air_c", air_c, -50.0, 60.0, "°C")
    if humidity_pct is not None:
        inside("humidity_pct", humidity_pct, 0.0, 110.0, "%RH")
    near = tuple(store for store in STORES if store.low_c <= air_c <= store.high_c)
    sprouts = SPROUT_LOW_C.value <= air_c <= SPROUT_HIGH_C.value
    if humidity_pct is None:
        return StoreStand((), sprouts, None)
    # where no range tells, the dampest of them is the mark
    dampest_pct = max(store.damp_pct for store in near or STORES)
    kept = tuple(store for store in near if humidity_pct <= store.damp_pct)
    return StoreStand(kept, sprouts, humidity_pct > dampest_pct)
