"""Every page as axe-core sees it, at both widths, by day and by night; and every target large enough for a wet thumb."""

from __future__ import annotations

import importlib.resources

import pytest
from playwright.sync_api import Page

from collector.advice import links
from collector.calls import Due, Job, Memory, Notice
from collector.journal import Deed, Entry
from collector.query import SoilQueries
from tests.collector.advice.test_what_ifs import STRAW, seen
from tests.dashboard.test_app import HASH
from tests.fakes import NOW_MS, FakeClock
from tests.fakes_advice import DAY_MS, HOUR_MS, FakeReadings, FakeSeason, M, T, bed, every, garden, probe
from tests.real.conftest import handed_over
from tests.real.served import serving
from tests.real.test_browser import DESK, PHONE, Visiting, visit

pytestmark = pytest.mark.browser
__all__ = ["visit"]

AXE = (importlib.resources.files("axe_playwright_python") / "axe.min.js").read_text()
PAGES = (
    "/",
    "/beds",
    "/bed/terrace",
    "/what-if?bed=terrace",
    "/season",
    "/compare",
    "/feed",
    "/journal?bed=terrace&deed=counted",
    "/stakes",
    "/mounting?bed=terrace",
    "/notices",
    "/last-known",
    "/nowhere",
)


def queries() -> SoilQueries:
    """A garden of two beds with a week behind them, a journal, and something to tell."""
    readings, season = FakeReadings(), FakeSeason()
    readings.counts = lambda: None
    for bed_id in ("terrace", "gate"):
        for depth_m, value_c in ((0.05, 19.0), (0.12, 18.4), (0.20, 17.0)):
            readings.say(probe(T, depth_m, bed_id), value_c, *every(HOUR_MS, NOW_MS - 7 * DAY_MS, NOW_MS))
        readings.say(probe(M, 0.15, bed_id), 0.17, *every(HOUR_MS, NOW_MS - 7 * DAY_MS, NOW_MS))
    season.outlooks = {"terrace": seen().outlook}
    season.write(
        Entry("terrace", Deed.COUNTED, NOW_MS - 5 * DAY_MS, NOW_MS, amounts={"leaves": 7.0, "browned": 1.0}, note="yellow tips")
    )
    season.write(Entry("terrace", Deed.FED, NOW_MS - 9 * DAY_MS, NOW_MS, what="Fish feed", amounts={"n_g_m2": 1.2}))
    notice = Notice(0, NOW_MS - HOUR_MS, "terrace", Job.WATER, "Terrace bed: water 68 litres", "It is dry.")
    season.record([Memory("terrace", Job.WATER, Due.DUE)], [(notice, [])])
    return SoilQueries(garden(STRAW, bed(bed_id="gate", name="Gate bed")), readings, season, FakeClock())


def violations(page: Page) -> list[str]:
    """What axe-core finds, a line each."""
    page.evaluate(AXE)
    found = page.evaluate("() => axe.run(document, { resultTypes: ['violations'] })")["violations"]
    return [f"{one['id']}: {one['help']}: {node['html'][:160]}" for one in found for node in one["nodes"]]


def opened(page: Page, base: str, path: str) -> None:
    page.goto(base + path)
    handed_over(page)
    page.wait_for_selector("main h1")
    page.wait_for_load_state("networkidle")


@pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
def test_axe_finds_nothing_on_any_page_by_day_and_by_night(visit: Visiting, viewport: dict[str, int]) -> None:
    found: dict[str, list[str]] = {}
    with serving(queries()) as base:
        page = visit(base, viewport).page
        for path in PAGES:
            opened(page, base, path)
            for mode in ("light", "dark"):
                page.emulate_media(color_scheme=mode)
                found[f"{path} {mode}"] = violations(page)
    assert {path: lines for path, lines in found.items() if lines} == {}


@pytest.mark.parametrize("mode", ["light", "dark"])
def test_axe_finds_nothing_on_the_pages_without_signing_in(visit: Visiting, mode: str) -> None:
    asked = queries()
    token = links.sign(asked.answers._season.link_key(), links.Ticket(1, NOW_MS + DAY_MS, "ab" * 16))
    with serving(asked, HASH) as base:
        page = visit(base, PHONE, color_scheme=mode).page
        for path in ("/sign-in", f"/answer?link={token}", "/answer"):
            opened(page, base, path)
            assert violations(page) == [], path


SMALL = """() => Array.from(document.querySelectorAll("main a, main button, main summary, main label:has(input), nav a"))
  .filter((one) => one.checkVisibility({ visibilityProperty: true, opacityProperty: true }))
  .map((one) => [one, one.getBoundingClientRect()])
  .filter(([, box]) => box.width > 0 && box.height > 0 && (box.height < 43.5 || box.width < 43.5))
  .map(([one, box]) => `${one.tagName} ${one.textContent.trim()}: ${box.width} x ${box.height}`)"""


def test_every_target_is_large_enough_for_a_wet_thumb(visit: Visiting) -> None:
    small: dict[str, list[str]] = {}
    with serving(queries()) as base:
        page = visit(base, PHONE).page
        for path in PAGES:
            opened(page, base, path)
            small[path] = page.evaluate(SMALL)
    assert {path: found for path, found in small.items() if found} == {}


def test_the_season_prints_what_is_known_and_nothing_to_tap(visit: Visiting) -> None:
    with serving(queries()) as base:
        page = visit(base, DESK).page
        opened(page, base, "/season")
        page.emulate_media(media="print")
        assert not page.locator(".bar").is_visible()
        assert not page.locator("text=What to feed, and how much").is_visible()
        assert page.locator("h1").is_visible()
        assert page.locator(".time-line .mark").first.is_visible()
