"""The doors of running pages, tried from outside over HTTP: wrong role, forged session, other sites, paths, sizes, headers.

The real server, of a garden with two passwords; what can be tried closer to its part is tried there (test_sign_in, test_links).
"""

from __future__ import annotations

import base64
import json
import os
import subprocess
import sys

import argon2
import httpx
import itsdangerous
import pytest

from tests.real.mosquitto import free_port, wait_until

WRITES, LOOKS = "the first long password", "the second long password"
GARDEN = """
[garden]
latitude_deg = 36.0
longitude_deg = -5.0
[store]
path = "garden.db"
[[bed]]
id = "upper"
name = "Upper bed"
"""
DONE = {
    "output": "told.data",
    "outputs": {"id": "told", "property": "data"},
    "inputs": [[{"id": {"type": "done", "bed": "upper", "job": "water"}, "property": "n_clicks", "value": 1}], []],
    "state": [],
    "changedPropIds": ['{"bed":"upper","job":"water","type":"done"}.n_clicks'],
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("doors")


@pytest.fixture
def written(folder):
    """What stands in the journal."""
    call = [sys.executable, "-m", "collector", "journal", "list", "--garden", str(folder / "garden.toml"), "--json"]
    return lambda: json.loads(subprocess.run(call, capture_output=True, text=True, check=True).stdout)


@pytest.fixture(scope="module")
def base(folder):
    """Where the pages of a garden are served."""
    port = free_port()
    (folder / "garden.toml").write_text(GARDEN)
    (folder / "secret.txt").write_text("what nobody may read")
    hasher = argon2.PasswordHasher(time_cost=1, memory_cost=1024)
    secrets = {"COOLDEPTH_PASSWORD_HASH": hasher.hash(WRITES), "COOLDEPTH_VIEWER_HASH": hasher.hash(LOOKS)}
    call = [sys.executable, "-m", "collector", "serve", "--garden", str(folder / "garden.toml"), "--port", str(port)]
    with (folder / "log").open("w") as log:
        program = subprocess.Popen(call, env={**os.environ, **secrets}, stderr=log)
    address = f"http://127.0.0.1:{port}"

    def answers():
        try:
            return httpx.get(f"{address}/sign-in", timeout=2).status_code == 200
        except httpx.TransportError:
            return False

    wait_until(answers, 30)
    yield address
    program.terminate()
    program.wait(30)
    told = (folder / "log").read_text()
    for secret in (WRITES, LOOKS, *secrets.values()):
        assert secret not in told


def signed_in(base, password, **more):
    """Somebody who has come in."""
    client = httpx.Client(base_url=base, **more)
    answer = client.post("/sign-in", data={"password": password}, headers={"Origin": base})
    assert answer.status_code == 303
    return client


@pytest.fixture
def owner(base):
    client = signed_in(base, WRITES)
    yield client
    client.close()


@pytest.fixture
def viewer(base):
    client = signed_in(base, LOOKS)
    yield client
    client.close()


def test_a_stranger_gets_no_page_no_update_and_no_picture(base):
    picture = f"/journal/picture/{'0' * 32}.jpg"
    for path in ("/", "/bed/upper", "/journal", "/stakes", picture, "/_dash-layout", "/_dash-dependencies"):
        assert httpx.get(base + path).status_code in (303, 401), path
    assert httpx.post(f"{base}/_dash-update-component", json=DONE, headers={"Origin": base}).status_code == 401
    assert httpx.post(f"{base}/tapped", data={"job": "water"}, headers={"Origin": base}).status_code in (303, 401)


def test_who_may_look_changes_nothing_by_callback_or_by_form_and_who_may_write_does(viewer, owner, base, written):
    form = {"type": "done", "bed": "upper", "job": "water"}
    for client, expected in ((viewer, []), (owner, ["upper"])):
        client.get("/")
        client.post("/_dash-update-component", json=DONE, headers={"Origin": base})
        client.post("/tapped", data=form, headers={"Origin": base})
        assert [one["bed"] for one in written()][:1] == expected


@pytest.mark.parametrize("key", ["", "secret", "dev", "cooldepth", "0" * 64])
def test_a_session_that_somebody_signed_themselves_opens_nothing(base, key):
    signer = itsdangerous.URLSafeTimedSerializer(
        key, salt="cookie-session", signer_kwargs={"key_derivation": "hmac", "digest_method": __import__("hashlib").sha1}
    )
    for user in ("owner", "1", "admin", "grower"):
        cookie = signer.dumps({"_user_id": user, "_fresh": True})
        answer = httpx.get(f"{base}/stakes", cookies={"session": cookie, "cooldepth": cookie})
        assert answer.status_code == 303


def test_a_changed_cookie_is_none(owner, base):
    (name, value) = next(iter(owner.cookies.items()))
    assert owner.get("/stakes").status_code == 200
    for place in range(0, len(value), 7):
        other = "A" if value[place] != "A" else "B"
        spoilt = value[:place] + other + value[place + 1 :]
        assert httpx.get(f"{base}/stakes", cookies={name: spoilt}).status_code == 303, place


PICTURES = "/journal/picture/"
PATHS = (
    f"{PICTURES}../garden.db",
    f"{PICTURES}..%2fgarden.db",
    f"{PICTURES}%2e%2e/%2e%2e/secret.txt",
    f"{PICTURES}....//secret.txt",
    f"{PICTURES}secret.txt",
    f"{PICTURES}{'a' * 32}.jpg%00.txt",
    "/assets/../../garden.toml",
    "/assets/..%2f..%2fgarden.toml",
    "/assets/%2e%2e%2fapp.py",
    "/_dash-component-suites/dash/../../../app.py",
)


@pytest.mark.parametrize("path", PATHS)
def test_no_path_leads_out_of_where_pictures_and_sheets_lie(owner, path):
    answer = owner.get(path)
    assert answer.status_code in (200, 303, 400, 404)
    assert "nobody may read" not in answer.text
    assert b"SQLite format" not in answer.content
    assert "latitude_deg" not in answer.text


def test_what_is_larger_than_anything_of_ours_is_refused_before_it_is_read(owner, base):
    answer = owner.post("/sign-in", data={"password": "x" * 2_000_000}, headers={"Origin": base})
    assert answer.status_code == 413
    tall = {**DONE, "state": [{"value": "x" * 30_000_000}]}
    try:
        assert owner.post("/_dash-update-component", json=tall, headers={"Origin": base}, timeout=30).status_code == 413
    except httpx.WriteError:  # it hung up on us
        assert owner.get("/stakes").status_code == 200


AFTER = (
    "//evil.example",
    "https://evil.example/",
    "/\r\nSet-Cookie: a=b",
    "/%0d%0aSet-Cookie:%20a=b",
    "\\\\evil.example",
    "javascript:alert(1)",
)


@pytest.mark.parametrize("after", AFTER)
def test_after_signing_in_nobody_is_led_elsewhere_and_no_header_is_written_by_a_stranger(base, after):
    answer = httpx.post(f"{base}/sign-in", data={"password": WRITES, "next": after}, headers={"Origin": base})
    assert answer.status_code == 303
    led = answer.headers["Location"]
    assert led.startswith("/")
    assert not led.startswith(("//", "/\\"))
    assert "a=b" not in str(answer.headers.get_list("Set-Cookie"))
    assert "evil" not in httpx.URL(led).host


@pytest.mark.parametrize("headers", [{"Origin": "https://evil.example"}, {"Origin": "null"}, {"Sec-Fetch-Site": "cross-site"}])
def test_another_site_changes_nothing_with_a_cookie_that_the_browser_adds(owner, headers):
    assert owner.post("/_dash-update-component", json=DONE, headers=headers).status_code == 403
    assert owner.post("/sign-out", headers=headers).status_code == 403
    assert owner.get("/stakes").status_code == 200


def test_what_is_no_call_of_a_page_is_refused_and_the_server_lives(owner, base):
    for body in (b"", b"{", b"[]", b'{"output": 1}', b'{"output":"../x","inputs":{}}', base64.b64encode(os.urandom(3000))):
        headers = {"Origin": base, "Content-Type": "application/json"}
        assert owner.post("/_dash-update-component", content=body, headers=headers).status_code >= 400
    assert owner.get("/stakes").status_code == 200


def test_a_tampered_button_of_a_claim_is_told_and_writes_nothing(owner, base, folder):
    before = (folder / "garden.toml").read_text()
    for tapped in ({"type": "claim", "address": "x", "bed": "upper", "what": "nothing", "at": "0.1"}, {"type": "claim"}):
        inputs = [[{"id": tapped, "property": "n_clicks", "value": 1}]]
        asked = {**DONE, "inputs": inputs, "changedPropIds": [f"{tapped}.n_clicks"]}
        assert owner.post("/_dash-update-component", json=asked, headers={"Origin": base}).status_code != 200
    assert owner.get("/stakes").status_code == 200
    assert (folder / "garden.toml").read_text() == before
