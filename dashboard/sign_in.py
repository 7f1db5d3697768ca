"""Who may see the garden: one password for the household, or this computer only.

With a password every path asks for it, but for the sign-in page, its style sheets and the
paths named open. Without one, a request is answered only if it comes from this computer,
straight, and under a name of this computer: a forwarded request comes from somewhere else,
and a page of another site can reach a loopback address under a name of its own.
"""

from __future__ import annotations

import hashlib
import ipaddress
import math
import secrets
import threading
from collections import OrderedDict
from collections.abc import Callable
from datetime import timedelta
from urllib.parse import urlsplit

import flask
import flask_login
from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError, VerifyMismatchError
from flask.sessions import SecureCookieSessionInterface
from werkzeug.wrappers import Response

from collector.errors import CooldepthError
from dashboard import view_state
from dashboard.bare_page import HEAD

SESSION_DAYS = 30
FREE_TRIES = 5
LONGEST_WAIT_S = 60.0
REMEMBERED_ADDRESSES = 1000

_FORWARDING_HEADERS = ("Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "X-Real-IP", "Via")
_SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})

_PAGE = (
    HEAD
    + """<body class="sign-in">
<main class="plain">
<h1>Sign in to the garden.</h1>
{% if trouble %}<p role="alert"><strong>{{ trouble }}</strong></p>{% endif %}
<form method="post" action="/sign-in">
<input type="hidden" name="next" value="{{ next }}">
<input type="text" name="username" value="garden" autocomplete="username" hidden>
<label for="password">Password</label>
<input type="password" id="password" name="password" autocomplete="current-password" required autofocus>
<button type="submit" class="tap solid">Sign in</button>
</form>
<p class="note">You stay signed in on this phone for {{ days }} days.</p>
</main>
</body>
</html>"""
)


def check_hash(password_hash: str) -> None:
    """Raise CooldepthError unless this is an Argon2 hash: better at start than when somebody stands at the bed."""
    try:
        PasswordHasher().verify(password_hash, "")
    except VerifyMismatchError:
        return
    except (InvalidHashError, VerificationError) as error:
        raise CooldepthError(
            "COOLDEPTH_PASSWORD_HASH is no Argon2 hash; want the whole line that `cooldepth user` prints,"
            " in single quotes where a shell reads it, since it holds $ signs."
        ) from error
    raise CooldepthError("COOLDEPTH_PASSWORD_HASH is the hash of an empty password. Make another with `cooldepth user`.")


class Throttle:
    """Makes guessing slow: after `FREE_TRIES` wrong passwords an address waits 1 s, then 2, 4 ... up to a minute."""

    def __init__(self, elapsed_s: Callable[[], float]) -> None:
        self._elapsed_s = elapsed_s
        self._failures: OrderedDict[str, tuple[int, float]] = OrderedDict()
        self._lock = threading.Lock()

    def wait_s(self, address: str) -> float:
        """How long [s] this address has to wait before it may try; 0.0 if it may."""
        with self._lock:
            count, last_s = self._failures.get(address, (0, 0.0))
        if count < FREE_TRIES:
            return 0.0
        pause_s = min(2.0 ** min(count - FREE_TRIES, 10), LONGEST_WAIT_S)
        return max(0.0, last_s + pause_s - self._elapsed_s())

    def failed(self, address: str) -> None:
        """A wrong password came from there."""
        with self._lock:
            count, _ = self._failures.pop(address, (0, 0.0))
            self._failures[address] = (count + 1, self._elapsed_s())
            while len(self._failures) > REMEMBERED_ADDRESSES:
                self._failures.popitem(last=False)

    def succeeded(self, address: str) -> None:
        """The right password came from there."""
        with self._lock:
            self._failures.pop(address, None)


class _Grower(flask_login.UserMixin):  # type: ignore[misc]  # flask_login has no types
    """The one user. Its id is made of the password's hash, so that a new password ends every session."""

    def __init__(self, password_hash: str) -> None:
        self.id = hashlib.sha256(password_hash.encode()).hexdigest()[:32]


class _Sessions(SecureCookieSessionInterface):
    """Sends the session over TLS only, where the page came over TLS; a garden on its own network often has none."""

    def get_cookie_secure(self, app: flask.Flask) -> bool:  # noqa: ARG002  # the signature is Flask's
        # a proxy that is not the grower's can only make the cookie safer by saying this
        return flask.request.is_secure or flask.request.headers.get("X-Forwarded-Proto") == "https"


def guard(
    server: flask.Flask,
    password_hash: str | None,
    secret_key: str | None,
    *,
    elapsed_s: Callable[[], float],
    open_paths: frozenset[str],
    drawn_with: frozenset[str] = frozenset(),
) -> None:
    """Put the guard before every path of `server`, but for `open_paths`.

    `drawn_with` are the paths of the style sheets, fonts and pictures of the sign-in page. Without a
    `secret_key` sessions end with the process.
    """
    server.secret_key = secret_key or secrets.token_bytes(32)
    server.before_request(_refuse_foreign_post)
    if password_hash is None:
        server.before_request(lambda: None if flask.request.path in open_paths else _refuse_strangers())
        return
    check_hash(password_hash)
    server.session_interface = _Sessions()
    server.config.update(
        SESSION_COOKIE_NAME="cooldepth",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Strict",
        SESSION_REFRESH_EACH_REQUEST=False,  # 30 days from signing in, not from the last look
        PERMANENT_SESSION_LIFETIME=timedelta(days=SESSION_DAYS),
    )
    grower = _Grower(password_hash)
    manager = flask_login.LoginManager(server)
    manager.session_protection = None  # a phone changes its address when it leaves the house
    manager.user_loader(lambda user_id: grower if secrets.compare_digest(user_id, grower.id) else None)
    unguarded = open_paths | drawn_with | {view_state.SIGN_IN}
    server.before_request(lambda: None if flask.request.path in unguarded else _ask_to_sign_in())
    sheets = tuple(sorted(path for path in drawn_with if path.endswith(".css")))
    _add_pages(server, password_hash, grower, Throttle(elapsed_s), sheets)


def _refuse_foreign_post() -> Response | None:
    """A form on another site must not mark a job done here. Browsers name the origin of every POST; other programs need not."""
    request = flask.request
    if request.method in _SAFE_METHODS:
        return None
    origin = request.headers.get("Origin")
    foreign = origin is not None and urlsplit(origin).netloc != request.host
    if foreign or request.headers.get("Sec-Fetch-Site", "same-origin") not in {"same-origin", "none"}:
        return _refusal(
            "This request came from another site, so it was not carried out. Open the page of the garden itself."
            " If you did, a proxy in front of it does not pass the Host header on."
        )
    return None


def _refuse_strangers() -> Response | None:
    request = flask.request
    forwarded = any(header in request.headers for header in _FORWARDING_HEADERS)
    if is_loopback(request.remote_addr or "") and is_loopback(_host_name(request.host)) and not forwarded:
        return None
    return _refusal(
        "No password is set, so the garden is shown on the garden computer only."
        " To see it from elsewhere, make a password there with `cooldepth user` and set COOLDEPTH_PASSWORD_HASH."
    )


def _ask_to_sign_in() -> Response | None:
    request = flask.request
    if flask_login.current_user.is_authenticated:
        return None
    is_page = request.method == "GET" and not request.path.startswith(("/_", "/assets/"))
    if not is_page:
        return flask.Response("Sign in first.", 401, mimetype="text/plain")
    wanted = request.full_path if request.query_string else request.path
    return flask.redirect(flask.url_for("sign_in", next=wanted), 303)


def _add_pages(server: flask.Flask, password_hash: str, grower: _Grower, throttle: Throttle, sheets: tuple[str, ...]) -> None:
    hasher = PasswordHasher()
    one_at_a_time = threading.Lock()  # each check takes 64 MiB and most of a core of a small board

    def page(trouble: str | None, status: int) -> Response:
        wanted = view_state.path_after_sign_in(flask.request.values.get("next"))
        text = flask.render_template_string(
            _PAGE, title="sign in", trouble=trouble, next=wanted, sheets=sheets, days=SESSION_DAYS
        )
        return flask.Response(text, status)

    def is_right(password: str) -> bool:
        with one_at_a_time:
            try:
                return hasher.verify(password_hash, password)
            except VerificationError:
                return False

    @server.get(view_state.SIGN_IN, endpoint="sign_in")
    def show() -> Response:
        return page(None, 200)

    @server.post(view_state.SIGN_IN, endpoint="sign_in_try")
    def try_password() -> Response:
        address = flask.request.remote_addr or ""
        wait_s = throttle.wait_s(address)
        if wait_s > 0:
            seconds = math.ceil(wait_s)
            answer = page(f"Too many wrong passwords. Wait {seconds} seconds, then try again.", 429)
            answer.headers["Retry-After"] = str(seconds)
            return answer
        if not is_right(flask.request.form.get("password", "")):
            throttle.failed(address)
            return page("That is not the password. Try again.", 401)
        throttle.succeeded(address)
        flask.session.permanent = True
        flask_login.login_user(grower)
        return flask.redirect(view_state.path_after_sign_in(flask.request.form.get("next")), 303)

    @server.post("/sign-out")
    def sign_out() -> Response:
        flask_login.logout_user()
        flask.session.clear()
        return flask.redirect(view_state.SIGN_IN, 303)


def is_loopback(host: str) -> bool:
    """True for an address or name that only this computer itself answers to."""
    if host == "localhost" or host.endswith(".localhost"):  # RFC 6761, section 6.3
        return True
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        return False
    mapped = getattr(address, "ipv4_mapped", None)
    return bool((mapped or address).is_loopback)


def _host_name(host: str) -> str:
    """The name in a Host header, without port and brackets."""
    return urlsplit(f"//{host}").hostname or ""


def _refusal(sentence: str) -> Response:
    return flask.Response(sentence, 403, mimetype="text/plain")
