"""What is not known, NaN, put into each argument of each formula: NaN comes out, or it is refused; never a number."""

from __future__ import annotations

import dataclasses
import importlib
import inspect
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from tests.collector.soil.can_be import CAN_BE

CASES = [
    (function, name) for function, call in CAN_BE.items() for name, value in call.items() if isinstance(value, float | tuple)
]


def numbers(answer: Any) -> list[float]:
    """The numbers in an answer, of whatever kind."""
    if dataclasses.is_dataclass(answer) and not isinstance(answer, type):
        return [float(getattr(answer, field.name)) for field in dataclasses.fields(answer)]
    return np.atleast_1d(np.asarray(answer, dtype=np.float64)).tolist()


@pytest.mark.parametrize(("function", "name"), CASES, ids=[f"{function.__name__}-{name}" for function, name in CASES])
def test_what_is_not_known_makes_a_formulas_answer_not_known_or_is_refused(function: Callable[..., Any], name: str) -> None:
    call = CAN_BE[function]
    assert np.isfinite(numbers(function(**call))).all()
    # of several numbers one alone is not known; the third of four readings or stages is enough
    holed = tuple(math.nan if k == 2 else one for k, one in enumerate(call[name])) if isinstance(call[name], tuple) else math.nan
    try:
        answer = numbers(function(**{**call, name: holed}))
    except ValueError as refusal:
        assert name in str(refusal) or "nan" in str(refusal)  # noqa: PT017
    else:
        assert any(math.isnan(one) for one in answer)


def test_no_formula_is_left_out() -> None:
    modules = (
        "covers",
        "thermal",
        "radiation",
        "evapotranspiration",
        "water",
        "crop_coefficient",
        "dual_coefficient",
        "root_depth",
    )
    for name in modules:
        module = importlib.import_module(f"collector.soil.{name}")
        for function_name, function in inspect.getmembers(module, inspect.isfunction):
            own = function.__module__ == module.__name__ and not function_name.startswith("_")
            # names and series are in the tables below
            if own and function_name not in {"material_of", "heat_sum_k_d"}:
                assert function in CAN_BE, function_name


@pytest.mark.parametrize(
    "function", [f for f in CAN_BE if "Floats" in str(inspect.signature(f))], ids=lambda function: function.__name__
)
def test_one_that_is_not_known_among_many_stays_alone(function: Callable[..., Any]) -> None:
    call = CAN_BE[function]
    annotations = {name: str(one.annotation) for name, one in inspect.signature(function).parameters.items()}
    many = {name: np.array([call[name], math.nan, call[name]]) if annotations[name] == "Floats" else call[name] for name in call}
    answer = function(**many)
    assert np.isnan(answer).tolist() == [False, True, False]
    assert answer[[0, 2]] == pytest.approx(function(**call))
