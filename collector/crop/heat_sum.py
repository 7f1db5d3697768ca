"""The heat that a crop has gathered: how long it was how warm."""

from __future__ import annotations

from dataclasses import dataclass

from collector.calls import Evidence
from collector.crop.limits import Limit
from collector.crop.spans import LONGEST_S, Array, Times, lines_of

DAY_S = 86_400.0
# A sum says nothing without its method: clipping the day's extremes or their mean differ by up to 83 % (wheat, base 0 °C;
# McMaster & Wilhelm 1997, abstract). This one needs no extremes; it clips at every moment.
METHOD = "air temperature above the base, at every moment no more than the cap, over time; gaps count for nothing"


@dataclass(frozen=True, slots=True)
class HeatLimits:
    """Below the base nothing grows; above the cap more heat adds nothing."""

    base_c: Limit
    cap_c: Limit


_REV1 = "Pereira et al. 2025, FAO-56 Rev.1, Table 6.10, garlic (second-hand, the table was not seen)"
USUAL = HeatLimits(
    base_c=Limit(4.0, "°C", Evidence.PUBLISHED, f"{_REV1}; 0 °C is used too, from memory"),
    cap_c=Limit(30.0, "°C", Evidence.PUBLISHED, _REV1),
)


@dataclass(frozen=True, slots=True)
class HeatSum:
    """Heat gathered in the time that is known [K d], and how long nothing is known [s]: with gaps it is a least value."""

    sum_k_d: float
    known_s: float
    gap_s: float


def heat_sum(
    time_ms: Times, air_c: Array, from_ms: int, to_ms: int, limits: HeatLimits = USUAL, longest_s: float = LONGEST_S
) -> HeatSum:
    """Heat gathered from one moment to another [K d].

    Args:
        time_ms: times of n readings, each later than the one before [ms since 1970 UTC].
        air_c: air temperature at those times, NaN is not known [°C].
        from_ms: where to begin: the planting [ms since 1970 UTC].
        to_ms: where to end, later [ms since 1970 UTC].
        limits: base and cap.
        longest_s: two readings farther apart than this have a gap between them [s].

    Raises:
        ValueError: arrays of two lengths, times out of order, an end not after the beginning, or a base not below the cap.

    Source: the integral of the temperature between base and cap, less the base, readings joined by straight lines; base
    and cap from the limits.
    """
    base_c, cap_c = limits.base_c.value, limits.cap_c.value
    if not base_c < cap_c:
        raise ValueError(f"base {base_c} and cap {cap_c} °C; want base < cap")
    lines = lines_of(time_ms, air_c, from_ms, to_ms, longest_s)
    gathered_k_d = (lines.mean(base_c, cap_c) - base_c) * lines.known_s / DAY_S if lines.known_s else 0.0
    return HeatSum(gathered_k_d, lines.known_s, lines.gap_s)
