"""Opens the dashboard of a garden file; the one module here that knows the collector's wiring."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

import dash

from collector import wiring
from collector.errors import CooldepthError
from dashboard.app import make_app

PASSWORD_VARIABLE = "COOLDEPTH_PASSWORD_HASH"
VIEWER_VARIABLE = "COOLDEPTH_VIEWER_HASH"
SECRET_VARIABLE = "COOLDEPTH_SECRET_KEY"


def open_app(garden_path: Path, environment: Mapping[str, str] | None = None) -> dash.Dash:
    """The dashboard of this garden, its secrets taken from the environment (the machine's own if None).

    Raises CooldepthError where the garden file, the store or a secret cannot be used.
    """
    variables = os.environ if environment is None else environment
    garden, queries = wiring.open_queries(garden_path)
    password_hash, viewer_hash, key = (secret(variables, name) for name in (PASSWORD_VARIABLE, VIEWER_VARIABLE, SECRET_VARIABLE))
    return make_app(queries, garden, password_hash, key, viewer_hash)


def secret(environment: Mapping[str, str], name: str) -> str | None:
    """The value of variable `name`, or what stands in the file that `name`_FILE names; None where neither is set."""
    value = environment.get(name)
    if value:
        return value
    path = environment.get(f"{name}_FILE")
    if not path:
        return None
    try:
        text = Path(path).read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise CooldepthError(f"{name}_FILE names {path}, which cannot be read: {error}.") from error
    if not text:
        raise CooldepthError(f"{name}_FILE names {path}, which is empty; want the secret on one line.")
    return text
