"""A real HTTP listener on the loopback that stands for whatever a phone's service runs."""

from __future__ import annotations

import json
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any


class WebHook:
    """Keeps each (path, JSON body) it is sent in `received` and answers with `status`, once `answers` is set."""

    def __init__(self) -> None:
        self.received: list[tuple[str, dict[str, Any]]] = []
        self.status = 200
        self.answers = threading.Event()
        self.answers.set()
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), self._handler())
        self._thread = threading.Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.02})
        self.port = self._server.server_port

    def __enter__(self) -> WebHook:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.answers.set()
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()

    @property
    def titles(self) -> list[str]:
        """The title of each message, oldest first."""
        return [body["title"] for _, body in self.received]

    def _handler(self) -> type[BaseHTTPRequestHandler]:
        hook = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                hook.received.append((self.path, json.loads(self.rfile.read(int(self.headers["Content-Length"])))))
                hook.answers.wait(30)
                self.send_response(hook.status)
                self.send_header("Content-Length", "0")
                self.end_headers()

            def log_message(self, *_: object) -> None:
                """A test has no use for it."""

        return Handler
