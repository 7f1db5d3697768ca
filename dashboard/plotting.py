"""Charts are drawn by the part of plotly.js that draws in two axes: a third of the whole, and drawn in half the time.

It is plotly's own bundle (npm plotly.js-cartesian-dist-min, MIT licence beside it), served in the place of the whole one where
both are of one version; else the whole one is served, as dash does by itself.
"""

from __future__ import annotations

import importlib.resources
import re
from functools import cache
from pathlib import Path

import flask
from werkzeug.wrappers import Response

BUNDLE = Path(__file__).parent / "assets" / "vendor" / "plotly-cartesian.min.js"
_WHOLE = re.compile(r"/_dash-component-suites/plotly/package_data/plotly\.min\.[\w.]*js")
# What a page with charts loads when it is drawn; it may as well come while dash itself does.
_LOADED_LATE = ("/_dash-component-suites/plotly/package_data/plotly.min.js", "/_dash-component-suites/dash/dcc/async-graph.js")
EARLY = "".join(f'<link rel="preload" as="script" href="{path}">' for path in _LOADED_LATE)
_VERSION = re.compile(rb"plotly\.js (?:\([^)]*\) )?v([\d.]+)")
_YEAR_S = 31_536_000


def register(server: flask.Flask) -> None:
    """Serve the smaller bundle in the place of the whole one; to be called after whatever guards the server."""
    if version_of(BUNDLE) == version_of(Path(str(importlib.resources.files("plotly") / "package_data" / "plotly.min.js"))):
        server.before_request(_smaller)


def version_of(bundle: Path) -> str | None:
    """The version that a bundle of plotly.js says it is; None where it says none."""
    with bundle.open("rb") as file:
        found = _VERSION.search(file.read(1000))
    return found.group(1).decode() if found else None


def _smaller() -> Response | None:
    if not _WHOLE.fullmatch(flask.request.path):
        return None
    answer = flask.Response(_script(), mimetype="text/javascript")
    answer.headers["Cache-Control"] = f"public, max-age={_YEAR_S}"  # its address names the version and when it was installed
    return answer


@cache
def _script() -> bytes:
    return BUNDLE.read_bytes()
