"""The temperature field of a bed as the stops of one vertical gradient. What is not known is not painted."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from collector.query import BedView
from dashboard.figures.cut_frame import Frame, cover_cm
from dashboard.theme import temperature_colour

_STEP_CM = 1.0


@dataclass(frozen=True, slots=True)
class Field:
    """Temperature [°C] by depth [m], None where not known; `covers_known` tells whether the covers can be painted."""

    depths_m: tuple[float, ...]
    values_c: tuple[float | None, ...]
    covers_known: bool


def field(view: BedView, frame: Frame) -> Field:
    """The field over a frame, each centimetre.

    Between the shallowest known depth and the top of the covers it is drawn straight to the air
    thermometer, where one has spoken lately; without one that part stays unknown.
    """
    top_cm = -cover_cm(view.bed)
    count = round((frame.below_cm - top_cm) / _STEP_CM)
    depths_m = tuple((top_cm + k * _STEP_CM) / 100 for k in range(count + 1))
    values = [_value_c(view, depth_m) for depth_m in depths_m]
    first = next((k for k, value in enumerate(values) if value is not None), None)
    if first and view.air_c is not None:
        known_c = values[first]
        assert known_c is not None
        for k in range(first):
            values[k] = view.air_c + (known_c - view.air_c) * k / first
    return Field(depths_m, tuple(values), covers_known=values[0] is not None)


def _value_c(view: BedView, depth_m: float) -> float | None:
    """The profile's value [°C]; a depth on its very edge counts as within, whichever way the sum was rounded."""
    profile = view.state.temperature
    answers = (profile.at(nearly_m) for nearly_m in (depth_m, depth_m - 1e-9, depth_m + 1e-9) if profile is not None)
    return next((estimate.value for estimate in answers if estimate is not None), None)


def gradient_stops(of: Field, frame: Frame, limit_c: float | None) -> str:
    """The field as SVG gradient stops over the frame's whole height, with an edge at the limit and at what is not known."""
    stops: list[tuple[float, str]] = []
    points = list(zip(of.depths_m, of.values_c, strict=True))
    for (upper_m, upper_c), (lower_m, lower_c) in pairwise(points):
        if upper_c is None or lower_c is None:
            stops += [(upper_m, _ground(upper_m)), (lower_m, _ground(upper_m))]
            continue
        stops.append((upper_m, temperature_colour(upper_c, limit_c, warm_side=lower_c > upper_c)))
        if limit_c is not None and (upper_c - limit_c) * (lower_c - limit_c) < 0:
            edge_m = upper_m + (lower_m - upper_m) * (limit_c - upper_c) / (lower_c - upper_c)
            stops.append((edge_m, temperature_colour(limit_c, limit_c, warm_side=upper_c > limit_c)))
            stops.append((edge_m, temperature_colour(limit_c, limit_c, warm_side=lower_c > limit_c)))
        stops.append((lower_m, temperature_colour(lower_c, limit_c, warm_side=upper_c > lower_c)))
    return "".join(
        f'<stop offset="{frame.y(depth_m) / frame.height_px:.4f}" {ground_or_colour}/>'
        for depth_m, ground_or_colour in _thinned(stops)
    )


def _ground(depth_m: float) -> str:
    """Unknown ground takes the page's own ground: the class does it, so that it follows day and night."""
    return "air" if depth_m < -1e-6 else "earth"


def _thinned(stops: list[tuple[float, str]]) -> list[tuple[float, str]]:
    """The stops as attributes, without those between two of the same kind."""
    kept = [
        stop for k, stop in enumerate(stops) if not 0 < k < len(stops) - 1 or not stops[k - 1][1] == stop[1] == stops[k + 1][1]
    ]
    return [(at, f'class="{ink}"' if ink in {"air", "earth"} else f'stop-color="{ink}"') for at, ink in kept]


def clove_is_warm(view: BedView) -> bool:
    """True where the cloves are known to be over the bed's limit now."""
    limit_c, clove = view.bed.cool_limit_c, view.state.clove
    return limit_c is not None and clove is not None and clove.value > limit_c
