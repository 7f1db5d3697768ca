"""Signed links: what opens them, what does not, and where the plain ones lead."""

import hashlib
import hmac

import pytest
from hypothesis import given
from hypothesis import strategies as st

from collector.advice import links
from collector.advice.links import LINK_LASTS_MS, Links, Ticket
from collector.errors import LinkError
from tests.fakes import NOW_MS

KEY, OTHER_KEY = b"k" * 32, b"o" * 32
TICKET = Ticket(7, NOW_MS + 1000, "ab" * 16)


def test_a_ticket_that_was_signed_is_read_again():
    assert links.read(KEY, links.sign(KEY, TICKET), NOW_MS) == TICKET


def test_the_signature_is_hmac_with_sha_256_over_what_it_is_for():
    """RFC 2104, by the standard library of Python: the key alone makes the signature."""
    told = f"7.{NOW_MS + 1000}.{'ab' * 16}"
    expected = hmac.new(KEY, f"cooldepth answer.{told}".encode(), hashlib.sha256).hexdigest()
    assert links.sign(KEY, TICKET) == f"{told}.{expected}"


def test_it_runs_out_to_the_millisecond():
    token = links.sign(KEY, TICKET)
    assert links.read(KEY, token, TICKET.until_ms - 1) == TICKET
    with pytest.raises(LinkError, match="run out"):
        links.read(KEY, token, TICKET.until_ms)


def test_another_key_opens_nothing():
    with pytest.raises(LinkError, match="never sent from this garden"):
        links.read(OTHER_KEY, links.sign(KEY, TICKET), NOW_MS)


@given(place=st.integers(0, 200), sign=st.sampled_from("0123456789abcdef.Z é"))
def test_a_link_with_one_sign_changed_opens_nothing(place, sign):
    token = links.sign(KEY, TICKET)
    place %= len(token)
    changed = token[:place] + sign + token[place + 1 :]
    if changed == token:
        return
    with pytest.raises(LinkError):
        links.read(KEY, changed, NOW_MS)


@given(st.text())
def test_any_other_text_opens_nothing(text):
    with pytest.raises(LinkError):
        links.read(KEY, text, NOW_MS)


def test_links_lead_to_the_pages_of_the_garden_and_are_good_for_three_days():
    made = Links("https://garden.example.org/", KEY)
    assert made.bed("upper terrace/é") == "https://garden.example.org/bed/upper%20terrace%2F%C3%A9"
    assert (made.today, made.notices) == ("https://garden.example.org/", "https://garden.example.org/notices")
    address, token = made.answer(7, NOW_MS, "ab" * 16).split("?link=")
    assert address == "https://garden.example.org/answer"
    assert links.read(KEY, token, NOW_MS) == Ticket(7, NOW_MS + LINK_LASTS_MS, "ab" * 16)
