"""How long the cloves have lain in the cold that ends their rest: in the store, then in the soil."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from collector.calls import Evidence
from collector.crop.limits import Limit, inside
from collector.crop.spans import LONGEST_S, Array, Times, lines_of

DAY_S = 86_400.0


@dataclass(frozen=True, slots=True)
class ChillLimits:
    """The band that counts, how many days of it a kind wants, and what is too cold or too warm for planting stock."""

    cold_c: Limit
    warm_c: Limit
    softneck_d: Limit
    hardneck_d: Limit
    stock_cold_c: Limit
    stock_warm_c: Limit

    def wanted_s(self, kind: str) -> float:
        """How long a kind wants to lie in the band [s].

        Args:
            kind: hardneck or softneck.

        Raises:
            ValueError: another kind.

        Source: the limits of the kinds.
        """
        wanted = {"hardneck": self.hardneck_d, "softneck": self.softneck_d}
        if kind not in wanted:
            raise ValueError(f"kind is {kind!r}; want hardneck or softneck")
        return wanted[kind].value * DAY_S


_BAND = "0 to 10 °C for roughly four to eight weeks, hardnecks longer: from memory; growers' pages agree, no primary source"
_HB66 = "USDA Agricultural Handbook 66, garlic: planting stock"
USUAL = ChillLimits(
    cold_c=Limit(0.0, "°C", Evidence.WEAK, _BAND),
    # In growth rooms 13 and 16 °C worked too, but colder and longer worked better: del Pozo & González 2005, Agric. Técnica
    # 65(2):119-126 (abstract; 4 to 16 °C for 20, 40 or 60 days).
    warm_c=Limit(10.0, "°C", Evidence.WEAK, _BAND),
    softneck_d=Limit(28.0, "d", Evidence.WEAK, _BAND),
    hardneck_d=Limit(56.0, "d", Evidence.WEAK, _BAND),
    stock_cold_c=Limit(4.4, "°C", Evidence.PUBLISHED, f"{_HB66} below 40 °F: rough bulbs, side shoots, early maturity"),
    stock_warm_c=Limit(18.0, "°C", Evidence.PUBLISHED, f"{_HB66} above 65 °F: delayed sprouting, late maturity"),
)


@dataclass(frozen=True, slots=True)
class Chill:
    """Time in the band, and of how much time nothing is known [s]."""

    in_band_s: float
    gap_s: float


@dataclass(frozen=True, slots=True)
class ChillStand:
    """What the cloves have had, what they want, and what is still wanting; `gap_s` may hold some of it [s]."""

    gathered_s: float
    wanted_s: float
    gap_s: float

    @property
    def remaining_s(self) -> float:
        """What is still wanting, a gap counted as nothing [s]."""
        return max(self.wanted_s - self.gathered_s, 0.0)


class StockRisk(StrEnum):
    """What a store's temperature does to cloves that are to be planted."""

    TOO_COLD = "too cold"
    TOO_WARM = "too warm"
    NONE = "none"


def chill(
    time_ms: Times, temperature_c: Array, from_ms: int, to_ms: int, limits: ChillLimits = USUAL, longest_s: float = LONGEST_S
) -> Chill:
    """Time in the band [s], by readings of the store or of the soil at the clove.

    Args:
        time_ms: times of n readings, each later than the one before [ms since 1970 UTC].
        temperature_c: the n readings, NaN is not known [°C].
        from_ms: where to begin: the cloves came there [ms since 1970 UTC].
        to_ms: where to end, later: now, or the cloves went away [ms since 1970 UTC].
        limits: the band.
        longest_s: two readings farther apart than this have a gap between them, which counts for nothing [s].

    Raises:
        ValueError: arrays of two lengths, times out of order, or an end not after the beginning.

    Source: by definition, readings joined by straight lines; the band from the limits.
    """
    lines = lines_of(time_ms, temperature_c, from_ms, to_ms, longest_s)
    return Chill(lines.inside_s(limits.cold_c.value, limits.warm_c.value), lines.gap_s)


def stored_chill(days: float, at_c: float | None, limits: ChillLimits = USUAL) -> Chill:
    """Time in the band [s], by what the grower says of the store.

    Args:
        days: how long the cloves lay there [d].
        at_c: how cold; None is not known, and then all of it is a gap [°C].
        limits: the band.

    Raises:
        ValueError: days below 0 or above 1000, or a temperature outside -50 to 60 °C.

    Source: by definition.
    """
    inside("days", days, 0.0, 1000.0, "d")
    if at_c is None:
        return Chill(0.0, days * DAY_S)
    inside("at_c", at_c, -50.0, 60.0, "°C")
    return Chill(days * DAY_S if limits.cold_c.value <= at_c <= limits.warm_c.value else 0.0, 0.0)


def chill_stand(chills: Iterable[Chill], kind: str, limits: ChillLimits = USUAL) -> ChillStand:
    """What the cloves have had in all their places, and what they still want [s].

    Args:
        chills: the times in the store and in the soil, which do not overlap.
        kind: hardneck or softneck.
        limits: how much a kind wants.

    Raises:
        ValueError: another kind.

    Source: by definition; what a kind wants from the limits.
    """
    places = tuple(chills)
    gathered_s, gap_s = sum(place.in_band_s for place in places), sum(place.gap_s for place in places)
    return ChillStand(gathered_s, limits.wanted_s(kind), gap_s)


def stock_risk(at_c: float, limits: ChillLimits = USUAL) -> StockRisk:
    """What a store's temperature [°C] does to cloves that are to be planted.

    Chilling wants it cold; the handbook holds stock at 10 °C and warns below 4.4 °C, while 4 °C is among the treatments
    that made garlic bulb best. The sources do not agree, and a grower should see that.

    Args:
        at_c: temperature of the store [°C].
        limits: what is too cold or too warm.

    Raises:
        ValueError: a temperature outside -50 to 60 °C.

    Source: USDA Agricultural Handbook 66, garlic (a quotation); against it del Pozo & González 2005, Agric. Técnica
    65(2):119-126 (abstract).
    """
    inside("at_c", at_c, -50.0, 60.0, "°C")
    if at_c < limits.stock_cold_c.value:
        return StockRisk.TOO_COLD
    return StockRisk.TOO_WARM if at_c > limits.stock_warm_c.value else StockRisk.NONE
