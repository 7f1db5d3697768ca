"""What heads a bed: its name and crop, and sentences that put its state into words."""

from __future__ import annotations

from dash import html
from dash.development.base_component import Component

from collector.query import BedView, GardenView, Heard
from collector.units import UnitSystem
from dashboard import theme
from dashboard.figures.cut import age_days


def heading(view: BedView) -> Component:
    """Name and crop of a bed, as on Today."""
    return html.Div([html.H2(view.bed.name), html.Span(crop(view), className="note")], className="bed-head")


def crop(view: BedView) -> str:
    """ "Porcelain, 60 plants": the varieties of a bed and how many plants; empty where nothing is planted."""
    plantings = view.bed.plantings
    counts = [planting.plants for planting in plantings if planting.plants is not None]
    plants = f", {sum(counts)} plants" if counts and len(counts) == len(plantings) else ""
    return " and ".join(planting.variety for planting in plantings) + plants


def facts(view: BedView, garden: GardenView) -> str:
    """ "Terrace bed, Porcelain, day 175, heard 17:38": the small line over a bed's own page."""
    age = age_days(view)
    varieties = [planting.variety for planting in view.bed.plantings]
    day = [] if age is None else [f"day {age}"]
    return ", ".join([view.bed.name, *varieties, *day, heard(view, garden)])


def heard(view: BedView, garden: GardenView) -> str:
    """ "heard 17:38", or that nothing has been heard yet."""
    if view.heard_ms is None:
        return "nothing heard yet"
    return f"heard {theme.when_words(view.heard_ms, garden.now_ms, garden.garden.timezone, garden.garden.units)}"


def measured(view: BedView) -> bool:
    """False for a bed in whose soil the garden file names no probe: of it nothing will ever be heard."""
    return any(each.probe.depth_m is not None for each in view.probes)


def _waiting(unclaimed: int) -> str:
    """That something speaks which has no place yet, where to give it one."""
    if not unclaimed:
        return ""
    speak = "One address speaks and has" if unclaimed == 1 else f"{unclaimed} addresses speak and have"
    return f" {speak} no place yet: say which is where, under Stakes."


def sentence(view: BedView, garden: GardenView) -> tuple[str, str]:
    """The page sentence of a bed, and the one under it: how the cloves are, and where the cool line lies."""
    units, limit_c, clove = garden.garden.units, view.bed.cool_limit_c, view.state.clove
    if not measured(view):
        return "Not measured.", f"The garden file names no probe in the soil of this bed.{_waiting(garden.unclaimed)}"
    if view.heard is Heard.NEVER:
        return "Nothing heard yet.", "The bed is drawn without colour until its first reading comes."
    if view.bed.clove_depth_m is None:
        return "Nothing planted here.", _capital(view.cool_line) or "The garden file names no planting for this bed."
    if clove is None:
        return "Cloves not known.", _why_not_known(view, garden)
    number = theme.temperature(clove.value, units)
    if limit_c is None:
        return f"Cloves at {number}.", "No cool limit is set for this bed, so nothing is called cool or warm."
    side = "cool" if clove.value <= limit_c else "warm"
    # What is true now, and what the calls go by: they may lie on two sides of the limit.
    return f"Cloves {side}, {number}.", f"{_where_the_line_is(view, garden, theme.limit(limit_c, units))}{_mean(view, units)}"


def _mean(view: BedView, units: UnitSystem) -> str:
    """The mean that the limit is for, where it is known."""
    mean_c, limit_c = view.state.clove_mean_c, view.bed.cool_limit_c
    if mean_c is None or limit_c is None:
        return ""
    mean = theme.temperature(mean_c, units)
    if mean == theme.temperature(limit_c, units):
        return " That is now; over the last 24 hours they averaged your limit."
    return f" That is now; over the last 24 hours they averaged {mean}, {'over' if mean_c > limit_c else 'under'} your limit."


def _where_the_line_is(view: BedView, garden: GardenView, limit: str) -> str:
    clove_m = view.bed.clove_depth_m
    if not view.crossings_m or clove_m is None:
        return f"{_capital(view.cool_line)} Your limit is {limit}.".strip()
    clove = view.state.clove
    is_warm = clove is not None and view.bed.cool_limit_c is not None and clove.value > view.bed.cool_limit_c
    # Of warm cloves the line below tells: over them the ground may be cool again, at night.
    below = [depth_m for depth_m in view.crossings_m if depth_m > clove_m] if is_warm else []
    nearest_m = min(below or view.crossings_m, key=lambda depth_m: abs(depth_m - clove_m))
    apart = theme.depth(abs(nearest_m - clove_m), garden.garden.units)
    if apart.startswith("0 "):
        return f"The cool line, {limit}, is at the cloves."
    return f"The cool line, {limit}, is {apart} {'above' if nearest_m < clove_m else 'below'} them."


def _why_not_known(view: BedView, garden: GardenView) -> str:
    words = garden.garden
    if view.behind is not None:
        return view.behind
    if view.heard is Heard.SILENT and view.heard_ms is not None:
        return f"Nothing heard since {theme.when_words(view.heard_ms, garden.now_ms, words.timezone, words.units)}."
    if view.state.temperature is None:
        return "No thermometer in this bed has spoken lately."
    return "No thermometer is near enough to the depth of the cloves."


def _capital(words: str | None) -> str:
    return f"{words[0].upper()}{words[1:]}." if words else ""
