"""The page that a message's link leads to: opening changes nothing, a tap answers, and it needs no signing in."""

import re

import pytest
from argon2 import PasswordHasher

from collector.advice import links
from collector.calls import Due, Job, Memory, Notice
from collector.errors import StoreBusyError
from collector.query import SoilQueries
from dashboard.app import make_app
from tests.fakes import NOW_MS, FakeClock
from tests.fakes_advice import DAY_MS, HOUR_MS, FakeReadings, FakeSeason, M, bed, every, garden, probe

HASH = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1).hash("straw and compost")
PHONE = {"REMOTE_ADDR": "192.0.2.7"}  # RFC 5737: an address for documentation


def opened(job=Job.WATER):
    """A browser that never signed in, the season behind it, and a link to a notice."""
    readings, season = FakeReadings(), FakeSeason()
    readings.counts = lambda: None
    readings.say(probe(M, 0.15), 0.17, *every(HOUR_MS, NOW_MS - 30 * HOUR_MS, NOW_MS))
    season.record([Memory("terrace", job, Due.DUE)], [(Notice(0, NOW_MS, "terrace", job, "Water <b>", "Dry."), [])])
    whole = garden(bed())
    app = make_app(SoilQueries(whole, readings, season, FakeClock()), whole, HASH)
    token = links.sign(season.link_key(), links.Ticket(1, NOW_MS + DAY_MS, "ab" * 16))
    return app.server.test_client(), season, token


def look(client, token):
    return client.get(f"/answer?link={token}", environ_overrides=PHONE)


def say(client, token, answer, **headers):
    return client.post("/answer", data={"link": token, "say": answer}, headers=headers, environ_overrides=PHONE)


def test_from_the_message_to_done_in_two_taps_without_signing_in():
    client, season, token = opened()
    page = look(client, token)
    text = page.get_data(as_text=True)
    assert page.status_code == 200
    assert re.search(r"<h1>Water \d+ litres", text)
    assert re.findall(r'name="say" value="([^"]+)"', text) == ["done", "not again today", "not for three days"]
    assert list(season.entries(0, 2**62)) == []  # looking changes nothing
    done = say(client, token, "done")
    assert done.status_code == 200
    assert "Written down as done" in done.get_data(as_text=True)
    assert len(season.entries(0, 2**62)) == 1


def test_the_page_keeps_its_link_to_itself():
    client, _, token = opened()
    page = look(client, token)
    assert page.headers["Referrer-Policy"] == "same-origin"
    assert page.headers["Cache-Control"] == "no-store"
    assert "script" not in page.get_data(as_text=True)


def test_a_used_or_spoiled_link_and_a_strange_answer_are_refused_in_words():
    client, season, token = opened()
    assert say(client, token, "burn it").status_code == 400
    assert say(client, token[:-2] + "zz", "done").status_code == 403
    assert look(client, "").status_code == 403
    say(client, token, "not again today")
    again = say(client, token, "done")
    assert again.status_code == 403
    assert "works once" in again.get_data(as_text=True)
    assert list(season.entries(0, 2**62)) == []


def test_another_site_cannot_answer_with_a_link_that_it_found():
    client, season, token = opened()
    assert say(client, token, "done", Origin="https://elsewhere.example.org").status_code == 403
    assert season.links_used == {}


def test_a_call_that_wants_numbers_leads_to_its_form_and_takes_no_done():
    client, _, token = opened(Job.COUNT)
    text = look(client, token).get_data(as_text=True)
    if "no longer asked for" not in text:
        assert 'href="/journal?bed=terrace&amp;deed=counted"' in text
        assert 'value="done"' not in text


def test_nothing_else_is_opened_by_it():
    client, _, token = opened()
    look(client, token)
    for path in ("/", "/bed/terrace", "/journal"):
        assert client.get(path, environ_overrides=PHONE).status_code == 303


def test_what_the_notice_says_is_text_and_no_markup():
    client, season, token = opened()
    season.told[0] = Notice(1, NOW_MS, "terrace", Job.HOSE, "Water <b>", "<i>Dry")
    text = look(client, token).get_data(as_text=True)
    assert "Water &lt;b&gt;" in text
    assert "&lt;i&gt;Dry" in text


def test_a_store_that_is_busy_leaves_the_link_good():
    client, season, token = opened()

    def busy(*_):
        raise StoreBusyError("the disk is full")

    kept, season.use = season.use, lambda *_, **__: busy()
    assert say(client, token, "done").status_code == 503
    season.use = kept
    assert say(client, token, "done").status_code == 200


@pytest.mark.parametrize("path", ["/answer", "/answer?link=" + "9" * 4000])
def test_a_link_that_is_no_link_gets_a_page(path):
    client, _, _ = opened()
    answer = client.get(path, environ_overrides=PHONE)
    assert answer.status_code == 403
    assert "This link does not answer." in answer.get_data(as_text=True)
