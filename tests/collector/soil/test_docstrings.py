"""Every public function of the soil says in which unit it answers, what each argument is, and where it comes from."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator

import pytest

import collector.soil

# `profile.py` and `textures.py` are data with questions; a method of a class counts as a function.
Function = Callable[..., object]


def functions() -> Iterator[tuple[str, Function]]:
    """Public functions, and public methods of public classes, defined in the package; properties are no calls."""
    for info in pkgutil.walk_packages(collector.soil.__path__, "collector.soil."):
        module = importlib.import_module(info.name)
        for name, thing in vars(module).items():
            if name.startswith("_") or getattr(thing, "__module__", None) != info.name:
                continue
            if inspect.isfunction(thing):
                yield f"{info.name}.{name}", thing
            elif inspect.isclass(thing):
                for method_name, method in vars(thing).items():
                    if inspect.isfunction(method) and not method_name.startswith("_"):
                        yield f"{info.name}.{name}.{method_name}", method


def faults(function: Function) -> list[str]:
    """What the docstring lacks."""
    text = inspect.getdoc(function) or ""
    first = text.split("\n\n", maxsplit=1)[0]
    found = [] if re.search(r"\[[^\]]+\]", first) else ["no [unit] in its first sentence"]
    if "Source:" not in text:
        found.append("no Source:")
    if "raise " in inspect.getsource(function).split('"""')[-1] and "Raises:" not in text:
        found.append("no Raises:")
    names = [name for name in inspect.signature(function).parameters if name != "self"]
    return found + [f"argument {name} has no [unit]" for name in names if not _has_unit(name, text)]


def _has_unit(name: str, text: str) -> bool:
    """Whether the line of the argument, or one that goes on with it, holds a [unit]."""
    return re.search(rf"^    {name}: (?:.|\n {{8}})*?\[[^\]]+\]", text, flags=re.MULTILINE) is not None


ALL = dict(functions())


@pytest.mark.parametrize("name", sorted(ALL))
def test_a_soil_function_is_a_page_of_a_textbook(name: str) -> None:
    assert faults(ALL[name]) == []


def test_the_soil_has_functions_to_check() -> None:
    assert len(ALL) > 120
    for name in (
        "profile.Profile.at",
        "forecast.model.fit",
        "forecast.drives.clear_sun_w_m2",
        "estimate.waves.RunningWaves.hear",
    ):
        assert f"collector.soil.{name}" in ALL


def test_the_check_finds_what_it_looks_for() -> None:
    def bare(depth_m: float) -> float:
        """Something."""
        return depth_m

    def half(depth_m: float, span_s: float) -> float:
        """Something [m].

        Args:
            depth_m: how deep.
            span_s: how long [s].

        Source: none.
        """
        return depth_m * span_s

    def raising(depth_m: float) -> float:
        """Something [m].

        Args:
            depth_m: how deep [m].

        Source: none.
        """
        if depth_m < 0:
            raise ValueError
        return depth_m

    assert faults(raising) == ["no Raises:"]
    assert faults(bare) == ["no [unit] in its first sentence", "no Source:", "argument depth_m has no [unit]"]
    assert faults(half) == ["argument depth_m has no [unit]"]
