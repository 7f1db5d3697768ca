"""What a bed is like: how fast and how far the warmth of a day goes down in it, in a grower's words."""

from __future__ import annotations

import math

from dash import html
from dash.development.base_component import Component

from collector.query import BedHistory
from collector.units import UnitSystem
from dashboard import theme

_DAY_S = 86_400.0
# A share in words, by the least that still goes by that name.
_SHARES = (
    *((0.85, "nearly its whole"), (0.7, "three quarters of its"), (0.58, "two thirds of its"), (0.45, "half its")),
    *((0.37, "two fifths of its"), (0.29, "a third of its"), (0.22, "a quarter of its"), (0.17, "a fifth of its")),
    *((0.12, "a seventh of its"), (0.08, "a tenth of its"), (0.0, "less than a tenth of its")),
)


def nature(history: BedHistory, units: UnitSystem) -> list[Component]:
    """The paragraph, or nothing where it is not known how fast warmth goes down or where the cloves lie."""
    diffusivity_m2_s = None if history.outlook is None else history.outlook.diffusivity_m2_s
    cloves_m = history.bed.clove_depth_m
    if diffusivity_m2_s is None or not diffusivity_m2_s > 0 or cloves_m is None:
        return []
    cloves = theme.depth(cloves_m, units)
    how = (
        f"Diffusivity {diffusivity_m2_s * 1e6:.2f} mm²/s, from the waves of the last days at your thermometers. "
        "For comparison, a loam (1.3 t/m³, 20 % clay) has 0.2 bone dry, 0.5 moist, and a little less when wet: "
        "worked out after Campbell 1985, Soil Physics with BASIC, ch. 4."
    )
    return [
        html.H2("What this bed is like."),
        html.P(f"{_in_words(diffusivity_m2_s, cloves_m, cloves)}", className="told"),
        html.P(how, className="note"),
    ]


def _in_words(diffusivity_m2_s: float, cloves_m: float, cloves: str) -> str:
    share, lag_h = daily_wave(diffusivity_m2_s, cloves_m)
    hours = "less than an hour" if lag_h < 0.75 else "about an hour" if lag_h < 1.5 else f"about {lag_h:.0f} hours"
    words = next(words for least, words in _SHARES if share >= least)
    return f"A warm day at the soil's surface reaches the cloves, {cloves} down, {hours} later and with {words} swing."


def daily_wave(diffusivity_m2_s: float, depth_m: float) -> tuple[float, float]:
    """The daily wave at a depth [m]: its swing as a share of that at the surface [ratio], and how much later it comes [h].

    Damping depth d = sqrt(2 k / w); the swing is exp(-z / d), the lag z / d / w. The damped wave in
    a uniform soil, Carslaw and Jaeger 1959, Conduction of Heat in Solids, section 2.6 (from memory).
    """
    omega_per_s = 2 * math.pi / _DAY_S
    damping_depths = depth_m / math.sqrt(2 * diffusivity_m2_s / omega_per_s)
    return math.exp(-damping_depths), damping_depths / omega_per_s / 3600
