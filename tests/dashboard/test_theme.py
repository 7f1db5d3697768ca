"""Inks, temperature colours, and values in the grower's units and time."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import asdict
from pathlib import Path

import pytest

from collector.units import UnitSystem
from dashboard import theme

METRIC, US = UnitSystem.METRIC, UnitSystem.US
BASE_CSS = (Path(theme.__file__).parent / "assets" / "base.css").read_text()


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2, "relative luminance" (https://www.w3.org/TR/WCAG22/#dfn-relative-luminance)."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio, WCAG 2.2, "contrast ratio"."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("tokens", [theme.LIGHT, theme.DARK])
def test_text_on_both_grounds_has_the_enhanced_contrast_of_wcag(tokens: theme.Tokens) -> None:
    # WCAG 2.2, success criterion 1.4.6 (level AAA): 7 to 1
    grounds = (tokens.air, tokens.earth, tokens.sun_tint, tokens.water_fill)
    assert min(contrast(tokens.ink, ground) for ground in grounds) >= 7
    assert min(contrast(tokens.ink2, ground) for ground in (tokens.air, tokens.earth)) >= 7


@pytest.mark.parametrize(("mode", "selector"), [("light", ":root {"), ("dark", "@media (prefers-color-scheme: dark) {")])
def test_the_style_sheet_has_the_same_inks_as_the_charts(mode: str, selector: str) -> None:
    block = BASE_CSS.split(selector, 1)[1].split("}", 1)[0]
    written = {name.replace("-", "_"): value for name, value in re.findall(r"--([\w-]+): (#\w+);", block)}
    wanted = asdict(theme.tokens(mode))
    assert {name: written[name] for name in wanted} == wanted


def test_the_style_sheet_has_the_same_inks_inside_the_picture() -> None:
    for name in ("PEN", "PALE", "BULB", "BULB_RIB", "ROOT", "WATER", "PORE"):
        assert f"--{name.lower().replace('_', '-')}: {getattr(theme, name)};" in BASE_CSS


def test_every_cool_colour_is_darker_than_every_warm_one() -> None:
    cool = [luminance(theme.temperature_colour(18 - k / 10, 18)) for k in range(200)]
    warm = [luminance(theme.temperature_colour(18 + k / 10, 18)) for k in range(1, 200)]
    assert max(cool) < min(warm)


def test_the_step_at_the_limit_is_the_strongest_edge_of_the_scale() -> None:
    step = contrast(theme.temperature_colour(18, 18), theme.temperature_colour(18, 18, warm_side=True))
    steps = [
        contrast(theme.temperature_colour(c / 2, 18), theme.temperature_colour(c / 2 + 0.5, 18))
        for c in range(8, 70)
        if c / 2 != 18
    ]
    assert step > 4.5 > 2 > max(steps)


def test_pen_and_casing_hold_on_every_soil_colour() -> None:
    # WCAG 2.2, success criterion 1.4.11: marks that matter have 3 to 1, here by the pen or by its casing
    for tenth in range(40, 330):
        soil = theme.temperature_colour(tenth / 10, 18)
        assert max(contrast(theme.PEN, soil), contrast(theme.PALE, soil)) >= 3


def test_the_scale_has_the_limit_twice_and_moves_with_it() -> None:
    stops = theme.temperature_stops(18)
    assert [at_c for at_c, _ in stops] == [6, 12, 15.5, 18, 18, 20, 23, 27, 32]
    assert theme.temperature_stops(15) == tuple((at_c - 3, colour) for at_c, colour in stops)


def test_without_a_limit_there_is_no_step_anywhere() -> None:
    at_c = [at for at, _ in theme.temperature_stops(None)]
    assert at_c == sorted(set(at_c))
    steps = [
        contrast(theme.temperature_colour(c / 10, None), theme.temperature_colour(c / 10 + 0.1, None)) for c in range(50, 330)
    ]
    assert max(steps) < 1.3


def test_colours_beyond_the_scale_are_its_ends() -> None:
    assert theme.temperature_colour(-20, 18) == theme.temperature_stops(18)[0][1]
    assert theme.temperature_colour(60, 18) == theme.temperature_stops(18)[-1][1]


@pytest.mark.parametrize("limit_c", [18.0, None])
def test_the_plotly_scale_runs_from_0_to_1(limit_c: float | None) -> None:
    at = [place for place, _ in theme.plotly_colour_scale(limit_c)]
    assert (at[0], at[-1]) == (0, 1)
    assert at == sorted(at)
    assert theme.scale_range_c(18) == (6, 32)


def test_values_are_written_in_metric_and_in_us_units() -> None:
    assert theme.temperature(17.44, METRIC) == "17.4 °C"
    assert theme.temperature(100, US) == "212.0 °F"  # water boils at 212 °F, by the scale's definition
    assert (theme.limit(18, METRIC), theme.limit(18, US), theme.limit(17.5, METRIC)) == ("18 °C", "64.4 °F", "17.5 °C")
    assert theme.temperature_difference(0.2, METRIC) == "0.2"
    assert theme.temperature_difference(1, US) == "1.8"
    assert (theme.depth(0.12, METRIC), theme.depth(0.0508, US), theme.depth(0.12, US)) == ("12 cm", "2 in", "4.5 in")
    assert theme.depth(-0.001, METRIC) == "0 cm"
    assert (theme.volume(68.2, METRIC), theme.volume(1, METRIC), theme.volume(37.85411784, US)) == (
        "68 litres",
        "1 litre",
        "10 gallons",
    )
    assert (theme.water_depth(9.8, METRIC), theme.water_depth(25.4, US)) == ("9.8 mm", "1.00 in")
    assert (theme.area(7.2, METRIC), theme.area(9.290304, US)) == ("7.2 m²", "100 ft²")


def at(*moment: int) -> int:
    return int(dt.datetime(*moment, tzinfo=dt.UTC).timestamp() * 1000)


def test_times_are_the_gardens_own_across_a_clock_change() -> None:
    # Lisbon went from UTC+0 to UTC+1 on 28 March 2027 at 1:00 UTC (European Union rule: last Sunday of March)
    before, after = at(2027, 3, 28, 0, 30), at(2027, 3, 28, 1, 30)
    assert theme.clock_words(before, "Europe/Lisbon", METRIC) == "0:30"
    assert theme.clock_words(after, "Europe/Lisbon", METRIC) == "2:30"
    assert theme.day_words(after, "Europe/Lisbon") == "Sunday 28 March"


@pytest.mark.parametrize(("hour", "words"), [(0, "12:05 am"), (9, "9:05 am"), (12, "12:05 pm"), (17, "5:05 pm")])
def test_us_clocks_have_twelve_hours(hour: int, words: str) -> None:
    assert theme.clock_words(at(2027, 4, 13, hour, 5), "UTC", US) == words


@pytest.mark.parametrize(
    ("then", "words"),
    [
        ((2027, 4, 13, 9, 0), "9:00"),
        ((2027, 4, 12, 19, 5), "yesterday 19:05"),
        ((2027, 4, 11, 19, 5), "Sunday 19:05"),
        ((2027, 4, 6, 19, 5), "6 April 19:05"),
        ((2026, 4, 1, 19, 5), "1 April 2026"),
    ],
)
def test_when_something_was_is_told_as_shortly_as_it_is_clear(then: tuple[int, ...], words: str) -> None:
    assert theme.when_words(at(*then), at(2027, 4, 13, 17, 40), "UTC", METRIC) == words
