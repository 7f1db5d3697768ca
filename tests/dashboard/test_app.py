"""The app as a browser meets it: pages, health, headers, and how it starts or says why not."""

import json
import re
import socket
from dataclasses import replace
from pathlib import Path

import dash
import pytest
from argon2 import PasswordHasher
from flask.testing import FlaskClient

from collector.errors import CooldepthError, StoreError
from collector.query import Health
from dashboard import __main__ as command
from dashboard import shell, wsgi
from dashboard.app import make_app
from tests.dashboard import fakes
from tests.dashboard.fakes import FakeQueries

HASH = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1).hash("straw and compost")
GARDEN_FILE = """
[garden]
name = "Lower terrace"
latitude_deg = 37.1
longitude_deg = -7.6
elevation_m = 60
timezone = "Europe/Lisbon"

[store]
kind = "sqlite"
path = "garden.db"

[[bed]]
id = "terrace"
name = "Terrace bed"
area_m2 = 7.2
soil = "sandy loam"
"""


def client_of(queries: FakeQueries, password_hash: str | None = None) -> FlaskClient:
    return make_app(queries, queries.garden().garden, password_hash).server.test_client()


# ---------------------------------------------------------------- pages


@pytest.mark.parametrize("path", ["/", "/beds", "/bed/terrace", "/stakes", "/notices", "/no/such/page"])
def test_every_path_answers_with_the_page(path: str) -> None:
    answer = client_of(fakes.a_day_in_april()).get(path)

    assert answer.status_code == 200
    assert '<html lang="en">' in answer.get_data(as_text=True)


def page_at(client: FlaskClient, path: str) -> str:
    """What dash's router puts on the page for a path, as JSON text."""
    client.get("/")  # dash sets its router up at the first request
    dependencies = client.get("/_dash-dependencies").get_json()
    (router,) = [each for each in dependencies if "_pages_content.children" in each["output"]]
    location = {"id": "_pages_location"}
    body = {
        "output": router["output"],
        "outputs": [{"id": "_pages_content", "property": "children"}, {"id": "_pages_store", "property": "data"}],
        "inputs": [{**location, "property": "pathname", "value": path}, {**location, "property": "search", "value": ""}],
        "changedPropIds": ["_pages_location.pathname"],
    }
    answer = client.post("/_dash-update-component", json=body)
    assert answer.status_code == 200
    return answer.get_data(as_text=True)


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("/beds", "4 beds, 1 with something due."),
        ("/stakes", "Probes: 7 of 28 silent."),
        ("/notices", "Nothing was told yet."),
        ("/no/such/page", "There is no page at this address."),
    ],
)
def test_each_address_leads_to_its_own_page(path: str, words: str) -> None:
    assert words in page_at(client_of(fakes.a_day_in_april()), path)


@pytest.mark.parametrize("path", ["/", "/beds", "/stakes", "/notices"])
def test_a_garden_without_beds_has_its_pages_too(path: str) -> None:
    assert page_at(client_of(fakes.no_beds()), path)


def test_names_in_an_address_that_our_functions_use_too_do_no_harm() -> None:
    for path in ("/beds", "/stakes", "/notices"):
        client = client_of(fakes.a_day_in_april())
        page = dash.page_registry[path.strip("/")]["layout"]
        assert page(queries="mine", app="mine").to_plotly_json()
        assert client.get(f"{path}?queries=mine").status_code == 200


def test_two_gardens_in_one_process_keep_their_own_pages() -> None:
    one, other = fakes.one_bed("fine"), fakes.one_bed("due")
    client_of(one)
    pages = {module: page["relative_path"] for module, page in dash.page_registry.items()}
    client_of(other)

    assert {module: page["relative_path"] for module, page in dash.page_registry.items()} == pages


def test_with_one_bed_the_bar_leads_to_it_and_with_more_to_their_list() -> None:
    assert dict(shell.words(fakes.one_bed("fine").garden().garden))["Bed"] == "/bed/fine"
    assert dict(shell.words(fakes.a_day_in_april().garden().garden))["Beds"] == "/beds"


def test_a_simulated_garden_says_so_on_every_page() -> None:
    garden = fakes.one_bed("fine").garden().garden

    assert "Simulated garden" not in str(shell.frame(garden, may_sign_out=False))
    assert "Simulated garden" in str(shell.frame(replace(garden, simulated=True), may_sign_out=False))


def test_one_can_sign_out_only_where_one_signed_in() -> None:
    assert '"type":"Form"' not in layout_of(client_of(fakes.one_bed("fine")))
    signed_in = client_of(fakes.one_bed("fine"), HASH)
    signed_in.post("/sign-in", data={"password": "straw and compost"})
    assert '"type":"Form"' in layout_of(signed_in)


def layout_of(client: FlaskClient) -> str:
    return client.get("/_dash-layout").get_data(as_text=True)


# ---------------------------------------------------------------- the guard around the whole app


def test_with_a_password_no_route_of_the_app_answers_a_stranger() -> None:
    queries = fakes.a_day_in_april()
    app = make_app(queries, queries.garden().garden, HASH)
    client = app.server.test_client()
    open_rules = set()
    for rule in app.server.url_map.iter_rules():
        path = re.sub(r"<[^>]*>", "x", rule.rule)
        for method in rule.methods - {"OPTIONS", "HEAD"}:
            answer = client.open(path, method=method)
            if answer.status_code not in {303, 401}:
                open_rules.add((method, rule.rule))

    assert open_rules == {("GET", "/health"), ("GET", "/sign-in"), ("GET", "/answer"), ("POST", "/answer")}
    assert client.post("/sign-in").status_code == 401
    assert client.get("/answer").status_code == 403  # without a link that is whole it answers nothing


def test_without_a_password_a_forwarded_request_is_refused_everywhere_but_health() -> None:
    client = client_of(fakes.a_day_in_april())

    for path, status in (("/", 403), ("/_dash-layout", 403), ("/assets/shell.js", 403), ("/health", 200)):
        assert client.get(path, headers={"X-Forwarded-For": "192.0.2.7"}).status_code == status


# ---------------------------------------------------------------- health


def test_health_tells_how_the_collector_is() -> None:
    queries = fakes.one_bed("fine")
    queries.is_well = Health("well", True, 12.5, 3, 7, refused_kept=5, unclaimed_kept=2)
    answer = client_of(queries, HASH).get("/health")

    assert answer.status_code == 200
    assert answer.mimetype == "application/json"
    assert answer.get_json() == {
        "status": "well",
        "last_reading_age_s": 12.5,
        "queue_depth": 3,
        "refused_total": 7,
        "refused_kept": 5,
        "unclaimed_kept": 2,
    }


def test_health_answers_503_when_the_garden_is_not_well() -> None:
    queries = fakes.one_bed("fine")
    queries.is_well = Health("No reading for two hours.", False, None, 0, 0)
    answer = client_of(queries).get("/health")

    assert answer.status_code == 503
    assert answer.get_json()["last_reading_age_s"] is None


def test_health_answers_503_with_the_reason_when_the_store_cannot_be_asked() -> None:
    class Broken(FakeQueries):
        def health(self) -> Health:
            raise StoreError("garden.db: the disk is full")

    answer = client_of(Broken(fakes.one_bed("fine").garden())).get("/health")

    assert answer.status_code == 503
    assert answer.get_json()["status"] == "garden.db: the disk is full"


# ---------------------------------------------------------------- headers


def test_a_page_may_load_only_its_own_files_and_the_inline_scripts_it_is_sent_with() -> None:
    answer = client_of(fakes.a_day_in_april()).get("/")
    policy = dict(part.split(" ", 1) for part in answer.headers["Content-Security-Policy"].split("; "))

    assert policy["default-src"] == "'none'"
    assert "unsafe" not in policy["script-src"]
    assert "frame-ancestors" in policy
    assert not re.findall(r"https?:|\*", answer.headers["Content-Security-Policy"])
    assert not re.findall(r'(?:src|href)="(?:https?:)?//', answer.get_data(as_text=True))


def test_pages_and_answers_are_kept_in_no_cache_and_framed_by_nobody() -> None:
    client = client_of(fakes.a_day_in_april())
    page, data = client.get("/"), client.get("/_dash-layout")

    assert page.headers["X-Frame-Options"] == "DENY"
    assert page.headers["Cache-Control"] == data.headers["Cache-Control"] == "no-store"
    assert page.headers["X-Content-Type-Options"] == "nosniff"


def test_large_answers_travel_compressed() -> None:
    answer = client_of(fakes.every_kind()).get("/_dash-layout", headers={"Accept-Encoding": "gzip"})

    assert answer.headers["Content-Encoding"] == "gzip"


def test_a_request_that_is_larger_than_any_of_ours_is_refused() -> None:
    client = client_of(fakes.one_bed("fine"))
    assert client.post("/answer", data={"link": "x" * 1_100_000}).status_code == 413
    assert client.post("/_dash-update-component", json={"inputs": "x" * 21_100_000}).status_code == 413


# ---------------------------------------------------------------- secrets and starting


def test_a_secret_comes_from_its_variable_or_from_the_file_that_another_names(tmp_path: Path) -> None:
    file = tmp_path / "secret"
    file.write_text("from the file\n")

    assert wsgi.secret({}, "X") is None
    assert wsgi.secret({"X": ""}, "X") is None
    assert wsgi.secret({"X_FILE": str(file)}, "X") == "from the file"
    assert wsgi.secret({"X": "from the variable", "X_FILE": str(file)}, "X") == "from the variable"


def test_a_secret_file_that_is_away_or_empty_is_told_and_not_taken_for_no_secret(tmp_path: Path) -> None:
    with pytest.raises(CooldepthError, match=r"X_FILE names .*away, which cannot be read"):
        wsgi.secret({"X_FILE": str(tmp_path / "away")}, "X")
    (tmp_path / "empty").write_text("\n")
    with pytest.raises(CooldepthError, match="which is empty; want the secret on one line"):
        wsgi.secret({"X_FILE": str(tmp_path / "empty")}, "X")


@pytest.fixture
def garden_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name in (wsgi.PASSWORD_VARIABLE, wsgi.SECRET_VARIABLE):
        monkeypatch.delenv(name, raising=False)
        monkeypatch.delenv(f"{name}_FILE", raising=False)
    path = tmp_path / "garden.toml"
    path.write_text(GARDEN_FILE)
    return path


def test_a_real_garden_file_opens_and_its_health_is_json(garden_file: Path) -> None:
    client = wsgi.open_app(garden_file, {}).server.test_client()

    assert client.get("/").status_code == 200
    told = {"status", "last_reading_age_s", "queue_depth", "refused_total", "refused_kept", "unclaimed_kept"}
    assert set(json.loads(client.get("/health").data)) == told


@pytest.mark.parametrize("host", ["0.0.0.0", "192.0.2.7", "::", "garden.example"])
def test_without_a_password_no_other_computer_is_let_in(garden_file: Path, host: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert command.main(["--garden", str(garden_file), "--host", host]) == 1

    said = capsys.readouterr()
    assert said.out == ""
    assert f"--host {host} shows the garden to other computers, and no password is set" in said.err


def test_a_port_in_use_is_told_in_one_sentence(garden_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        assert command.main(["--garden", str(garden_file), "--port", str(port)]) == 1

    said = capsys.readouterr()
    assert said.err == f"Port {port} on 127.0.0.1 is in use by another program. Stop it, or choose another with --port.\n"


def test_a_garden_file_that_is_away_is_told_and_nothing_is_served(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert command.main(["--garden", str(tmp_path / "away.toml")]) == 1
    assert "away.toml" in capsys.readouterr().err


@pytest.mark.parametrize("port", ["0", "65536", "-1", "eighty"])
def test_a_port_that_is_none_is_bad_usage(garden_file: Path, port: str) -> None:
    with pytest.raises(SystemExit) as ended:
        command.main(["--garden", str(garden_file), "--port", port])

    assert ended.value.code == 2
