"""Differences of beds: their intervals hold what they say, though one day is like the next."""

import math

import numpy as np
import pytest
from scipy.stats import t

from collector.advice.compare import LEAST_DAYS, _student, difference

DAYS = 120


def wandering(luck, like, count=DAYS):
    """A first-order autoregressive course of variance 1."""
    course = np.empty(count)
    course[0] = luck.standard_normal()
    for day in range(1, count):
        course[day] = like * course[day - 1] + math.sqrt(1.0 - like**2) * luck.standard_normal()
    return course


@pytest.mark.parametrize("like", [0.0, 0.5, 0.8])
def test_four_in_five_intervals_hold_the_true_difference_however_alike_the_days_are(like):
    luck = np.random.default_rng(5)
    held = [
        found.low <= 1.5 <= found.high
        for found in (difference(1.5 + wandering(luck, like), np.zeros(DAYS)) for _ in range(1500))
        if found is not None
    ]
    assert len(held) == 1500
    assert 0.76 <= np.mean(held) <= 0.84


def test_an_interval_that_took_the_days_for_independent_would_hold_far_less():
    luck = np.random.default_rng(5)
    naive = []
    for _ in range(500):
        course = wandering(luck, 0.8)
        half = 1.29 * course.std(ddof=1) / math.sqrt(DAYS)
        naive.append(abs(course.mean()) <= half)
    assert np.mean(naive) < 0.5


def test_the_mean_is_that_of_the_common_days():
    first = np.array([10.0, np.nan, 14.0, 15.0])
    found = difference(first, np.array([9.0, 9.0, np.nan, 12.0]))
    assert (found.mean, found.days) == (2.0, 2)
    assert found.sure is None


def test_few_days_have_no_interval_and_none_no_difference():
    assert math.isnan(difference(np.ones(LEAST_DAYS - 1), np.zeros(LEAST_DAYS - 1)).low)
    assert difference(np.array([np.nan]), np.array([1.0])) is None
    with pytest.raises(ValueError, match="courses of 3 and 4 days"):
        difference(np.zeros(3), np.zeros(4))


def test_a_difference_that_never_changes_is_sure():
    found = difference(np.full(30, 2.0), np.zeros(30))
    assert (found.low, found.high, found.sure) == (2.0, 2.0, True)


def test_beds_of_which_none_is_warmer_are_not_said_to_differ():
    luck = np.random.default_rng(8)
    assert difference(wandering(luck, 0.6), wandering(luck, 0.6)).sure is False


@pytest.mark.parametrize("freedom", [2.0, 2.5, 4.0, 9.0, 30.0, 119.0])
def test_students_t_is_that_of_scipy(freedom):
    assert _student(freedom) == pytest.approx(t.ppf(0.9, freedom), rel=0.005)
