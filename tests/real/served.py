"""Serves a dashboard of fake answers on a free loopback port."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from werkzeug.serving import make_server

from dashboard.app import make_app
from tests.dashboard.fakes import FakeQueries


@contextmanager
def serving(queries: FakeQueries, password_hash: str | None = None) -> Iterator[str]:
    """The address of the dashboard, up while this is open."""
    app = make_app(queries, queries.garden().garden, password_hash)
    server = make_server("127.0.0.1", 0, app.server, threaded=True)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
