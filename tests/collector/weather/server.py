"""A real HTTP server on the loopback in the place of the weather service: it says what it is told to, well or badly."""

from __future__ import annotations

import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import parse_qs, urlsplit

JSON = {"Content-Type": "application/json; charset=utf-8"}


class WeatherServer:
    """Keeps the path, the parameters and the headers of each question; answers with `status`, `headers` and `body`.

    It sends `dribble` as the status line and headers, a byte each time `pause_s` has passed, where that is set.
    """

    def __init__(self) -> None:
        self.questions: list[tuple[str, dict[str, list[str]], dict[str, str]]] = []
        self.status = 200
        self.headers: dict[str, str] = dict(JSON)
        self.body = b""
        self.dribble = b""
        self.pause_s = 0.05
        self.ended = threading.Event()
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), self._handler())
        self._server.daemon_threads = True
        self._thread = threading.Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.02})
        self.url = f"http://127.0.0.1:{self._server.server_port}"

    def __enter__(self) -> WeatherServer:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.ended.set()
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()

    def _handler(self) -> type[BaseHTTPRequestHandler]:
        server = self

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                parts = urlsplit(self.path)
                server.questions.append((parts.path, parse_qs(parts.query), dict(self.headers)))
                try:
                    self._dribble() if server.dribble else self._answer()
                except (BrokenPipeError, ConnectionResetError):
                    self.close_connection = True  # who asked has heard enough

            def _answer(self) -> None:
                self.send_response(server.status)
                for name, value in {"Content-Length": str(len(server.body)), **server.headers}.items():
                    self.send_header(name, value)
                self.end_headers()
                self.wfile.write(server.body)

            def _dribble(self) -> None:
                for byte in server.dribble:
                    self.wfile.write(bytes([byte]))
                    if server.ended.wait(server.pause_s):
                        return

            def log_message(self, *_: object) -> None:
                """A test has no use for it."""

        return Handler
