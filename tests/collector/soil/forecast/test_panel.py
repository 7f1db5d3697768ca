"""Weights of the members by what was known of their errors, and the band by those of the whole."""

import numpy as np
import pytest

from collector.soil.forecast.bands import LEAST_HALF_BAND_K, daily_change_k, half_widths_k
from collector.soil.forecast.lines import Lines
from collector.soil.forecast.panel import panel_of, weights_of

ORIGINS = np.arange(30) * 24
CHANCE = np.random.default_rng(7)
YES = np.ones((2, 30), dtype=bool)


def errors(*sizes_k):
    return np.stack([size_k * CHANCE.normal(size=(30, 96)) for size_k in sizes_k])


def test_the_better_member_has_the_more_weight():
    weights = weights_of(errors(1.0, 3.0), YES, ORIGINS)
    assert weights[-1, 0] > 0.85
    assert weights.sum(axis=1) == pytest.approx(np.ones(30))
    assert weights.min() >= 0


def test_members_that_err_in_opposite_ways_share_alike():
    one = errors(1.0)[0]
    assert weights_of(np.stack([one, -one]), YES, ORIGINS)[-1] == pytest.approx([0.5, 0.5], abs=0.02)


def test_weights_know_nothing_of_what_came_later():
    early = errors(1.0, 3.0)
    late = early.copy()
    late[0, 20:] *= 50.0
    assert weights_of(late, YES, ORIGINS)[:21] == pytest.approx(weights_of(early, YES, ORIGINS)[:21])
    # the errors of the forecast made at 19 are known only as far as the origin has come
    late = early.copy()
    late[0, 19, 24:] *= 50.0
    assert weights_of(late, YES, ORIGINS)[20] == pytest.approx(weights_of(early, YES, ORIGINS)[20])


def test_a_member_that_cannot_tell_has_no_weight():
    can_tell = YES.copy()
    can_tell[0, -1] = False
    assert weights_of(errors(1.0, 3.0), can_tell, ORIGINS)[-1].tolist() == [0.0, 1.0]


def test_without_a_record_the_members_share_alike():
    assert weights_of(np.full((2, 1, 96), np.nan), YES[:, :1], ORIGINS[:1]).tolist() == [[0.5, 0.5]]


# The middle 80 % of a normal distribution: 1.2816 standard deviations to each side.
def test_the_band_of_normal_errors_holds_80_percent_and_is_somewhat_wider_where_spells_make_them_few():
    by_weather, by_clock = (
        half_widths_k(2.0 * CHANCE.normal(size=(400, 96)), np.arange(400) * 24, 1.0, by_weather=one) / (2.0 * 1.2816)
        for one in (True, False)
    )
    assert by_weather == pytest.approx(np.ones(96), abs=0.12)
    assert by_clock.min() > 0.95
    assert by_clock.max() < 1.25


def test_the_band_never_narrows_with_the_lead_nor_below_what_a_probe_can_tell():
    shrinking = CHANCE.normal(size=(60, 96)) * np.linspace(2.0, 0.5, 96)
    assert (np.diff(half_widths_k(shrinking, np.arange(60) * 24, 1.0, by_weather=True)) >= 0).all()
    assert half_widths_k(np.zeros((60, 96)), np.arange(60) * 24, 0.0, by_weather=True).tolist() == [LEAST_HALF_BAND_K] * 96


def test_the_first_hours_have_a_narrower_band_where_errors_grow():
    growing = CHANCE.normal(size=(60, 96)) * np.linspace(0.5, 3.0, 96)
    half_k = half_widths_k(growing, np.arange(60) * 24, 1.0, by_weather=True)
    assert half_k[1] < 0.9 * half_k[23] < 0.9 * 0.7 * half_k[90]


def test_a_short_record_is_believed_less_than_a_long_one():
    small = np.full((60, 96), 0.3)
    widths = [half_widths_k(small[:days], np.arange(days) * 24, 3.0, by_weather=True)[40] for days in (1, 3, 10, 60)]
    assert widths == sorted(widths, reverse=True)
    assert widths[0] > 0.8
    assert widths[-1] == pytest.approx(0.3, abs=0.1)


def test_the_band_without_any_record_comes_from_the_change_between_days_and_grows_like_a_random_walk():
    nothing = np.full((1, 96), np.nan)
    by_clock, by_weather = (half_widths_k(nothing, np.array([0]), 3.0, by_weather=one) for one in (False, True))
    # one who says that tomorrow is like today is off by 3 K: his band is 1.2816 times that, without weather half as much again
    assert by_clock[23] == pytest.approx(1.5 * 1.2816 * 3.0, rel=0.05)
    assert by_clock[95] == pytest.approx(2.0 * by_clock[23], rel=0.05)
    assert by_weather[23] < by_clock[23] / 2


def test_an_origin_from_which_nobody_could_tell_says_nothing_of_the_band():
    hours = 96
    silent, known = (Lines(np.full((3, hours), 20.0), np.zeros((3, 1, hours))) for _ in range(2))
    silent.free_c[0], known.free_c[0] = np.nan, np.nan
    outcome_c = 20.0 + 0.1 * np.sin(np.arange(49))
    found = panel_of(
        [silent, known], np.zeros((3, 1, hours)), outcome_c, np.ones(49), [0, 24, 48], np.array([0.5, 0.5]), by_weather=True
    )
    # an error of 20 K would have come of a forecast of nothing
    assert found.half_band_k.max() < 1.0


def test_daily_change_is_that_of_one_day_to_the_next():
    assert daily_change_k(np.repeat([10.0, 12.0, 10.0, 12.0], 24)) == pytest.approx(2.0)
    assert daily_change_k(np.full(30, np.nan)) == 2.0
