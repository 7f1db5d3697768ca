"""Opens the dashboard of a garden file; the one module here that knows the collector's wiring."""

from __future__ import annotations

import logging
import os
import threading
from collections.abc import Mapping
from contextlib import ExitStack
from contextvars import copy_context
from pathlib import Path
from secrets import token_hex
from typing import Any

import dash

from collector import wiring
from collector.errors import CooldepthError
from dashboard.app import make_app

log = logging.getLogger("cooldepth")

PASSWORD_VARIABLE = "COOLDEPTH_PASSWORD_HASH"
VIEWER_VARIABLE = "COOLDEPTH_VIEWER_HASH"
SECRET_VARIABLE = "COOLDEPTH_SECRET_KEY"


class Pages:
    """The dashboard of a garden file as a WSGI application; when the file says something else, it is that garden's.

    Where what it says then cannot be used, the garden before stays: the collector tells what is wrong.
    """

    def __init__(self, garden_path: Path, environment: Mapping[str, str] | None = None) -> None:
        """Raises CooldepthError where the garden file, the store or a secret cannot be used."""
        self._path = garden_path
        variables = dict(os.environ if environment is None else environment)
        # Whoever is signed in stays so when the pages are made anew.
        self._variables = variables if secret(variables, SECRET_VARIABLE) else {**variables, SECRET_VARIABLE: token_hex(32)}
        self._lock = threading.Lock()
        self._looks = self._look()
        self._opened = [ExitStack()]
        # Dash finds what pages it makes in the context that it was loaded in, and threads have none of their own.
        self._context = copy_context()
        self._app = open_app(garden_path, self._variables, self._opened[0])

    def __call__(self, environ: dict[str, Any], start_response: Any) -> Any:
        """Answer a request (PEP 3333)."""
        if self._look() != self._looks:
            self._follow()
        return self._app.server(environ, start_response)

    def _look(self) -> tuple[int, int, int] | None:
        try:
            found = self._path.stat()
        except OSError:
            return None
        return found.st_mtime_ns, found.st_size, found.st_ino

    def _follow(self) -> None:
        with self._lock:
            looks = self._look()
            if looks == self._looks:
                return
            self._looks = looks
            opened = ExitStack()
            try:
                self._app = self._context.run(open_app, self._path, self._variables, opened)
            except CooldepthError as error:
                log.warning("the pages stay as they were: %s", error)
                opened.close()
                return
            self._opened.append(opened)
            # Those of the garden before may still be asked by a request on its way; those before it no longer.
            while len(self._opened) > 2:
                self._opened.pop(0).close()


def open_app(garden_path: Path, environment: Mapping[str, str] | None = None, opened: ExitStack | None = None) -> dash.Dash:
    """The dashboard of this garden, its secrets taken from the environment (the machine's own if None).

    Raises CooldepthError where the garden file, the store or a secret cannot be used.
    """
    variables = os.environ if environment is None else environment
    garden, queries = wiring.open_queries(garden_path, opened)
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
