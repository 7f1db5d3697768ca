"""Bad input to the parts that the soil's larger questions are made of; and that no public function is left out of such tests."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from types import CodeType, ModuleType
from typing import Any

import numpy as np
import pytest

from collector.soil import demand, dry_down, ground, heat, modes, root_zone, wetting
from collector.soil.arrays import mean_known
from collector.soil.estimate import column, drifting, dug_up, filter, season, waves
from collector.soil.estimate.ground import doubled
from collector.soil.forecast import bands, banks, doubt, drives, inputs, learning, lines, panel, recent
from collector.soil.profile import Profile, profile_of
from tests.collector.soil import test_bad_input, test_not_known
from tests.collector.soil.can_be import CAN_BE
from tests.collector.soil.forecast import made
from tests.collector.soil.test_docstrings import ALL

NAN = math.nan
NOTHING = np.empty(0)
DAY_MS = 24 * inputs.HOUR_MS
HOURS = made.START_MS + inputs.HOUR_MS * np.arange(72, dtype=np.int64)

COLUMN = heat.Column(np.array([0.01, 0.04, 0.10]), np.array([0.02, 0.04, 0.08]), np.ones(3), 2e6 * np.ones(3))
CELLS_C = np.array([20.0, 18.0, 16.0])
MODES = modes.modes_of(COLUMN, 10.0, False)
AIR = heat.Surface(25.0, 10.0)
BED = ground.column_of(ground.Ground("loam", 0.2), 2.0, 0.0)

STAKE = [season.Thermometer(depth_m, HOURS, np.full(72, 20.0)) for depth_m in (0.05, 0.1, 0.2)]
KNOWN = season.temperatures_at(STAKE, int(HOURS[-1]))
assert KNOWN is not None
CUT = column.column_of(KNOWN, Profile((0.05, 0.1, 0.2), (20.0, 19.0, 18.0)))

ORIGINS = np.array([0, 24, 48])
LINES = lines.Lines(np.full((3, 24), 20.0), np.zeros((3, 1, 24)))
AHEAD = np.zeros((3, 1, 24))
BANK = banks.filter_bank(np.sin(np.arange(49.0))[:, None], ORIGINS.tolist(), 24)
FEATURES = BANK.features.shape[1]
WEATHER = drives.HourlyWeather({inputs.AIR_C: np.full(24, 20.0), inputs.SUN_W_M2: np.full(24, 300.0)}, np.ones(24))
ZONE = root_zone.RootZone(0.3, 0.1, 0.3)
DRY = dry_down.fit(ZONE, HOURS, [0.1], np.full((72, 1), 0.25), np.full(72, 0.2))


def learnt(target_c: Any, origins: Any, trust: Any = 49, expected: Any = FEATURES) -> lines.Lines:
    """What a bank of 49 hours teaches."""
    return learning.learned(BANK, target_c, np.ones(trust), origins, 24.0, 3.0, np.zeros(expected))


def panelled(**changed: Any) -> panel.Panel:
    """A panel of two members, with something changed."""
    usual: dict[str, Any] = {
        "members": [LINES, LINES], "ahead": AHEAD, "outcome_c": np.full(49, 20.0), "trust": np.ones(49),
        "origins": ORIGINS.tolist(), "first_guess": np.array([0.5, 0.5]),
    }  # fmt: skip
    return panel.panel_of(**{**usual, **changed}, by_weather=True)


REFUSED: dict[str, tuple[Callable[[], Any], str]] = {
    "days that do not fit the probes": (lambda: drifting.drifting([0.1, 0.2, 0.3], np.zeros((40, 2))), "days by 3 probes"),
    "probes out of their order": (lambda: drifting.drifting([0.3, 0.2, 0.1], np.zeros((40, 3))), "shallowest thermometer first"),
    # columns
    "a column without an end": (lambda: heat.cells_m([], math.inf), "soil_m inf"),
    "cells that grow without end": (lambda: heat.cells_m([], 1.0, growth=math.inf), "growth inf"),
    "the flow into other cells": (lambda: heat.surface_flow_w_m2(COLUMN, CELLS_C[:2], AIR), r"cells_c has shape \(2,\); want"),
    "the flow through a conductance below 0": (
        lambda: heat.surface_flow_w_m2(COLUMN, CELLS_C, heat.Surface(20.0, -1.0)), "conductance_w_m2_k is -1.0",
    ),
    "the heat of other cells": (lambda: heat.stored_heat_j_m2(COLUMN, CELLS_C[:1]), r"cells_c has shape \(1,\); want"),
    "the temperature of other cells": (lambda: heat.temperature_at_c(COLUMN, CELLS_C[:2], 0.05), r"cells_c has shape \(2,\)"),
    "links at a conductance of NaN": (lambda: heat.links_of(COLUMN, NAN, False), "conductance_w_m2_k is nan; want 0"),
    "a transition of no time": (lambda: heat.transition(COLUMN, 10.0, False, 0.0), "step_s is 0.0; want more than 0"),
    "a transition of NaN": (lambda: heat.transition(COLUMN, 10.0, False, NAN), "step_s is nan"),
    "shapes at a conductance of NaN": (lambda: modes.modes_of(COLUMN, NAN, False), "conductance_w_m2_k is nan; want 0"),
    "shapes seen by other cells": (
        lambda: modes.follow_c(MODES, CELLS_C, modes.held(np.zeros(4)), None, 60.0, np.zeros((1, 2))), "seen has shape",
    ),
    "a bed seen below it": (lambda: ground.seen_at(BED, np.array([0.1, 1.6])), "want one or more, each 0 to 1.5"),
    "a bed seen nowhere": (lambda: ground.seen_at(BED, np.array([NAN])), "each 0 to 1.5"),
    "a bed seen at no depth": (lambda: ground.seen_at(BED, NOTHING), "want one or more"),
    # arrays
    "a mean of nothing": (lambda: mean_known([]), "at least one array"),
    "a mean over other places": (lambda: mean_known([np.ones(2), np.ones(3)]), "same shape"),
    # profiles
    "a profile of no depth": (lambda: Profile((), ()), "want one depth or more"),
    "a profile of two lengths": (lambda: Profile((0.1, 0.2), (20.0,)), "and a value for each"),
    "a profile out of order": (lambda: Profile((0.2, 0.1), (20.0, 18.0)), "want them strictly increasing"),
    "a profile with a depth twice": (lambda: Profile((0.1, 0.1), (20.0, 18.0)), "want them strictly increasing"),
    "a profile at no known depth": (lambda: Profile((NAN,), (20.0,)), "depths_m"),
    # water
    "steps that make no day": (lambda: demand.even_step_ms(np.array([0, 7 * 3_600_000])), "a part of a day"),
    "one step alone": (lambda: demand.even_step_ms(HOURS[:1]), "want two or more"),
    "steps that come twice": (lambda: demand.even_step_ms(np.array([0, 0, 0])), "ascending"),
    "a day of no steps, to fill": (lambda: demand.filled_by_day_mm(np.ones(4), 0), "steps_a_day is 0; want 1"),
    "a day of no steps, as usual": (lambda: demand.usual_day_mm(np.ones(4), np.zeros(4), 0), "steps_a_day is 0"),
    "a day of no steps, around": (lambda: demand.daily_mm(np.ones(4), 0), "steps_a_day is 0"),
    "a usual day of nothing": (lambda: demand.usual_day_mm(NOTHING, NOTHING, 24), "0 amounts, 0 gains; want"),
    "a usual day of other gains": (lambda: demand.usual_day_mm(np.ones(48), np.zeros(24), 24), "48 amounts, 24 gains"),
    "amounts of other steps": (lambda: demand.amounts_mm(np.ones(3), HOURS, "rain_mm"), r"rain_mm has shape \(3,\)"),
    "a dry-down of no days": (lambda: dry_down.ahead(DRY, 0), "days is 0; want 1 or more"),
    "a refill line of NaN": (lambda: dry_down.ahead(DRY, 3, line_mm=NAN), "line_mm is nan; want 0 or more"),
    "a coming demand below 0": (lambda: dry_down.ahead(DRY, 1, np.full(24, -0.1)), "reference_mm holds -0.1"),
    "a coming rain below 0": (lambda: dry_down.ahead(DRY, 1, gain_mm=np.full(24, -1.0)), "gain_mm holds -1.0"),
    "readings that are NaN, to steady": (lambda: wetting.steadied(np.array([0.2, 0.3, NAN])), "values holds NaN"),
    "watering of no roots": (lambda: wetting.flow((), 0.0, 0.3), "root_depth_m is 0.0; want more than 0"),
    # estimate
    "a curve below the column": (lambda: column.through_probes(KNOWN, np.array([1.6])), "want depths from 0 to 1.5"),
    "a curve at no known depth": (lambda: KNOWN.over(np.array([NAN])), "want depths from 0 to 1.5"),
    "states seen below the column": (lambda: KNOWN.ground.rows(np.array([0.1, 1.6])), "want depths from 0 to 1.5"),
    "other probes than there are": (lambda: filter.Estimator([0.1]).compare(0, np.zeros(2)), "one value for each of 1"),
    "a reading without an end": (lambda: filter.Estimator([0.1]).hear(0, np.array([math.inf])), "or NaN for what is missing"),
    "waves of other probes": (
        lambda: waves.RunningWaves(np.array([0.1]), np.array([5e-7])).hear(0, np.zeros(2)), "one value for each of 1 probes",
    ),
    "moments of seven minutes": (lambda: season.moments_of(STAKE, 420_000), "every_ms is 420000; want a multiple"),
    # forecast
    "a band of no forecasts": (
        lambda: bands.half_widths_k(np.empty((0, 24)), np.empty(0, dtype=np.int64), 1.0, by_weather=True), "one or more",
    ),
    "a band of origins out of order": (
        lambda: bands.half_widths_k(np.zeros((3, 24)), ORIGINS[::-1], 1.0, by_weather=True), "ascending origins",
    ),
    "a band by a change that is NaN": (
        lambda: bands.half_widths_k(np.zeros((3, 24)), ORIGINS, NAN, by_weather=True), "daily_change_k is nan",
    ),
    "trust in no hour": (lambda: banks.settled(NOTHING), "want one or more, each from 0 to 1"),
    "trust of NaN": (lambda: banks.settled(np.array([1.0, NAN])), "each from 0 to 1"),
    "a doubt of an unknown air": (
        lambda: doubt.spread_k(np.zeros((1, 24)), drives.HourlyWeather({}, np.zeros(24)), lambda _: AHEAD[0].T, doubt.Doubt()),
        "no columns; want air_temperature_c",
    ),
    "a doubt of other drives": (
        lambda: doubt.spread_k(np.zeros((1, 24)), WEATHER, lambda w: drives.drives_of(w, np.full(24, 500.0)), doubt.Doubt()),
        r"response has shape \(1, 24\), drives \(24, 3\)",
    ),
    "a sun by no air": (lambda: drives.sun_by_air_w_m2(NOTHING, NOTHING, 60.0), "want as many of both, one or more"),
    "a sun by other hours of air": (lambda: drives.sun_by_air_w_m2(np.full(48, 20.0), np.ones(24), 60.0), "48 air .* 24 suns"),
    "a weather ahead on no grid": (
        lambda: drives.weather_ahead(inputs.Weather(), WEATHER, np.empty(0, dtype=np.int64), made.SITE), "grid_ms of 0 times",
    ),
    "drives of other hours": (lambda: drives.drives_of(WEATHER, np.ones(12)), r"clear_sun \(12,\); want one"),
    "two drives": (lambda: drives.expected_of(2), "drives is 2; want 1"),
    "no drives": (lambda: drives.expected_of(0), "drives is 0; want 1"),
    "hours that are not in a row": (lambda: inputs.hours_in_a_row(HOURS[::2]), "each 3600000 ms after the one before"),
    "to learn from other hours": (lambda: learnt(np.zeros(48), ORIGINS), r"target_c has shape \(48,\)"),
    "to learn with other trust": (lambda: learnt(np.zeros(49), ORIGINS, trust=48), r"trust \(48,\)"),
    "to learn other features": (lambda: learnt(np.zeros(49), ORIGINS, expected=2), r"expected \(2,\)"),
    "to learn from no origin": (lambda: learnt(np.zeros(49), []), "want 3 rows of the 49 hours"),
    "to learn out of order": (lambda: learnt(np.zeros(49), [48, 24, 0]), "ascending"),
    "to learn from what is to come": (lambda: learnt(np.zeros(49), [0, 24, 49]), "want 3 rows of the 49 hours"),
    "a forecast under other drives": (lambda: lines.forecasts_c(LINES, AHEAD[:1]), r"ahead has shape \(1, 1, 24\); want"),
    "a panel of nobody": (lambda: panelled(members=[], first_guess=NOTHING), "0 members"),
    "a first guess of another panel": (lambda: panelled(first_guess=np.ones(3) / 3.0), "want one share for each"),
    "a panel of other trust": (lambda: panelled(trust=np.ones(48)), "want trust for each hour"),
    "a panel that ends before the last hour": (lambda: panelled(outcome_c=np.zeros(60), trust=np.ones(60)), "is the last hour"),
    "weights of origins out of order": (
        lambda: panel.weights_of(np.zeros((2, 3, 96)), np.ones((2, 3), dtype=bool), ORIGINS[::-1]), "want 3 ascending",
    ),
    "weights of other origins": (
        lambda: panel.weights_of(np.zeros((2, 3, 96)), np.ones((2, 3), dtype=bool), ORIGINS[:2]), "want 3 ascending",
    ),
    "no last day": (lambda: recent.recent(np.zeros(49), [48], 24, 1, 0), "days is 0"),
    "a last day from what is to come": (lambda: recent.recent(np.zeros(49), [49], 24, 1, 1), "rows of the 49 values"),
}  # fmt: skip


@pytest.mark.parametrize("what", REFUSED)
def test_what_cannot_be_is_refused_in_words(what: str) -> None:
    call, words = REFUSED[what]
    with pytest.raises(ValueError, match=words):
        call()


def test_a_cell_that_is_not_known_makes_sums_and_flows_unknown() -> None:
    holed_c = np.array([NAN, 18.0, 16.0])
    assert math.isnan(heat.stored_heat_j_m2(COLUMN, holed_c))
    assert math.isnan(heat.surface_flow_w_m2(COLUMN, holed_c, AIR))
    assert math.isnan(heat.surface_flow_w_m2(COLUMN, CELLS_C, heat.Surface(NAN, 10.0)))


def test_a_conductance_of_nothing_lets_nothing_through_and_a_cover_of_nothing_does_not_lie() -> None:
    assert heat.links_of(COLUMN, 0.0, False).top == 0.0
    assert np.isfinite(heat.links_of(COLUMN, 0.0, False).diagonal()).all()
    assert ground.Ground("loam", 0.2, (("straw", 0.0), ("compost", 0.0009))).lying() == []


def test_courses_of_one_moment_or_none_make_no_steps_and_a_gap_reaches_both_its_steps() -> None:
    for few in (NOTHING, np.array([20.0])):
        assert modes.between(few).shape == (0, 2)
    assert np.isnan(modes.between(np.array([1.0, NAN, 3.0]))).tolist() == [[False, True], [True, False]]


def test_a_mean_is_that_of_what_is_known_and_unknown_where_nothing_is() -> None:
    found = mean_known([np.array([1.0, NAN, NAN]), np.array([3.0, 4.0, NAN])])
    assert found[:2].tolist() == [2.0, 4.0]
    assert math.isnan(found[2])


def test_amounts_that_are_not_known_are_filled_by_other_days_and_make_the_day_around_them_unknown() -> None:
    two_days = np.array([1.0, 2.0, NAN, 4.0])
    assert demand.filled_by_day_mm(two_days, 2).tolist() == [1.0, 2.0, 1.0, 4.0]
    assert demand.filled_by_day_mm(np.array([NAN, NAN]), 2).tolist() == [demand.UNTOLD_MM_D / 2] * 2
    assert demand.filled_by_day_mm(NOTHING, 24).size == demand.daily_mm(NOTHING, 24).size == 0
    assert np.isnan(demand.usual_day_mm(two_days, np.zeros(4), 2)).tolist() == [True, False]
    assert demand.usual_day_mm(np.array([1.0, 1.0, 3.0, 3.0]), np.array([0.0, 0.0, NAN, 0.0]), 2).tolist() == [1.0, 1.0]
    assert np.isnan(demand.daily_mm(np.array([1.0, 1.0, 1.0, 1.0, NAN]), 3)).tolist() == [False, False, False, True, True]


def test_silent_probes_tell_nothing_of_how_far_water_came() -> None:
    silent = wetting.Answer(0.2, NAN, NAN, None, drained=False)
    for found in ((), (silent,)):
        assert wetting.reached_m(found) == (0.0, None)
        assert wetting.flow(found, 0.3, 0.3) is wetting.Flow.NOT_KNOWN
    quiet = replace(silent, before_m3_m3=0.29, rise_m3_m3=0.0)
    assert wetting.flow((quiet,), 0.3, NAN) is wetting.Flow.GO_ON
    assert wetting.steadied(NOTHING).size == 0


def test_a_limit_that_is_not_known_is_crossed_nowhere() -> None:
    assert KNOWN.crossings(NAN) == CUT.crossings(NAN) == ()
    profile = profile_of([(0.1, 20.0), (0.2, 15.0)])
    assert profile is not None
    assert profile.crossings(NAN) == ()
    assert profile.crossings(18.0) != ()


def test_an_estimator_that_heard_nothing_knows_nothing_and_neither_does_its_branch() -> None:
    silent = filter.Estimator([0.1, 0.2])
    silent.hear(0, np.array([NAN, NAN]))
    for one in (silent, silent.branch()):
        assert one.estimate(DAY_MS) is None
        assert one.compare(DAY_MS, np.array([20.0, NAN])) is None
    heard = silent.branch()
    heard.hear(0, np.array([20.0, NAN]))
    departure = heard.compare(600_000, np.array([20.0, NAN]))
    assert departure is not None
    assert np.isnan(departure.off_k).tolist() == [False, True]
    with pytest.raises(ValueError, match="before the last one heard"):
        heard.hear(-DAY_MS, np.array([20.0, 20.0]))


def test_readings_that_are_not_known_move_no_wave() -> None:
    diffusivities_m2_s = np.array([3e-7, 6e-7, 9e-7])
    running = waves.RunningWaves(np.array([0.1, 0.2]), diffusivities_m2_s)
    before, misfit2 = running.weights().copy(), running.misfit2()
    for time_ms in HOURS.tolist():
        running.hear(time_ms, np.full(2, NAN))
    assert running.weights().tolist() == before.tolist()
    assert before.sum() == pytest.approx(1.0)
    assert running.misfit2() == misfit2
    assert all(np.isnan(one).all() for one in doubled(np.full((2, 2), NAN), np.eye(2)))


def test_a_stake_is_told_in_the_order_of_times_and_air_that_is_not_known_is_none() -> None:
    watch = dug_up.StakeWatch([0.1, 0.2])
    watch.hear(DAY_MS, np.array([20.0, NAN]))
    with pytest.raises(ValueError, match="want readings in order"):
        watch.hear(0, np.array([20.0, 20.0]))
    with pytest.raises(ValueError, match="one value for each of 2 probes"):
        watch.hear(2 * DAY_MS, np.array([20.0]))
    assert watch.spans == ()
    air = season.Thermometer(0.0, np.array([0, 3_600_000]), np.array([15.0, NAN]))
    assert [dug_up.air_at_c(air, time_ms) for time_ms in (-1, 0, 3_600_000, DAY_MS)] == [None, 15.0, None, None]
    assert dug_up.air_at_c(None, 0) is None


def test_where_there_is_too_little_the_forecasts_parts_say_so_and_fill_nothing_in() -> None:
    assert bands.daily_change_k(NOTHING) == bands.daily_change_k(np.full(72, NAN)) == 2.0
    assert bands.half_widths_k(np.full((3, 24), NAN), ORIGINS, 1.0, by_weather=True).min() >= bands.LEAST_HALF_BAND_K
    assert np.isfinite(learnt(np.full(49, 20.0), ORIGINS).free_c[-1]).all()
    assert np.isnan(learnt(np.full(49, NAN), ORIGINS).free_c).all()
    assert panelled().free_c == pytest.approx(20.0)
    assert panelled(outcome_c=np.full(49, NAN)).free_c == pytest.approx(20.0)
    assert np.isnan(recent.recent(np.full(49, NAN), [48], 24, 1, 1).free_c).all()
    assert np.isnan(lines.forecasts_c(LINES, np.full((3, 1, 24), NAN))).all()
    assert drives.fill_across_days(NOTHING).size == drives.clear_sun_w_m2(np.empty(0, dtype=np.int64), made.SITE).size == 0
    assert np.isnan(drives.fill_across_days(np.full(30, NAN))).all()
    holed_c = np.where(np.arange(96) == 48, NAN, 20.0 + np.arange(96) % 24)
    sun = drives.sun_by_air_w_m2(holed_c, np.full(96, 500.0), 60.0)
    assert np.flatnonzero(np.isnan(sun)).tolist() == list(range(37, 61))
    air_c = np.where(np.arange(24) == 7, NAN, 20.0)
    holed = drives.HourlyWeather({**WEATHER.columns, inputs.AIR_C: air_c}, np.ones(24))
    assert np.flatnonzero(np.isnan(drives.drives_of(holed, np.full(24, 500.0))).any(axis=1)).tolist() == [7]


# ---------------------------------------------------------------- none is left out


def called(module: ModuleType) -> Iterator[str]:
    """Names of the functions and methods that a module's tests and tables call."""

    def names(code: CodeType) -> Iterator[str]:
        yield from code.co_names
        for one in code.co_consts:
            if isinstance(one, CodeType):
                yield from names(one)

    for thing in vars(module).values():
        if getattr(thing, "__module__", None) == module.__name__ and hasattr(thing, "__code__"):
            yield from names(thing.__code__)
    for call, _ in getattr(module, "REFUSED", {}).values():
        yield from names(call.__code__)


def test_no_public_function_of_the_soil_is_left_out() -> None:
    """By name alone: two methods of one name count as one."""
    modules = (test_bad_input, test_not_known, sys.modules[__name__])
    seen = {name for module in modules for name in called(module)}
    assert [name for name, one in ALL.items() if one not in CAN_BE and name.rsplit(".", 1)[-1] not in seen] == []
