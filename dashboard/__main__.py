"""`python -m dashboard`: serves the dashboard of one garden until it is told to stop."""

from __future__ import annotations

import argparse
import contextlib
import ctypes
import errno
import logging
import os
import signal
import socket
import sys
import threading
from collections.abc import Sequence
from pathlib import Path

from waitress.server import create_server

from collector.errors import CooldepthError
from dashboard import sign_in, wsgi
from dashboard.app import LARGEST_REQUEST_BYTES

THREADS = 8
_M_ARENA_MAX = -8  # glibc, malloc.h


def main(arguments: Sequence[str] | None = None) -> int:
    """Serve until SIGTERM or Ctrl-C (0), or say in a sentence why not (1)."""
    parser = argparse.ArgumentParser(
        prog="python -m dashboard",
        description="Shows the garden in a browser.",
        epilog="example: python -m dashboard --garden garden.toml --port 8050",
    )
    parser.add_argument("--garden", type=Path, required=True, metavar="FILE", help="the garden file")
    parser.add_argument("--host", default="127.0.0.1", help="the address to listen on (default: this computer only)")
    parser.add_argument("--port", type=int, default=8050, help="the port to listen on (default: 8050)")
    parser.add_argument(
        "--until-end-of-input", action="store_true", help="end when standard input ends, as it does with the process behind it"
    )
    wanted = parser.parse_args(arguments)
    if not 0 < wanted.port < 65536:
        parser.error(f"--port {wanted.port}: want a number from 1 to 65535")
    if wanted.until_end_of_input:
        threading.Thread(target=_end_with_input, name="parent", daemon=True).start()
    try:
        serve(wanted.garden, wanted.host, wanted.port)
    except CooldepthError as error:
        sys.stderr.write(f"{error}\n")
        return 1
    except KeyboardInterrupt:
        return 0
    return 0


def serve(garden_path: Path, host: str, port: int) -> None:
    """Serve on host and port until told to stop. Raises CooldepthError where that cannot be."""
    if not sign_in.is_loopback(host) and wsgi.secret(os.environ, wsgi.PASSWORD_VARIABLE) is None:
        raise CooldepthError(
            f"--host {host} shows the garden to other computers, and no password is set."
            f" Make one with `cooldepth user` and set {wsgi.PASSWORD_VARIABLE}, or leave --host away."
        )
    _share_heaps()
    pages = wsgi.Pages(garden_path)
    with listening(host, port) as listener:
        server = create_server(
            pages,
            sockets=[listener],
            threads=THREADS,
            ident=None,
            max_request_body_size=LARGEST_REQUEST_BYTES,
            # without a password a forwarded request is refused, so its marks must reach us
            clear_untrusted_proxy_headers=False,
        )
        # A browser that opens a page asks for more at once than there are threads; that waitress queues it is no news.
        logging.getLogger("waitress.queue").setLevel(logging.ERROR)
        signal.signal(signal.SIGTERM, _stop)
        named = f"[{host}]" if ":" in host else host
        logging.getLogger("cooldepth").info("pages at http://%s:%d", named, port)
        server.run()


def _share_heaps() -> None:
    """Let the threads share two heaps, where glibc would give each its own: those grow for hours under short-lived arrays."""
    with contextlib.suppress(OSError, AttributeError, TypeError):
        ctypes.CDLL(None).mallopt(_M_ARENA_MAX, 2)


def listening(host: str, port: int) -> socket.socket:
    """A socket on host and port. Opened here, since the server leaves its own one open when the port is in use."""
    try:
        family, *_, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)[0]
        return socket.create_server(address[:2], family=family)
    except OSError as error:
        raise CooldepthError(_why_not(error, host, port)) from error


def _end_with_input() -> None:
    """Whoever holds the other end of the pipe is gone, or wants us gone."""
    while os.read(sys.stdin.fileno(), 1024):
        pass
    os.kill(os.getpid(), signal.SIGTERM)


def _stop(_signal: int, _frame: object) -> None:
    """SIGTERM ends the server as Ctrl-C does: waitress finishes what its threads are at."""
    raise KeyboardInterrupt


def _why_not(error: OSError, host: str, port: int) -> str:
    if error.errno == errno.EADDRINUSE:
        return f"Port {port} on {host} is in use by another program. Stop it, or choose another with --port."
    if error.errno == errno.EACCES:
        return f"Port {port} on {host} may not be used by this user. Choose one from 1024 up with --port."
    return f"Cannot listen on {host} port {port}: {error.strerror or error}. Look at --host and --port."


if __name__ == "__main__":
    sys.exit(main())
