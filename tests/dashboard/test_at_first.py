"""What stands on the page of today before dash has come: the same words, links that lead, and taps that count."""

from dataclasses import replace
from html.parser import HTMLParser

import pytest
from dash import dcc, html

from collector.calls import Job
from collector.errors import StoreBusyError
from dashboard.app import make_app
from dashboard.pages import today
from dashboard.plain_html import plain
from tests.dashboard import fakes
from tests.dashboard.test_today import words

AT_FIRST = '<div class="at-first">'


class Read(HTMLParser):
    """The tags and texts of a page, by Python's own reader of HTML."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.texts, self.open, self.unclosed = [], [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in ("input", "br", "img", "meta", "link", "hr"):
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.texts.append(data)


def first(client):
    page = client.get("/").get_data(as_text=True)
    begin, end = page.index(AT_FIRST), page.index('<div id="react-entry-point">')
    return Read(page[begin:end])


def client_of(queries, **more):
    return make_app(queries, queries.garden().garden, None, **more).server.test_client()


@pytest.mark.parametrize("kind", [*fakes.KINDS])
def test_it_says_what_the_page_says(kind):
    queries = fakes.one_bed(kind)
    found = first(client_of(queries))
    assert found.open == []
    said = " ".join(" ".join(found.texts).split())
    for part in words(today.layout(queries)).split(". "):
        assert " ".join(part.split())[:40] in said
    assert ("a", "/bed/" + queries.garden().beds[0].bed.id) in [(tag, attrs.get("href")) for tag, attrs in found.tags]
    assert not any("id" in attrs for _, attrs in found.tags)  # dash's own come with the same


def test_a_tap_is_a_form_and_counts():
    queries = fakes.one_bed("due")
    client = client_of(queries)
    found = first(client)
    told = {attrs["name"]: attrs["value"] for tag, attrs in found.tags if tag == "input"}
    (form, *_) = (attrs for tag, attrs in found.tags if tag == "form")
    answer = client.post(form["action"], data=told)
    assert (answer.status_code, answer.headers["Location"]) == (303, "/")
    assert queries.done == [("due", Job(told["job"]))]
    undo = {attrs["name"]: attrs["value"] for tag, attrs in first(client).tags if tag == "input"}
    assert undo["type"] == "undo"
    client.post(form["action"], data=undo)
    assert queries.undone == [("due", Job(told["job"]))]


@pytest.mark.parametrize(
    "told",
    [
        {},
        {"type": "done", "bed": "due"},
        {"type": "done", "bed": "due", "job": "dance"},
        {"type": "claim", "bed": "due", "job": "water"},
    ],
)
def test_a_tap_that_says_nothing_does_nothing(told):
    queries = fakes.one_bed("due")
    assert client_of(queries).post("/tapped", data=told).status_code == 400
    assert (queries.done, queries.undone) == ([], [])


def test_a_form_on_another_site_does_nothing():
    queries = fakes.one_bed("due")
    told = {"type": "done", "bed": "due", "job": "water"}
    answer = client_of(queries).post("/tapped", data=told, headers={"Origin": "https://elsewhere.example"})
    assert answer.status_code == 403
    assert queries.done == []


def test_other_pages_and_a_store_that_does_not_answer_have_nothing_at_first(monkeypatch):
    queries = fakes.one_bed("fine")
    client = client_of(queries)
    assert AT_FIRST not in client.get("/stakes").get_data(as_text=True)

    def busy():
        raise StoreBusyError("away")

    monkeypatch.setattr(queries, "garden", busy)
    page = client.get("/")
    assert page.status_code == 200
    assert AT_FIRST not in page.get_data(as_text=True)


def test_what_a_garden_file_says_stays_a_text():
    queries = fakes.every_kind()
    hostile = '<script>alert(1)</script>"&{%scripts%}'
    queries.shown = replace(queries.shown, garden=replace(queries.shown.garden, name=hostile))
    page = client_of(queries).get("/").get_data(as_text=True)
    assert "<script>alert(1)" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;&#34;&amp;{%scripts%}" in page


def test_components_become_the_html_that_they_stand_for():
    spoken = {"aria-label": "a <b>", "data-now": "1"}
    tree = html.Div(
        [
            html.P(["one ", html.B("two"), 3], className="x", hidden=True),
            dcc.Link("go", href="/a?b=1&c=2"),
            dcc.Store(id="s"),
            None,
            html.Br(),
        ],
        id="gone",
        style={"--cm": 4, "marginTop": "2px"},
        role="group",
        **spoken,
    )
    found = Read(plain(tree))
    style = {"style": "--cm:4;margin-top:2px", "role": "group", "aria-label": "a <b>", "data-now": "1"}
    assert found.tags == [
        ("div", style),
        ("p", {"class": "x", "hidden": None}),
        ("b", {}),
        ("a", {"href": "/a?b=1&c=2"}),
        ("br", {}),
    ]
    assert (found.texts, found.open) == (["one ", "two", "3", "go"], [])
