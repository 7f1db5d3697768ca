"""Builds the dashboard: one Dash app that asks one `SoilQueries`."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import dash
import flask
from dash import Dash
from flask import Response

from collector.clock import SystemClock
from collector.errors import CooldepthError
from collector.model import Garden
from collector.query import MOST_PICTURE_BYTES, SoilQueries
from dashboard import plotting, shell, sign_in, view_state
from dashboard.at_first import AtFirst
from dashboard.for_whom import for_whom
from dashboard.pages import (
    answer,
    bed,
    beds,
    compare,
    feed,
    journal,
    last_known,
    mounting,
    notices,
    season,
    stakes,
    today,
    what_if,
)

HEALTH = "/health"
ASSETS = Path(__file__).parent / "assets"
DRAWING = frozenset({".css", ".svg", ".woff2"})  # what the sign-in page is drawn with
LARGEST_REQUEST_BYTES = 1024 * 1024
# What a form of the journal with the largest picture takes on its way, in base 64.
LARGEST_CALLBACK_BYTES = LARGEST_REQUEST_BYTES + MOST_PICTURE_BYTES * 4 // 3
CALLBACKS = "/_dash-update-component"


class _Pages(Dash):
    """Dash, with something that stands in the page at first, and its scripts after that."""

    at_first: AtFirst

    def interpolate_index(self, **parts: Any) -> str:  # type: ignore[override]  # dash calls it so
        """The page that is sent first. Scripts run in their order when all of it is there, and hold nothing of it up."""
        parts["scripts"] = parts["scripts"].replace("<script src=", "<script defer src=")
        # A script within the page that is to wait its turn has to be a module.
        parts["renderer"] = parts["renderer"].replace('type="application/javascript"', 'type="module"')
        if flask.request.path.startswith(f"{view_state.BEDS_OWN}/"):
            parts["css"] += plotting.EARLY
        page: str = super().interpolate_index(**parts)  # type: ignore[no-untyped-call]
        return page.replace("{%at_first%}", self.at_first.page())


def make_app(
    asked: SoilQueries,
    garden: Garden,
    password_hash: str | None,
    secret_key: str | None = None,
    viewer_hash: str | None = None,
) -> Dash:
    """The dashboard of one garden.

    Without a password it answers this computer only; with one it asks for it. Sessions
    outlive the process only where a secret key is given. Whoever signs in with the viewer's password may only look.
    """
    queries = for_whom(asked)
    dash.page_registry.clear()  # dash keeps it for the process, and tests make many apps in one
    app = _Pages(
        "dashboard",
        title="Cooldepth",
        use_pages=True,
        pages_folder="",
        include_pages_meta=False,
        suppress_callback_exceptions=True,  # most ids are on one page only
        update_title="",
        compress=True,
        index_string=shell.INDEX,
        assets_ignore=r"(service-worker|last-known|plotly-cartesian\.min)\.js",  # they are not for the pages that dash makes
    )
    for page in (today, beds, bed, what_if, season, compare, feed, journal, stakes, mounting, notices):
        page.register(app, queries)
    shell.register(app, queries, garden)
    app.at_first = AtFirst(queries, garden, may_sign_out=password_hash is not None)
    app.at_first.register(app.server)
    app.layout = lambda: shell.frame(garden, may_sign_out=password_hash is not None, may_write=sign_in.may_write())
    app.server.config["MAX_CONTENT_LENGTH"] = LARGEST_REQUEST_BYTES
    app.server.config["COMPRESS_STREAMS"] = False  # flask-compress leaves streamed files open; ours are small
    _answer_health(app, queries)
    drawn_with = frozenset(f"/assets/{file.name}" for file in ASSETS.iterdir() if file.suffix in DRAWING)
    sheets = tuple(sorted(path for path in drawn_with if path.endswith(".css")))
    answer.register(app.server, queries, sheets)
    last_known.register(app.server, queries, sheets)
    sign_in.guard(
        app.server,
        password_hash,
        secret_key,
        elapsed_s=SystemClock().elapsed_s,
        open_paths=frozenset({HEALTH, view_state.ANSWER}),  # the link of a message is its own key
        drawn_with=drawn_with,
        viewer_hash=viewer_hash,
    )
    plotting.register(app.server)
    app.server.before_request(_let_pictures_in)  # after the guard: who may not come in may not send so much
    _set_headers(app)
    return app


def _let_pictures_in() -> None:
    if flask.request.path == CALLBACKS:
        flask.request.max_content_length = LARGEST_CALLBACK_BYTES


def _answer_health(app: Dash, queries: SoilQueries) -> None:
    @app.server.get(HEALTH)  # type: ignore[untyped-decorator]  # dash does not type its server
    def health() -> Response:
        try:
            answer = queries.health()
        except CooldepthError as error:
            return _json({"status": str(error), "last_reading_age_s": None, "queue_depth": None, "refused_total": None}, 503)
        return _json(answer.plain(), 200 if answer.well else 503)


def _json(told: dict[str, Any], status: int) -> Response:
    return Response(json.dumps(told), status=status, mimetype="application/json")


def _set_headers(app: Dash) -> None:
    """Headers that keep the page to itself: no other host is asked, no other site may frame it."""

    @app.server.after_request  # type: ignore[untyped-decorator]
    def keep_to_ourselves(response: Response) -> Response:
        headers = response.headers
        headers["X-Content-Type-Options"] = "nosniff"
        headers["Referrer-Policy"] = "same-origin"  # none at all would take the origin from our own forms too
        headers["Cross-Origin-Opener-Policy"] = "same-origin"
        if response.mimetype == "text/html":
            headers["Content-Security-Policy"] = content_security_policy(app)
            headers["X-Frame-Options"] = "DENY"
        if response.mimetype in {"text/html", "application/json"}:
            headers["Cache-Control"] = "no-store"
        return response


def content_security_policy(app: Dash) -> str:
    """What the page may load: its own files, and dash's few inline scripts, known by their hashes.

    Asked anew for each page, since dash adds inline scripts at the first request. Styles may be
    inline: dash and plotly make style elements of their own.
    """
    scripts = " ".join(["'self'", *app.csp_hashes()])
    return "; ".join(
        [
            "default-src 'none'",
            f"script-src {scripts}",
            "style-src 'self' 'unsafe-inline'",
            "img-src 'self' data: blob:",
            "font-src 'self'",
            "connect-src 'self'",
            "manifest-src 'self'",
            "worker-src 'self'",
            "form-action 'self'",
            "base-uri 'none'",
            "frame-ancestors 'none'",
        ]
    )
