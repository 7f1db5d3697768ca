"""The licences of what Cooldepth stands on: what is installed, by its own word, is what DEVELOPERS.md says, and may be used."""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

from packaging.requirements import Requirement

ROOT = Path(__file__).parent.parent
# Licences that let a program under Apache-2.0 be built on theirs, by the names that packages use for them.
FAMILIES = {
    "Apache-2.0": ("apache",),
    "BSD": ("bsd", "0bsd"),
    "EPL-2.0 or BSD": ("epl-2.0 or bsd",),
    "ISC": ("isc",),
    "MIT": ("mit",),
    "MPL-2.0": ("mpl", "mozilla public license 2.0"),
    "PSF-2.0": ("psf", "python software foundation"),
    "ZPL-2.1": ("zpl", "zope public license"),
}


def normal(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def said(one: Distribution) -> str:
    """What a package says of its licence: the expression, else the field, else the classifiers."""
    about = one.metadata
    field = (about.get("License") or "").strip()
    classes = [name.split("::")[-1].strip() for name in about.get_all("Classifier") or [] if name.startswith("License ::")]
    return about.get("License-Expression") or (field if 0 < len(field) < 60 else "") or " or ".join(classes)


def family(text: str) -> str | None:
    """Which family a package's word belongs to; of several that hold together, the first that is named."""
    lower = text.lower()
    found = [(lower.find(sign), name) for name, signs in FAMILIES.items() for sign in signs if sign in lower]
    if "epl-2.0 or bsd" in lower:
        return "EPL-2.0 or BSD"
    return min(found)[1] if found else None


def needed() -> dict[str, Distribution]:
    """Every package that the program needs where it is installed, extras of its own included, by its normal name."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    extras = [one for name, several in project["optional-dependencies"].items() if name != "dev" for one in several]
    found: dict[str, Distribution] = {}
    waiting = [Requirement(text) for text in (*project["dependencies"], *extras)]
    while waiting:
        wanted = waiting.pop()
        name = normal(wanted.name)
        if name in found or (wanted.marker is not None and not wanted.marker.evaluate({"extra": ""})):
            continue
        try:
            found[name] = distribution(wanted.name)
        except PackageNotFoundError:
            continue
        waiting += [Requirement(text) for text in found[name].requires or []]
    return found


def table() -> dict[str, str]:
    """Family by package, as DEVELOPERS.md says it."""
    part = (ROOT / "DEVELOPERS.md").read_text().split("## Licences of what it stands on")[1].split("\n## ")[0]
    rows = re.findall(r"^\| ([\w. -]+) \| ([\w., -]+) \|$", part, re.MULTILINE)
    return {name.strip(): licence for licence, names in rows if licence != "licence" for name in names.split(",")}


def written() -> str:
    """The rows of that table, from what is installed."""
    by_family: dict[str, list[str]] = {}
    for name, one in sorted(needed().items()):
        by_family.setdefault(family(said(one)) or "?", []).append(name)
    return "\n".join(f"| {name} | {', '.join(several)} |" for name, several in sorted(by_family.items()))


def test_every_package_says_its_licence_and_it_is_one_that_fits() -> None:
    packages = needed()
    assert len(packages) > 30
    assert {name: said(one) for name, one in packages.items() if family(said(one)) is None} == {}


def test_the_table_names_each_with_its_licence() -> None:
    told = table()
    assert {name: family(said(one)) for name, one in needed().items()} == {name: told.get(name) for name in needed()}


if __name__ == "__main__":
    print(written())  # noqa: T201
