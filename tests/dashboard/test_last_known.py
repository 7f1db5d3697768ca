"""What a phone keeps of the garden: plain text with its time, for those who are signed in."""

import json
from pathlib import Path

from argon2 import PasswordHasher

from dashboard.app import ASSETS, make_app
from tests.dashboard import fakes

HASH = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1).hash("straw and compost")


def client_of(queries, password_hash=None):
    return make_app(queries, queries.garden().garden, password_hash).server.test_client()


def test_it_says_what_is_due_and_as_of_when():
    queries = fakes.a_day_in_april()
    text = client_of(queries).get("/last-known").get_data(as_text=True)
    assert "As of Tuesday 13 April, 17:40." in text
    for view in queries.garden().beds:
        assert f"<h2>{view.bed.name}</h2>" in text
        for call in view.calls:
            assert call.heading in text
    assert "dash" not in text


def test_a_garden_of_no_bed_says_so():
    assert "names no bed" in client_of(fakes.no_beds()).get("/last-known").get_data(as_text=True)


def test_it_is_for_those_who_are_signed_in():
    assert client_of(fakes.a_day_in_april(), HASH).get("/last-known").status_code == 303


def test_the_service_worker_comes_from_the_root_and_is_looked_for_anew():
    answer = client_of(fakes.no_beds()).get("/service-worker.js")
    assert answer.mimetype == "text/javascript"
    assert "no-cache" in answer.headers["Cache-Control"] or "max-age=0" in answer.headers["Cache-Control"]


def test_the_pages_of_dash_do_not_run_it_and_name_the_manifest():
    text = client_of(fakes.no_beds()).get("/").get_data(as_text=True)
    assert "service-worker.js" not in text
    assert "last-known.js" not in text
    assert 'rel="manifest"' in text


def test_every_icon_of_the_manifest_is_there_at_its_size():
    manifest = json.loads((ASSETS / "cooldepth.webmanifest").read_text())
    for icon in manifest["icons"]:
        data = (ASSETS / Path(icon["src"]).name).read_bytes()
        if icon["type"] == "image/png":  # PNG, section 11.2.2: width and height stand in the header chunk
            size = "x".join(str(int.from_bytes(data[at : at + 4], "big")) for at in (16, 20))
            assert size == icon["sizes"]
