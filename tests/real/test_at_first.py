"""Today before its scripts have run, and where they never do: it is read, tapped, and handed over without a blink."""

import pytest
from playwright.sync_api import expect

from tests.dashboard import fakes
from tests.real.served import serving

pytestmark = pytest.mark.browser

PHONE = {"width": 390, "height": 844}


def test_without_javascript_a_job_is_read_done_and_undone(chromium):
    queries = fakes.one_bed("due")
    with serving(queries) as base:
        page = chromium.new_context(java_script_enabled=False, viewport=PHONE).new_page()
        page.goto(base)
        expect(page.get_by_role("heading", name="Two jobs today.")).to_be_visible()
        page.get_by_text("Why?").first.click()
        expect(page.get_by_text("The rule.").first).to_be_visible()
        page.locator(".tap-form button").first.click()
        expect(page.get_by_role("button", name="Undo")).to_be_visible()
        assert len(queries.done) == 1
        page.get_by_role("button", name="Undo").click()
        expect(page.locator(".tap-form .tap").first).to_be_visible()
        assert len(queries.undone) == 1


def test_it_is_handed_over_with_what_was_opened_and_nothing_moves(chromium):
    queries = fakes.one_bed("due")
    with serving(queries) as base:
        page = chromium.new_page(viewport=PHONE)
        errors = []
        page.on("console", lambda message: errors.append(message.text) if message.type in ("error", "warning") else None)
        # Held back until something was opened, as on a slow phone.
        held = []
        page.route("**/_dash-layout", lambda route: held.append(route))
        page.goto(base, wait_until="commit")
        page.get_by_text("Why?").first.click()
        page.locator(".at-first .picture svg").first.wait_for()
        tops = "(found) => found.map((one) => one.getBoundingClientRect().top)"
        shown = page.locator("main h1, main .flag, main .tap")
        before = shown.evaluate_all(tops)
        page.wait_for_timeout(300)
        held[0].continue_()
        page.locator(".at-first").wait_for(state="detached")
        assert page.locator("main .why[open]").count() == 1
        assert shown.evaluate_all(tops) == pytest.approx(before, abs=1.0)
        page.locator("#react-entry-point main .tap").first.click()
        expect(page.get_by_role("button", name="Undo")).to_be_visible()
        assert errors == []
