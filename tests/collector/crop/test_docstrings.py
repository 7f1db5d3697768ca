"""Every public function of the crop says its units and its source, and every threshold how well it is founded."""

from __future__ import annotations

import dataclasses
import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator

import pytest

import collector.crop
from collector.crop.cautions import Caution
from collector.crop.daylength import Threshold
from collector.crop.limits import Limit

Function = Callable[..., object]
MODULES = [importlib.import_module(info.name) for info in pkgutil.iter_modules(collector.crop.__path__, "collector.crop.")]


def functions() -> Iterator[tuple[str, Function]]:
    """Public functions, and public methods of public classes; properties are no calls."""
    for module in MODULES:
        for name, thing in vars(module).items():
            if name.startswith("_") or getattr(thing, "__module__", None) != module.__name__:
                continue
            if inspect.isfunction(thing):
                yield f"{module.__name__}.{name}", thing
            elif inspect.isclass(thing):
                for method_name, method in vars(thing).items():
                    if inspect.isfunction(method) and not method_name.startswith("_"):
                        yield f"{module.__name__}.{name}.{method_name}", method


def faults(function: Function) -> list[str]:
    """What the docstring lacks. An argument that is a number, or many, has a [unit]; others are only named."""
    text = inspect.getdoc(function) or ""
    found = [] if "Source:" in text else ["no Source:"]
    if not re.search(r"\[[^\]]+\]", text.split("\n\n", maxsplit=1)[0]) and _numeric(
        inspect.signature(function).return_annotation
    ):
        found.append("no [unit] in its first sentence")
    if "raise " in inspect.getsource(function).split('"""')[-1] and "Raises:" not in text:
        found.append("no Raises:")
    for name, argument in inspect.signature(function).parameters.items():
        if name == "self":
            continue
        line = re.search(rf"^    {name}: (?:.|\n {{8}})*", text, flags=re.MULTILINE)
        if line is None:
            found.append(f"argument {name} is not told")
        elif _numeric(argument.annotation) and not re.search(r"\[[^\]]+\]", line[0]):
            found.append(f"argument {name} has no [unit]")
    return found


def _numeric(annotation: str) -> bool:
    return re.search(r"\b(float|int|Array|Times)\b", str(annotation)) is not None


def thresholds() -> Iterator[tuple[str, Limit | Caution]]:
    """Every limit and caution that a module holds, also inside a frozen value."""
    for module in MODULES:
        for name, thing in vars(module).items():
            yield from _inside(f"{module.__name__}.{name}", thing)


def _inside(name: str, thing: object) -> Iterator[tuple[str, Limit | Caution]]:
    if isinstance(thing, Limit | Caution):
        yield name, thing
    elif dataclasses.is_dataclass(thing) and not isinstance(thing, type):
        for field in dataclasses.fields(thing):
            yield from _inside(f"{name}.{field.name}", getattr(thing, field.name))


ALL = dict(functions())
THRESHOLDS = dict(thresholds())


@pytest.mark.parametrize("name", sorted(ALL))
def test_a_crop_function_is_a_page_of_a_textbook(name: str) -> None:
    assert faults(ALL[name]) == []


def test_the_crop_has_functions_and_thresholds_to_check() -> None:
    assert {"collector.crop.spans.Lines.mean", "collector.crop.feeding.tank", "collector.crop.stage.stage_now"} <= ALL.keys()
    assert {"collector.crop.stage.AUTUMN.bulbing_day.hours", "collector.crop.disease.RUST.run_h"} <= THRESHOLDS.keys()


def test_the_check_finds_what_it_looks_for() -> None:
    def bare(depth_m: float, word: str) -> float:
        """Something.

        Args:
            depth_m: how deep.
        """
        return depth_m

    assert faults(bare) == [
        "no Source:",
        "no [unit] in its first sentence",
        "argument depth_m has no [unit]",
        "argument word is not told",
    ]


@pytest.mark.parametrize("name", sorted(THRESHOLDS))
def test_a_threshold_says_who_says_so(name: str) -> None:
    threshold = THRESHOLDS[name]
    assert len(threshold.source) > 10
    if threshold.evidence.value == "published":  # somebody, or a body, and what they wrote
        assert re.search(r"[A-Z]\w+ .*", threshold.source)
        assert "no source" not in threshold.source
    if threshold.evidence.value == "common practice":
        assert "no source" in threshold.source


def test_a_threshold_of_daylength_carries_its_definition() -> None:
    found = [thing for module in MODULES for thing in vars(module).values() if isinstance(thing, Threshold)]
    assert len(found) >= 3
    assert all(threshold.hours.unit == "h" and threshold.definition is not None for threshold in found)


def test_a_limit_set_by_the_grower_is_told_to_be_the_growers_and_still_tells_the_usual_one() -> None:
    usual = THRESHOLDS["collector.crop.disease.RUST.humid_pct"]
    assert isinstance(usual, Limit)
    own = usual.by_grower(94.0)
    assert own.value == 94.0
    assert own.unit == "%RH"
    assert own.evidence.value == "your own number"
    assert own.source.startswith("set by the grower; the usual is 97 %RH, published: Cornell")
    with pytest.raises(ValueError, match=r"a limit set by the grower is nan; want .* \[%RH\]"):
        usual.by_grower(float("nan"))
