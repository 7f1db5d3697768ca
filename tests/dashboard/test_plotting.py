"""The smaller bundle of plotly.js stands in for the whole one, and only where both are of one version."""

import importlib.resources
from pathlib import Path

import pytest

from dashboard import plotting
from dashboard.app import make_app
from tests.dashboard import fakes

WHOLE = Path(str(importlib.resources.files("plotly") / "package_data" / "plotly.min.js"))
ADDRESS = "/_dash-component-suites/plotly/package_data/plotly.min.v7_1_0m1796093435.js"


def client():
    queries = fakes.one_bed("fine")
    return make_app(queries, queries.garden().garden, None).server.test_client()


def test_both_bundles_are_of_one_version():
    """When plotly is renewed, so is the bundle: `npm pack plotly.js-cartesian-dist-min@` with the version that this tells."""
    assert plotting.version_of(plotting.BUNDLE) == plotting.version_of(WHOLE)


def test_the_smaller_one_is_served_and_the_licence_lies_beside_it():
    answer = client().get(ADDRESS)
    assert answer.data == plotting.BUNDLE.read_bytes()
    assert len(answer.data) < WHOLE.stat().st_size / 3
    assert "max-age" in answer.headers["Cache-Control"]
    assert "MIT" in (plotting.BUNDLE.parent / "plotly-cartesian-LICENSE.txt").read_text()


def test_no_page_loads_it_before_a_chart_is_drawn():
    assert "plotly-cartesian" not in client().get("/").get_data(as_text=True)


@pytest.mark.parametrize("other", [b"plotly.js v0.0.1", b"something else"])
def test_another_version_is_left_to_dash(monkeypatch, tmp_path, other):
    old = tmp_path / "old.js"
    old.write_bytes(other)
    monkeypatch.setattr(plotting, "BUNDLE", old)
    assert client().get(ADDRESS).data != other
