"""The guard: who gets in, who does not, and that no path is forgotten."""

from collections.abc import Iterator

import flask
import pytest
from argon2 import PasswordHasher
from flask.testing import FlaskClient

from collector.errors import CooldepthError
from dashboard import sign_in
from tests.fakes import FakeClock

PASSWORD = "straw and compost"
# Fewer rounds than a real one takes, so that the tests are quick; the hash says how many.
HASH = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1).hash(PASSWORD)
STRANGER = {"REMOTE_ADDR": "192.0.2.7"}  # RFC 5737: an address for documentation

GUARDED = [
    "/",
    "/bed/terrace",
    "/_dash-layout",
    "/_dash-dependencies",
    "/_dash-component-suites/x.js",
    "/assets/shell.js",
    "/sign-out",
]


def make(
    password_hash: str | None, clock: FakeClock | None = None, secret_key: str | None = "a key for the tests"
) -> flask.Flask:
    server = flask.Flask("guarded")
    sign_in.guard(
        server,
        password_hash,
        secret_key,
        elapsed_s=(clock or FakeClock()).elapsed_s,
        open_paths=frozenset({"/health"}),
        drawn_with=frozenset({"/assets/base.css", "/assets/overpass-latin.woff2"}),
    )
    server.add_url_rule("/<path:path>", "any", lambda path: f"inside {path}", methods=["GET", "POST"])
    server.add_url_rule("/", "home", lambda: "inside")
    return server


@pytest.fixture
def client() -> Iterator[FlaskClient]:
    with make(HASH).test_client() as client:
        yield client


def enter(client: FlaskClient, password: str = PASSWORD, **more: str) -> flask.wrappers.Response:
    return client.post("/sign-in", data={"password": password, **more}, environ_overrides=STRANGER)


# ---------------------------------------------------------------- with a password


@pytest.mark.parametrize("path", GUARDED)
def test_no_path_is_open_before_signing_in(client: FlaskClient, path: str) -> None:
    answer = client.get(path, environ_overrides=STRANGER)

    assert answer.status_code in {303, 401}
    assert b"inside" not in answer.data


def test_the_guard_stands_on_this_computer_too_once_there_is_a_password(client: FlaskClient) -> None:
    assert client.get("/").status_code == 303


def test_an_update_is_answered_401_and_not_a_page(client: FlaskClient) -> None:
    assert client.post("/_dash-update-component", json={}).status_code == 401


def test_health_and_the_sheets_of_the_sign_in_page_are_open(client: FlaskClient) -> None:
    for path in ("/health", "/assets/base.css", "/assets/overpass-latin.woff2"):
        assert client.get(path, environ_overrides=STRANGER).status_code == 200


@pytest.mark.parametrize("path", ["/garden.css", "/assets/../garden.css", "/assets/base.css/", "/assets//base.css", "/health/x"])
def test_what_only_looks_like_an_open_path_is_not(client: FlaskClient, path: str) -> None:
    assert client.get(path).status_code in {303, 401}


def test_the_right_password_opens_and_leads_to_the_page_that_was_asked_for(client: FlaskClient) -> None:
    asked = client.get("/bed/terrace?days=7")
    assert asked.headers["Location"] == "/sign-in?next=/bed/terrace?days%3D7"

    opened = enter(client, next="/bed/terrace?days=7")

    assert (opened.status_code, opened.headers["Location"]) == (303, "/bed/terrace?days=7")
    assert client.get("/bed/terrace").data == b"inside bed/terrace"
    assert client.post("/_dash-update-component").status_code == 200


def test_the_page_writes_the_asked_path_as_text(client: FlaskClient) -> None:
    page = client.get('/sign-in?next=/"><script>').get_data(as_text=True)

    assert "<script>" not in page
    assert "&lt;script&gt;" in page


def test_the_cookie_is_for_this_site_and_for_no_script_and_ends_after_30_days(client: FlaskClient) -> None:
    cookie = enter(client).headers["Set-Cookie"]

    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert "Secure" not in cookie  # a garden on its own network has no TLS
    kept = client.get_cookie("cooldepth")
    assert kept is not None
    assert kept.expires is not None
    assert "Set-Cookie" not in client.get("/").headers  # so the 30 days are not begun anew at each look


def test_over_tls_the_cookie_never_travels_without(client: FlaskClient) -> None:
    direct = client.post("/sign-in", data={"password": PASSWORD}, base_url="https://garden.example")
    through_proxy = client.post("/sign-in", data={"password": PASSWORD}, headers={"X-Forwarded-Proto": "https"})

    assert "Secure" in direct.headers["Set-Cookie"]
    assert "Secure" in through_proxy.headers["Set-Cookie"]


def test_signing_out_ends_the_session(client: FlaskClient) -> None:
    enter(client)
    client.post("/sign-out")

    assert client.get("/").status_code == 303


def test_a_new_password_ends_old_sessions_though_the_key_stays() -> None:
    with make(HASH).test_client() as client:
        enter(client)
        cookie = client.get_cookie("cooldepth")
    assert cookie is not None
    other = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1).hash("wood chips and leaves")
    with make(HASH).test_client() as same, make(other).test_client() as changed:
        for client in (same, changed):
            client.set_cookie("cooldepth", cookie.value)
        assert same.get("/").status_code == 200
        assert changed.get("/").status_code == 303


def test_a_cookie_signed_with_another_key_opens_nothing() -> None:
    with make(HASH, secret_key="another key").test_client() as client:
        enter(client)
        cookie = client.get_cookie("cooldepth")
    assert cookie is not None
    with make(HASH).test_client() as client:
        client.set_cookie("cooldepth", cookie.value)
        assert client.get("/").status_code == 303


def test_after_five_wrong_passwords_the_sixth_try_has_to_wait_and_each_failure_doubles_it() -> None:
    clock = FakeClock()
    with make(HASH, clock).test_client() as client:
        assert [enter(client, "guess").status_code for _ in range(5)] == [401] * 5

        refused = enter(client)
        assert (refused.status_code, refused.headers["Retry-After"]) == (429, "1")

        clock.pass_s(1.01)
        assert enter(client, "guess").status_code == 401
        clock.pass_s(1.01)
        assert enter(client).status_code == 429
        clock.pass_s(1.01)
        assert enter(client).status_code == 303


def test_one_address_guessing_does_not_shut_out_another() -> None:
    with make(HASH).test_client() as client:
        for _ in range(6):
            enter(client, "guess")
        elsewhere = client.post("/sign-in", data={"password": PASSWORD}, environ_overrides={"REMOTE_ADDR": "192.0.2.8"})

        assert elsewhere.status_code == 303


def test_the_throttle_forgets_the_oldest_address_and_keeps_no_more_than_a_thousand() -> None:
    throttle = sign_in.Throttle(FakeClock().elapsed_s)
    for _ in range(6):
        throttle.failed("first")
    assert throttle.wait_s("first") > 0
    for number in range(sign_in.REMEMBERED_ADDRESSES):
        throttle.failed(str(number))

    assert throttle.wait_s("first") == 0.0


def test_the_wait_never_grows_beyond_a_minute() -> None:
    throttle = sign_in.Throttle(FakeClock().elapsed_s)
    for _ in range(2000):
        throttle.failed("here")

    assert throttle.wait_s("here") == sign_in.LONGEST_WAIT_S


# ---------------------------------------------------------------- without a password


@pytest.mark.parametrize("address", ["127.0.0.1", "127.8.9.1", "::1", "::ffff:127.0.0.1"])
@pytest.mark.parametrize("name", ["localhost", "127.0.0.1", "[::1]:8050", "garden.localhost:8050"])
def test_without_a_password_this_computer_sees_the_garden(address: str, name: str) -> None:
    answer = make(None).test_client().get("/", headers={"Host": name}, environ_overrides={"REMOTE_ADDR": address})

    assert answer.status_code == 200


@pytest.mark.parametrize(
    ("address", "headers"),
    [
        ("192.0.2.7", {}),
        ("::ffff:192.0.2.7", {}),
        ("", {}),
        ("127.0.0.1", {"Host": "elsewhere.example"}),  # a name of another site that leads to a loopback address
        ("127.0.0.1", {"Host": "localhost.elsewhere.example"}),
        ("127.0.0.1", {"Host": "127.0.0.1.elsewhere.example"}),
        ("127.0.0.1", {"X-Forwarded-For": "127.0.0.1"}),
        ("127.0.0.1", {"Forwarded": "for=192.0.2.7"}),
        ("127.0.0.1", {"X-Real-IP": "192.0.2.7"}),
        ("127.0.0.1", {"Via": "1.1 proxy"}),
    ],
)
def test_without_a_password_nobody_else_does(address: str, headers: dict[str, str]) -> None:
    answer = make(None).test_client().get("/", headers=headers, environ_overrides={"REMOTE_ADDR": address})

    assert answer.status_code == 403
    assert "No password is set" in answer.get_data(as_text=True)


# ---------------------------------------------------------------- other sites


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://elsewhere.example"},
        {"Origin": "null"},
        {"Origin": "http://localhost:9999"},  # the same computer, but another program on it
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site", "Origin": "http://localhost"},
    ],
)
@pytest.mark.parametrize("password_hash", [None, HASH])
def test_another_site_cannot_mark_a_job_done(headers: dict[str, str], password_hash: str | None) -> None:
    with make(password_hash).test_client() as client:
        if password_hash:
            enter(client)
        answer = client.post("/_dash-update-component", headers=headers)

    assert answer.status_code == 403
    assert "another site" in answer.get_data(as_text=True)


@pytest.mark.parametrize("headers", [{"Origin": "http://localhost"}, {"Sec-Fetch-Site": "same-origin"}, {}])
def test_the_page_itself_can(headers: dict[str, str]) -> None:
    assert make(None).test_client().post("/_dash-update-component", headers=headers).status_code == 200


# ---------------------------------------------------------------- hashes


@pytest.mark.parametrize("text", ["straw", "", "$argon2id$v=19$m=8", "=19,t=1$abc"])
def test_a_text_that_is_no_hash_is_refused_at_start(text: str) -> None:
    with pytest.raises(CooldepthError, match="no Argon2 hash"):
        make(text)


def test_the_hash_of_an_empty_password_is_refused_at_start() -> None:
    with pytest.raises(CooldepthError, match="empty password"):
        make(PasswordHasher(time_cost=1, memory_cost=8, parallelism=1).hash(""))
