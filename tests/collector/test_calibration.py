"""What a probe's numbers mean: curves by points, what cannot be one, and which holds when."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from collector.calibration import Book, Calibration, Curve, Kind, from_plain, refuse_impossible, to_plain
from collector.errors import QuestionError
from collector.units import Quantity

T, M = Quantity.SOIL_TEMPERATURE, Quantity.SOIL_MOISTURE


def points(*pairs, takes="Cel", **more):
    return Curve(Kind.POINTS, takes, tuple(pairs), **more)


def true(curve, sent, soil_c=None):
    return curve.true(np.atleast_1d(np.array(sent, dtype=float)), soil_c).tolist()


def test_melting_ice_is_an_offset():
    assert true(points((0.4, 0.0)), [0.4, 15.4, -1.0]) == pytest.approx([0.0, 15.0, -1.4])


def test_two_points_are_a_line_and_numpys_own_fit_says_the_same():
    curve, sent = points((0.3, 0.0), (51.2, 50.0)), np.linspace(-20, 80, 50)
    slope, zero = np.polyfit([0.3, 51.2], [0.0, 50.0], 1)
    assert curve.true(sent) == pytest.approx(slope * sent + zero)


@given(
    st.lists(st.tuples(st.floats(0.01, 5.0), st.floats(0.001, 0.5)), min_size=2, max_size=8),
    st.floats(0.0, 1.0),
    st.booleans(),
)
def test_several_points_are_met_and_between_them_it_is_straight_as_numpy_has_it(steps, at, falls):
    sent = np.cumsum([step for step, _ in steps])
    water = np.cumsum([step for _, step in steps]) * (-1 if falls else 1)
    curve = points(*zip(sent.tolist(), water.tolist(), strict=True), takes="V")
    assert curve.true(sent) == pytest.approx(water)
    between = sent[0] + at * (sent[-1] - sent[0])
    assert true(curve, between) == pytest.approx([np.interp(between, sent, water)], abs=1e-9)


def test_beyond_the_points_it_goes_on_straight():
    curve = points((1.0, 0.40), (2.0, 0.20), (3.0, 0.05), takes="V")
    assert true(curve, [0.5, 4.0]) == pytest.approx([0.50, -0.10])


def test_what_it_sends_by_the_soils_warmth_is_taken_off_first():
    curve = points((0.30, 0.10), (0.50, 0.30), takes="V", per_k=0.002, at_c=20.0, thermometer="t10")
    # at 30 °C it sends 0.02 V more of the same water
    assert true(curve, [0.42], 30.0) == pytest.approx([0.20])
    assert true(curve, [0.40], 20.0) == pytest.approx([0.20])
    assert true(curve, [0.40, 0.40], np.array([20.0, np.nan]))[0] == pytest.approx(0.20)
    assert math.isnan(true(curve, [0.40, 0.40], np.array([20.0, np.nan]))[1])


def test_what_is_no_number_stays_none():
    assert np.isnan(true(points((0.0, 0.0), (1.0, 1.0)), [math.nan])).all()


@pytest.mark.parametrize(
    ("curve", "quantity", "told"),
    [
        (points(), T, "0 points; want 1 to 20"),
        (points(*((float(at), float(at)) for at in range(21))), T, "21 points"),
        (points((1.0, 0.0), (1.0, 2.0)), T, "do not rise"),
        (points((2.0, 0.0), (1.0, 2.0)), T, "do not rise"),
        (points((1.0, 0.0), (2.0, 5.0), (3.0, 4.0)), T, "turn around or stand still"),
        (points((1.0, 0.0), (2.0, 0.0)), T, "turn around or stand still"),
        (points((math.nan, 0.0)), T, "a number of the curve is none"),
        (points((0.0, math.inf), (1.0, 2.0)), T, "a number of the curve is none"),
        (points((500.0, 0.2), takes="count"), M, "two are needed"),
        (points((0.4, 0.0), takes="lx"), T, "sends 'Cel', 'Ohm', 'V', 'count', 'mV'"),
        (points((0.4, 0.0), takes="Cel"), M, "sends '/', 'Hz', 'V', 'count', 'mV'"),
        (points((0.4, 0.0), takes="Ohm"), Quantity.RAIN, "sends 'mm'"),
        (points((0.4, 0.1), (0.5, 0.2), takes="V", per_k=0.1), M, "name the thermometer"),
        (Curve(Kind.TOPP, "/"), T, "a curve of unit '/'"),
        (Curve(Kind.TOPP, "V"), M, "is for soil_moisture from '/'"),
        (Curve(Kind.PLATINUM, "Ohm"), T, "has 0 constants; want ohm_at_0_c"),
        (Curve(Kind.PLATINUM, "Ohm", constants=(-1.0,)), T, "wants constants above 0"),
        (Curve(Kind.BETA, "Ohm", constants=(3950.0, 0.0)), T, "wants constants above 0"),
        (Curve(Kind.STEINHART_HART, "Cel", constants=(1.0, 2.0, 3.0)), T, "from 'Ohm', not soil_temperature from 'Cel'"),
    ],
)
def test_what_can_be_no_curve_is_told(curve, quantity, told):
    with pytest.raises(QuestionError, match=told):
        refuse_impossible(curve, quantity)


SOUND = [
    (points((0.4, 0.0)), T),
    (points((0.1, 0.40), (0.9, 0.02), takes="V", per_k=0.001, at_c=18.0, thermometer="t10"), M),
    (Curve(Kind.TOPP, "/"), M),
    (Curve(Kind.PLATINUM, "Ohm", constants=(100.0,)), Quantity.AIR_TEMPERATURE),
    (Curve(Kind.BETA, "Ohm", constants=(3950.0, 10_000.0)), T),
    (Curve(Kind.STEINHART_HART, "Ohm", constants=(1.1e-3, 2.3e-4, 8.8e-8)), T),
]


@pytest.mark.parametrize(("curve", "quantity"), SOUND)
def test_a_sound_curve_is_let_be_and_read_back_as_it_was_written(curve, quantity):
    refuse_impossible(curve, quantity)
    assert from_plain(to_plain(curve)) == curve


# ---------------------------------------------------------------- which holds when

FIRST, SECOND = points((0.4, 0.0)), points((0.6, 0.0))


def test_each_holds_from_its_own_beginning_until_the_next():
    book = Book.of([Calibration("a", 2000, SECOND, 10), Calibration("a", 1000, FIRST, 20), Calibration("b", 0, FIRST, 5)])
    assert [book.curve("a", at) for at in (999, 1000, 1999, 2000, 9999)] == [None, FIRST, FIRST, SECOND, SECOND]
    assert book.curve("b", 0) == FIRST
    assert book.curve("c", 5000) is None


def test_of_two_with_one_beginning_the_later_written_holds_and_what_was_taken_back_does_not():
    both = [Calibration("a", 1000, SECOND, 20, number=2), Calibration("a", 1000, FIRST, 10, number=1)]
    assert Book.of(both).curve("a", 1000) == SECOND
    struck = Calibration("a", 1000, SECOND, 20, number=2, struck_ms=30)
    assert Book.of([struck, both[1]]).curve("a", 1000) == FIRST
    assert Book.of([struck]).curve("a", 1000) is None
