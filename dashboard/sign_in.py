"""Who may see the garden, and who may write: a password for the household, one for those who only look, or this computer only.

With a password every path asks for it, but for the sign-in page, its style sheets and the
paths named open. Without one, a request is answered only if it comes from this computer,
straight, and under a name of this computer: a forwarded request comes from somewhere else,
and a page of another site can reach a loopback address under a name of its own.
"""

from __future__ import annotations

import contextlib
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


class _User(flask_login.UserMixin):  # type: ignore[misc]  # flask_login has no types
    """Whoever knows a password. Its id is made of the password's hash, so that a new password ends every session."""

    def __init__(self, password_hash: str, *, may_write: bool) -> None:
        self.id = hashlib.sha256(password_hash.encode()).hexdigest()[:32]
        self.password_hash = password_hash
        self.may_write = may_write


def may_write() -> bool:
    """Whether who asks now may write: whoever is let in, but for those who signed in to look. Outside of a request, True."""
    if not flask.has_request_context() or not hasattr(flask.current_app, "login_manager"):
        return True
    return bool(getattr(flask_login.current_user, "may_write", True))


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
    viewer_hash: str | None = None,
) -> None:
    """Put the guard before every path of `server`, but for `open_paths`. Whoever knows the viewer's password may only look.

    `drawn_with` are the paths of the style sheets, fonts and pictures of the sign-in page. Without a
    `secret_key` sessions end with the process.
    """
    server.secret_key = secret_key or secrets.token_bytes(32)
    server.before_request(_refuse_foreign_post)
    if password_hash is None:
        if viewer_hash is not None:
            raise CooldepthError(
                "COOLDEPTH_VIEWER_HASH lets others look, and no password is set for those who write."
                " Set COOLDEPTH_PASSWORD_HASH too."
            )
        server.before_request(lambda: None if flask.request.path in open_paths else _refuse_strangers())
        return
    hashes = (password_hash,) if viewer_hash is None else (password_hash, viewer_hash)
    for one in hashes:
        check_hash(one)
    users = {user.id: user for number, one in enumerate(hashes) for user in [_User(one, may_write=number == 0)]}
    server.session_interface = _Sessions()
    server.config.update(
        SESSION_COOKIE_NAME="cooldepth",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Strict",
        SESSION_REFRESH_EACH_REQUEST=False,  # 30 days from signing in, not from the last look
        PERMANENT_SESSION_LIFETIME=timedelta(days=SESSION_DAYS),
    )
    manager = flask_login.LoginManager(server)
    manager.session_protection = None  # a phone changes its address when it leaves the house
    manager.user_loader(users.get)  # the cookie is signed, and an id is no secret
    unguarded = open_paths | drawn_with | {view_state.SIGN_IN}
    server.before_request(lambda: None if flask.request.path in unguarded else _ask_to_sign_in())
    sheets = tuple(sorted(path for path in drawn_with if path.endswith(".css")))
    _add_pages(server, tuple(users.values()), Throttle(elapsed_s), sheets)


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


def _add_pages(server: flask.Flask, users: tuple[_User, ...], throttle: Throttle, sheets: tuple[str, ...]) -> None:
    hasher = PasswordHasher()
    one_at_a_time = threading.Lock()  # each check takes 64 MiB and most of a core of a small board

    def page(trouble: str | None, status: int) -> Response:
        wanted = view_state.path_after_sign_in(flask.request.values.get("next"))
        text = flask.render_template_string(
            _PAGE, title="sign in", trouble=trouble, next=wanted, sheets=sheets, days=SESSION_DAYS
        )
        return flask.Response(text, status)

    def known(password: str) -> _User | None:
        found = None
        with one_at_a_time:
            for user in users:  # all of them, so that the time it takes tells nothing
                with contextlib.suppress(VerificationError):
                    hasher.verify(user.password_hash, password)
                    found = found or user
        return found

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
        user = known(flask.request.form.get("password", ""))
        if user is None:
            throttle.failed(address)
            return page("That is not the password. Try again.", 401)
        throttle.succeeded(address)
        flask.session.permanent = True
        flask_login.login_user(user)
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
