"""Weather and soil that a disease likes. None of it says that the disease is there, nor that it is not.

Hours are unbroken runs between readings; a span counts where the condition holds at both its ends. What a gap may hide is
not taken for safe: where the gaps could have made a run long enough, the answer is "not known".
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from collector.calls import Evidence
from collector.crop.limits import Limit
from collector.crop.spans import LONGEST_S, Array, Times, both_known, lines_of, longest_run_s, runs_s, spans_of

HOUR_S, DAY_MS = 3600.0, 86_400_000


class Fit(StrEnum):
    """How well the weather suits a disease. PERHAPS: by one source, and not by another."""

    NOT_KNOWN = "not known"
    NO = "not its weather"
    PERHAPS = "perhaps its weather"
    YES = "its weather"


# ---------------------------------------------------------------- rust


@dataclass(frozen=True, slots=True)
class RustLimits:
    """Temperature, humidity and hours of an infection, the best temperatures, and what field advice says instead."""

    low_c: Limit
    high_c: Limit
    best_low_c: Limit
    best_high_c: Limit
    humid_pct: Limit
    run_h: Limit
    shows_d: Limit
    field_low_c: Limit
    field_humid_pct: Limit


_CORNELL = "Cornell vegetable pathology, garlic rust: 5 to 25 °C, best 12 to 21 °C, 97 % humidity or more for 4 h"
_FIELD = "field advice above 15 °C and 70 % humidity: a page of questions and answers, against the 97 % of Cornell"
RUST = RustLimits(
    low_c=Limit(5.0, "°C", Evidence.PUBLISHED, _CORNELL),
    high_c=Limit(25.0, "°C", Evidence.PUBLISHED, _CORNELL),
    best_low_c=Limit(12.0, "°C", Evidence.PUBLISHED, _CORNELL),
    best_high_c=Limit(21.0, "°C", Evidence.PUBLISHED, _CORNELL),
    humid_pct=Limit(97.0, "%RH", Evidence.PUBLISHED, _CORNELL),
    run_h=Limit(4.0, "h", Evidence.PUBLISHED, _CORNELL),
    shows_d=Limit(9.0, "d", Evidence.PUBLISHED, "Cornell vegetable pathology, garlic rust: pustules 9 days later or more"),
    field_low_c=Limit(15.0, "°C", Evidence.WEAK, _FIELD),
    field_humid_pct=Limit(70.0, "%RH", Evidence.WEAK, _FIELD),
)


@dataclass(frozen=True, slots=True)
class RustWeather:
    """Runs long enough for an infection, the longest run and how much of its sort was at the best temperatures [h].

    `shows_ms` are the earliest times that pustules of each such run can show, in order. `field_run_h` is the longest run by
    the field advice.
    """

    infections: int
    longest_run_h: float
    best_h: float
    field_run_h: float
    gap_h: float
    fit: Fit
    shows_ms: tuple[int, ...]


def rust_weather(
    time_ms: Times,
    air_c: Array,
    humidity_pct: Array,
    from_ms: int,
    to_ms: int,
    limits: RustLimits = RUST,
    longest_s: float = LONGEST_S,
) -> RustWeather:
    """Hours that suit an infection with rust, Puccinia allii [h].

    Cheap humidity probes err by a few percent just where the limit lies: read the field advice's run beside it.

    Args:
        time_ms: times of n readings, each later than the one before [ms since 1970 UTC].
        air_c: air temperature at those times, NaN is not known [°C].
        humidity_pct: relative humidity at those times, NaN is not known [%RH].
        from_ms: where to begin [ms since 1970 UTC].
        to_ms: where to end, later [ms since 1970 UTC].
        limits: what an infection needs.
        longest_s: two readings farther apart than this have a gap between them [s].

    Raises:
        ValueError: arrays of unequal lengths, times out of order, or an end not after the beginning.

    Source: Cornell vegetable pathology, garlic rust; the field advice is weak.
    """
    spans = spans_of(time_ms, both_known(air_c, humidity_pct), from_ms, to_ms, longest_s)
    mild = (air_c >= limits.low_c.value) & (air_c <= limits.high_c.value)
    humid = humidity_pct >= limits.humid_pct.value
    best = (air_c >= limits.best_low_c.value) & (air_c <= limits.best_high_c.value)
    by_field = (air_c > limits.field_low_c.value) & (humidity_pct >= limits.field_humid_pct.value)
    holds, by_field_holds = spans.both_ends(mild & humid), spans.both_ends(by_field)
    begins_ms, lengths_s = runs_s(spans, holds)
    needed_s = limits.run_h.value * HOUR_S
    enough = lengths_s >= needed_s
    field_s = longest_run_s(spans, by_field_holds)
    if enough.any():
        fit = Fit.YES
    elif longest_run_s(spans, holds | ~spans.known) >= needed_s:
        fit = Fit.NOT_KNOWN
    else:
        fit = Fit.PERHAPS if field_s >= needed_s else Fit.NO
    # the infection is made when the run has lasted long enough, and not when it began
    shows_after_ms = needed_s * 1000.0 + limits.shows_d.value * DAY_MS
    return RustWeather(
        infections=int(enough.sum()),
        longest_run_h=float(lengths_s.max(initial=0.0)) / HOUR_S,
        best_h=float(spans.length_s[spans.both_ends(mild & humid & best)].sum()) / HOUR_S,
        field_run_h=field_s / HOUR_S,
        gap_h=spans.gap_s / HOUR_S,
        fit=fit,
        shows_ms=tuple(int(begin_ms + shows_after_ms) for begin_ms in begins_ms[enough].tolist()),
    )


# ---------------------------------------------------------------- white rot


@dataclass(frozen=True, slots=True)
class WhiteRotLimits:
    """Soil temperatures at which white rot infects, by two sources, the best for it, and the one that stops it."""

    lab_low_c: Limit
    lab_high_c: Limit
    field_low_c: Limit
    best_low_c: Limit
    best_high_c: Limit
    stop_c: Limit


_LAB = "Crowe & Hall 1980, Phytopathology 70:74-78 (abstract): infection at 6 to 24 °C, 4.5 to 300 kPa, most of it at 18 °C"
_IPM = "UC IPM, white rot: 50 to 75 °F, best 60 to 65 °F, much inhibited above 78 °F (a PNW handbook: above 75 °F)"
WHITE_ROT = WhiteRotLimits(
    lab_low_c=Limit(6.0, "°C", Evidence.PUBLISHED, _LAB),
    lab_high_c=Limit(24.0, "°C", Evidence.PUBLISHED, _LAB),
    field_low_c=Limit(10.0, "°C", Evidence.PUBLISHED, _IPM),
    best_low_c=Limit(15.6, "°C", Evidence.PUBLISHED, _IPM),
    best_high_c=Limit(18.3, "°C", Evidence.PUBLISHED, _IPM),
    stop_c=Limit(25.6, "°C", Evidence.PUBLISHED, _IPM),
)
# Sclerotia live in the soil for twenty years and more, and one in ten kilograms can start it (UC IPM, white rot).
WHITE_ROT_ONLY_WHERE = "It matters only in a bed that has had white rot, or may have: the fungus lives in the soil for 20 years."


@dataclass(frozen=True, slots=True)
class WhiteRotSoil:
    """How long the soil lay in the temperatures of white rot [h]; `mean_c` is NaN where nothing is known."""

    infects_h: float
    best_h: float
    stopped_h: float
    gap_h: float
    mean_c: float
    fit: Fit


def white_rot_soil(
    time_ms: Times,
    soil_c: Array,
    from_ms: int,
    to_ms: int,
    limits: WhiteRotLimits = WHITE_ROT,
    longest_s: float = LONGEST_S,
) -> WhiteRotSoil:
    """Hours that the soil at root depth lay in the temperatures of white rot, Sclerotium cepivorum [h].

    It fits where the mean lies within both sources' ranges, and perhaps where in one of them only, or not yet so warm that it
    is stopped. Where less than half of the time is known the mean is not taken for an answer.

    Args:
        time_ms: times of n readings, each later than the one before [ms since 1970 UTC].
        soil_c: soil temperature at root depth at those times, NaN is not known [°C].
        from_ms: where to begin [ms since 1970 UTC].
        to_ms: where to end, later [ms since 1970 UTC].
        limits: the temperatures.
        longest_s: two readings farther apart than this have a gap between them [s].

    Raises:
        ValueError: arrays of two lengths, times out of order, or an end not after the beginning.

    Source: Crowe & Hall 1980, Phytopathology 70:74-78 (abstract); UC IPM, white rot.
    """
    soil = lines_of(time_ms, soil_c, from_ms, to_ms, longest_s)
    mean_c = soil.mean()
    if soil.known_s < soil.gap_s or not soil.known_s:
        fit = Fit.NOT_KNOWN
    elif limits.field_low_c.value <= mean_c <= limits.lab_high_c.value:
        fit = Fit.YES
    else:
        fit = Fit.PERHAPS if limits.lab_low_c.value <= mean_c <= limits.stop_c.value else Fit.NO
    return WhiteRotSoil(
        infects_h=soil.inside_s(limits.lab_low_c.value, limits.lab_high_c.value) / HOUR_S,
        best_h=soil.inside_s(limits.best_low_c.value, limits.best_high_c.value) / HOUR_S,
        stopped_h=soil.above_s(limits.stop_c.value) / HOUR_S,
        gap_h=soil.gap_s / HOUR_S,
        mean_c=mean_c,
        fit=fit,
    )
