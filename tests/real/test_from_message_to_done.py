"""From the message on the phone to done, in a real browser: its link, one tap, and it is in the journal."""

import re
from dataclasses import replace

import pytest
from playwright.sync_api import expect

from collector.advice.links import Links
from collector.calls import Due, Job, Memory, Notice
from collector.journal import Deed
from collector.notices import Notices
from collector.settings import NotifySettings
from tests.dashboard.test_app import HASH
from tests.fakes import NOW_MS, FakeClock
from tests.fakes_advice import FakePhone
from tests.real.served import serving
from tests.real.test_accessible import queries
from tests.real.test_browser import PHONE, Visiting, visit

pytestmark = pytest.mark.browser
__all__ = ["visit"]
WATER = Notice(0, NOW_MS, "gate", Job.WATER, "Gate bed: water 90 litres", "The root zone is short.")


def told(asked, base):
    """What the phone hears of a dry bed, with its links."""
    phone, season = FakePhone(), asked.answers._season
    whole = replace(asked.garden().garden, notify=(NotifySettings("json://x", phone.channel),))
    notices = Notices(whole, season, [phone], FakeClock(), Links(base, season.link_key()))
    notices.post([Memory("gate", Job.WATER, Due.DUE)], [WATER], [])
    notices.deliver()
    ((_, text),) = phone.heard
    return re.findall(r"https?://\S+", text)


def test_the_link_of_a_message_leads_to_done_in_two_taps_on_a_phone_that_never_signed_in(visit: Visiting) -> None:
    asked = queries()
    with serving(asked, HASH) as base:
        answer, bed = told(asked, base)
        seen = visit(base, PHONE)
        page = seen.page
        page.goto(answer)  # the first tap
        expect(page.locator("h1")).to_contain_text("Water ")
        page.click("text=Watered")  # the second
        expect(page.locator("h1")).to_have_text("Thank you.")
        expect(page.locator("main")).to_contain_text("Written down as done")
        assert [one.deed for one in asked.answers._season.entries(NOW_MS, NOW_MS + 1)] == [Deed.WATERED]

        page.goto(answer)
        expect(page.locator("main")).to_contain_text("It works once")
        page.goto(bed)
        expect(page.locator("h1")).to_have_text("Sign in to the garden.")
        assert seen.elsewhere() == []
        assert [one for one in seen.complaints if "403" not in one] == []


def test_to_wait_takes_the_same_two_taps(visit: Visiting) -> None:
    asked = queries()
    with serving(asked, HASH) as base:
        answer, _ = told(asked, base)
        page = visit(base, PHONE).page
        page.goto(answer)
        page.click("text=Not for three days")
        expect(page.locator("main")).to_contain_text("You are not told again before")
        assert asked.answers._season.notice(2).snoozed_ms > NOW_MS
