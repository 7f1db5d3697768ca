"""The house keeps its own rules: what the documents say exists, importing does nothing, every test is found."""

import ast
import importlib
import pkgutil
import re
import socket
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

import collector
import dashboard
from collector import errors

ROOT = Path(__file__).parent.parent
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "docker-compose.yml", "Makefile", "LICENSE", "CHANGELOG.md"}
TOP_LEVEL |= {"collector", "dashboard", "firmware_notes", "tests"}


def modules():
    for package in (collector, dashboard):
        for found in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
            if not found.name.endswith("__main__"):
                yield found.name


def committed_files():
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode:
        pytest.skip("not a git checkout")
    return [line for line in listed.stdout.splitlines() if (ROOT / line).exists()]


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_every_file_that_a_document_names_exists(document):
    named = set(re.findall(r"\b(?:collector|dashboard|firmware_notes|tests)/[\w./]*\w", (ROOT / document).read_text()))
    assert named, "the document names no file at all, so this test looks for the wrong thing"
    assert [name for name in sorted(named) if not (ROOT / name).exists()] == []


def test_the_readme_lists_every_command_and_no_other():
    parser_help = subprocess.run([sys.executable, "-m", "collector", "--help"], capture_output=True, text=True, check=True).stdout
    offered = set(re.findall(r"^    (\w+)(?: |$)", parser_help, re.MULTILINE))
    told = set(re.findall(r"^\| `cooldepth (\w+)`", (ROOT / "README.md").read_text(), re.MULTILINE))
    assert offered == told


def test_the_top_level_holds_nothing_else():
    tops = {Path(name).parts[0] for name in committed_files()}
    assert {top for top in tops if not top.startswith(".")} == TOP_LEVEL


def test_the_error_tree_is_drawn_as_it_grows():
    def tree(kind):
        return {kind.__name__, *(name for sub in kind.__subclasses__() for name in tree(sub))}

    drawing = errors.__doc__.split("\n\n")[1]
    assert set(re.findall(r"\w+Error\b", drawing)) == tree(errors.CooldepthError)


def test_importing_any_module_opens_nothing(monkeypatch):
    def forbidden(*_args, **_kwargs):
        raise AssertionError("a module opened something while it was imported")

    monkeypatch.setattr(sqlite3, "connect", forbidden)
    monkeypatch.setattr(socket.socket, "connect", forbidden)
    monkeypatch.setattr(socket.socket, "bind", forbidden)
    for name in modules():
        importlib.import_module(name)


def test_every_file_that_holds_tests_is_found_by_pytest():
    strays = [
        path
        for path in (ROOT / "tests").rglob("*.py")
        if not path.name.startswith("test_")
        and any(isinstance(node, ast.FunctionDef) and node.name.startswith("test_") for node in ast.parse(path.read_text()).body)
    ]
    assert strays == []


def test_every_module_says_what_it_is():
    silent = [name for name in modules() if not (importlib.import_module(name).__doc__ or "").strip()]
    empty = [name for name in silent if Path(importlib.import_module(name).__file__).stat().st_size == 0]
    assert sorted(set(silent) - set(empty)) == []
