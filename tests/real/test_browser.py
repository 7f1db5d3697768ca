"""The pages in a real Chromium: what a grower sees and taps, and what the browser complains of."""

import os
import signal
import subprocess
import sys
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest
from argon2 import PasswordHasher
from playwright.sync_api import Browser, Page, expect

from collector.calls import Due, Job, Notice
from dashboard import theme
from dashboard.figures.chart import Reader
from tests.dashboard import fakes
from tests.dashboard.fakes import DAY_MS, HOUR_MS, NOW_MS, FakeQueries
from tests.dashboard.test_app import GARDEN_FILE
from tests.real.conftest import handed_over
from tests.real.mosquitto import free_port, wait_until
from tests.real.served import serving

pytestmark = pytest.mark.browser

PHONE, DESK = {"width": 390, "height": 844}, {"width": 1440, "height": 900}
PASSWORD = "straw and compost"
HASH = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1).hash(PASSWORD)
BY_WIDTH = pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])


@dataclass
class Visit:
    """A page, and everything the browser said against it meanwhile."""

    page: Page
    base: str
    complaints: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)

    def open(self, path: str) -> Page:
        self.page.goto(self.base + path)
        handed_over(self.page)
        self.page.wait_for_selector("main h1")
        return self.page

    def elsewhere(self) -> list[str]:
        return [url for url in self.asked if not url.startswith((self.base + "/", "data:", "blob:"))]


Visiting = Callable[..., Visit]


@pytest.fixture
def visit(chromium: Browser) -> Iterator[Visiting]:
    contexts = []

    def start(base: str, viewport: dict[str, int] = PHONE, **options: object) -> Visit:
        context = chromium.new_context(viewport=viewport, **options)
        contexts.append(context)
        made = Visit(context.new_page(), base)
        made.page.on("console", lambda said: said.type in {"error", "warning"} and made.complaints.append(said.text))
        made.page.on("pageerror", lambda error: made.complaints.append(str(error)))
        made.page.on("request", lambda request: made.asked.append(request.url))
        return made

    yield start
    for context in contexts:
        context.close()


# ---------------------------------------------------------------- every page, every garden, both widths


GARDENS = {
    "every state": fakes.every_kind,
    "one probe": lambda: fakes.one_bed("one_probe"),
    "never heard": lambda: fakes.one_bed("never"),
    "empty": fakes.no_beds,
}


@pytest.mark.parametrize(("garden", "viewport"), [*((name, PHONE) for name in GARDENS), ("every state", DESK)])
def test_the_plain_pages_open_without_complaint_and_ask_no_other_host(
    visit: Visiting, garden: str, viewport: dict[str, int]
) -> None:
    with serving(GARDENS[garden]()) as base:
        seen = visit(base, viewport)
        page = seen.open("/")
        for word, path in (("Today", "/"), ("Bed", None), ("Stakes", "/stakes"), ("Notices", "/notices")):
            page.click(f".bar >> text={word}")
            page.wait_for_function("path => path === null || location.pathname === path", arg=path)
            page.wait_for_load_state("networkidle")
            assert page.evaluate("document.documentElement.scrollWidth") <= viewport["width"], f"{word} scrolls sideways"

        assert page.evaluate("document.fonts.check('17px Overpass')")
        assert seen.complaints == []
        assert seen.elsewhere() == []


@pytest.mark.parametrize(
    ("kind", "viewport"), [*((kind, PHONE) for kind in ("due", "one_probe", "moisture_only", "never")), ("due", DESK)]
)
def test_the_page_of_a_bed_opens_without_complaint_and_asks_no_other_host(
    visit: Visiting, kind: str, viewport: dict[str, int]
) -> None:
    with serving(fakes.one_bed(kind)) as base:
        seen = visit(base, viewport)
        page = seen.open(f"/bed/{kind}")
        page.wait_for_selector(".water .js-plotly-plot .main-svg", state="attached")
        page.wait_for_load_state("networkidle")

        assert page.evaluate("document.documentElement.scrollWidth") <= viewport["width"]
        assert page.locator(".modebar-btn").count() == 0
        assert "share" not in page.inner_text("body").lower()
        assert seen.complaints == []
        assert seen.elsewhere() == []


def test_today_is_drawn_without_the_weight_of_a_chart_library(visit: Visiting) -> None:
    with serving(fakes.a_day_in_april()) as base:
        seen = visit(base)
        seen.open("/")

        assert not [url for url in seen.asked if "plotly" in url.lower()]


def test_every_word_of_the_bar_is_large_enough_for_a_wet_thumb(visit: Visiting) -> None:
    with serving(fakes.a_day_in_april()) as base:
        page = visit(base).open("/stakes")
        words = page.locator(".bar .word")

        assert words.all_inner_texts() == ["Today", "Beds", "Journal", "Stakes", "Notices"]
        for box in (word.bounding_box() for word in words.all()):
            assert box is not None
            assert min(box["width"], box["height"]) >= 44
        expect(page.locator('.bar [aria-current="page"]')).to_have_text("Stakes")


def test_an_unknown_address_gets_a_page_that_says_so_and_leads_home(visit: Visiting) -> None:
    with serving(fakes.a_day_in_april()) as base:
        page = visit(base).open("/no/such/page")

        expect(page.locator("main")).to_contain_text("There is no page at this address.")
        page.click("text=See what is due today")
        expect(page.locator("main h1")).to_contain_text("Two jobs today")


# ---------------------------------------------------------------- charts


def with_history(kind: str, **options: object) -> FakeQueries:
    """A garden of one bed whose charts show this history, whatever span is asked for."""
    queries = fakes.one_bed(kind, ahead=bool(options.pop("ahead", False)))
    days, view = int(str(options.pop("days", 3))), queries.bed(kind)
    span = (NOW_MS - days * DAY_MS, NOW_MS)
    queries.histories[kind] = fakes.history(view, *span, ahead=view.state.outlook, **options)
    return queries


def drawn(page: Page) -> Page:
    page.wait_for_selector(".heatmaplayer image", state="attached")
    page.wait_for_selector(".temperatures .js-line", state="attached")
    page.wait_for_selector(".water .js-line", state="attached")
    return page


def test_a_chart_draws_its_lines_its_picture_and_its_labels(visit: Visiting) -> None:
    with serving(with_history("due")) as base:
        page = drawn(visit(base).open("/bed/due"))

        assert page.locator(".temperatures .js-line").count() >= 5
        labels = page.locator(".temperatures .annotation-text").all_text_contents()
        assert {"5 cm", "10 cm", "20 cm", "30 cm", "cloves", "your limit", "now"} <= set(labels)
        assert page.locator(".depth-time .js-line").count() >= 4  # casing and pen of the tongues of three days
        assert "refill line" in page.locator(".water .annotation-text").all_text_contents()


@BY_WIDTH
def test_what_is_to_come_lies_right_of_what_was_on_the_same_ground(visit: Visiting, viewport: dict[str, int]) -> None:
    with serving(with_history("due", ahead=True)) as base:
        seen = visit(base, viewport)
        page = drawn(seen.open("/bed/due"))
        page.wait_for_selector(".depth-ahead .heatmaplayer image", state="attached")
        was, cut, to_come = (
            page.locator(selector).bounding_box()
            for selector in (".depth-time .nsewdrag", ".ground .cut", ".depth-ahead .nsewdrag")
        )
        assert was is not None
        assert cut is not None
        assert to_come is not None

        assert abs(was["y"] - to_come["y"]) <= 1
        assert abs(was["height"] - to_come["height"]) <= 1
        if viewport is DESK:  # the cut stands between them, on one floor
            assert was["x"] + was["width"] <= cut["x"] + 1
            assert cut["x"] + cut["width"] <= to_come["x"] + 1
            assert abs(cut["y"] + cut["height"] - was["y"] - was["height"]) <= 1
        else:  # they join at now
            assert abs(was["x"] + was["width"] - to_come["x"]) <= 1
        assert page.evaluate("document.documentElement.scrollWidth") <= viewport["width"]
        labels = page.locator(".temperatures .annotation-text").all_text_contents()
        assert any("50 % cloth" in label for label in labels)
        assert "What this bed is like." in page.inner_text("main")
        assert seen.complaints == []


def test_where_nothing_is_expected_what_was_has_the_whole_width(visit: Visiting) -> None:
    with serving(with_history("due")) as base:
        page = drawn(visit(base).open("/bed/due"))

        expect(page.locator(".depth-ahead .graph")).to_be_hidden()
        box = page.locator(".depth-time .nsewdrag").bounding_box()
        assert box is not None
        assert box["width"] == PHONE["width"]
        expect(page.locator("#bed-nature")).to_be_hidden()


def test_a_gap_is_drawn_as_a_gap(visit: Visiting) -> None:
    gap = (NOW_MS - 40 * HOUR_MS, NOW_MS - 30 * HOUR_MS)
    pieces = {}
    for name, queries in (("whole", with_history("due")), ("gap", with_history("due", gap=gap))):
        with serving(queries) as base:
            page = drawn(visit(base).open("/bed/due"))
            pieces[name] = page.locator(".temperatures .lines .js-line").count()

    lines = 5  # four probes and the cloves
    assert pieces["gap"] == pieces["whole"] + lines


def test_a_year_is_drawn_in_a_few_seconds(visit: Visiting) -> None:
    with serving(with_history("due", days=365, step_ms=HOUR_MS)) as base:
        seen = visit(base)
        seen.page.set_default_timeout(15_000)
        drawn(seen.open("/bed/due?days=365"))

        assert seen.complaints == []


def test_a_tap_on_a_chart_shows_one_plate_with_the_moment_and_the_values(visit: Visiting) -> None:
    with serving(with_history("due")) as base:
        page = drawn(visit(base, has_touch=True).open("/bed/due"))
        plot = page.locator(".temperatures .nsewdrag")
        plot.scroll_into_view_if_needed()
        box = plot.bounding_box()
        assert box is not None
        page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + 60)

        plate = page.locator(".temperatures .hovertext")
        expect(plate).to_have_count(1)
        expect(plate).to_contain_text("cloves")
        expect(plate).to_contain_text("Mon")


def test_a_chart_takes_the_inks_of_the_phones_mode(visit: Visiting) -> None:
    with serving(with_history("due")) as base:
        for mode in ("light", "dark"):
            page = drawn(visit(base, color_scheme=mode).open("/bed/due"))
            ink = Reader(mode, fakes.garden_view([]).garden.units, "UTC").tokens.ink
            red, green, blue = (int(ink[start : start + 2], 16) for start in (1, 3, 5))
            stroke = f"rgb({red}, {green}, {blue})"
            expect(page.locator(".temperatures .js-line").last).to_have_css("stroke", stroke)

        page.emulate_media(color_scheme="light")
        expect(page.locator(".temperatures .js-line").last).not_to_have_css("stroke", stroke)
    assert theme.LIGHT.ink != theme.DARK.ink


# ---------------------------------------------------------------- the cut at another time


@BY_WIDTH
def test_the_slider_takes_the_cut_back_and_on_and_to_now_again(visit: Visiting, viewport: dict[str, int]) -> None:
    with serving(with_history("due", ahead=True)) as base:
        seen = visit(base, viewport)
        page = drawn(seen.open("/bed/due"))
        slider, said, cut = page.get_by_role("slider"), page.locator("#hours-off-said"), page.locator(".one-bed .cut")
        box, now = slider.bounding_box(), cut.inner_text()
        assert box is not None
        assert box["height"] >= 44

        slider.focus()
        slider.press("Home")
        expect(said).to_have_text("Saturday 17:40, as it was")
        expect(cut).not_to_have_text(now)
        slider.press("End")
        expect(said).to_have_text("20 April 16:40, expected if nothing is done")
        expect(page.locator(".stake-side .tag")).to_have_count(0)
        slider.fill("50")
        expect(said).to_have_text("Thursday 19:40, expected if nothing is done")
        page.wait_for_timeout(6_000)  # a live update passes meanwhile
        expect(page.locator(".stake-side .tag")).to_have_count(0)
        slider.fill("0")
        expect(said).to_have_text("The bed now")
        assert cut.inner_text() == now
        assert seen.complaints == []


# ---------------------------------------------------------------- live, taps, strips


def test_the_page_follows_the_garden_without_being_loaded_again(visit: Visiting) -> None:
    queries = fakes.a_day_in_april()
    with serving(queries) as base:
        page = visit(base).open("/")
        expect(page.locator("main h1")).to_contain_text("Two jobs today")
        page.evaluate("window.stayed = true")
        beds = tuple(replace(bed, calls=bed.calls[:1]) for bed in queries.shown.beds)
        queries.shown = replace(queries.shown, beds=beds)

        expect(page.locator("main h1")).to_contain_text("One job today", timeout=12_000)
        assert page.evaluate("window.stayed") is True


@BY_WIDTH
def test_one_tap_says_that_a_job_is_done_and_another_takes_it_back(visit: Visiting, viewport: dict[str, int]) -> None:
    queries = fakes.a_day_in_april()
    with serving(queries) as base:
        page = visit(base, viewport).open("/")
        page.get_by_role("button", name="Watered").first.click()
        undo = page.get_by_role("button", name="Undo")
        expect(undo).to_be_visible()
        assert queries.done == [("terrace", Job.WATER)]

        undo.click()
        expect(page.get_by_role("button", name="Watered").first).to_be_visible()
        assert queries.undone == [("terrace", Job.WATER)]
        assert [call.call.due for call in queries.bed("terrace").calls] == [Due.DUE, Due.DUE]


def test_the_tap_that_says_seen_is_kept(visit: Visiting) -> None:
    queries = fakes.a_day_in_april()
    queries.told = [Notice(7, NOW_MS - HOUR_MS, "terrace", Job.SHADE, "Lay the shade cloth", "The cloves were at 18.6 °C.")]
    with serving(queries) as base:
        page = visit(base).open("/notices")
        page.get_by_role("button", name="Seen").click()

        expect(page.locator("main")).to_contain_text("Seen 17:40.")
        assert queries.seen == [7]


def test_a_page_that_is_cut_off_says_so_and_takes_it_back_when_it_hears_again(visit: Visiting) -> None:
    with serving(fakes.a_day_in_april()) as base:
        page = visit(base).open("/")
        page.route("**/_dash-update-component*", lambda route: route.abort())
        strip = page.locator("#cut-off")
        expect(strip).to_contain_text("cannot reach the garden computer", timeout=12_000)

        page.unroute("**/_dash-update-component*")
        expect(strip).to_be_hidden(timeout=12_000)


def test_a_page_that_the_computer_cannot_work_out_says_what_is_safe(visit: Visiting) -> None:
    with serving(fakes.a_day_in_april()) as base:
        page = visit(base).open("/")
        page.route("**/_dash-update-component*", lambda route: route.fulfill(status=500, body="trouble"))

        expect(page.locator("#cut-off")).to_contain_text("No reading is lost by that", timeout=12_000)


def test_trouble_with_the_broker_stands_on_top_of_every_page(visit: Visiting) -> None:
    queries = fakes.a_day_in_april()
    queries.shown = replace(queries.shown, trouble=("The broker at 127.0.0.1:1883 does not answer.",))
    with serving(queries) as base:
        for path in ("/", "/stakes"):
            expect(visit(base).open(path).locator(".strip.trouble")).to_contain_text("does not answer")


# ---------------------------------------------------------------- signing in


def test_one_signs_in_once_and_comes_to_the_page_that_was_asked_for(visit: Visiting) -> None:
    with serving(fakes.a_day_in_april(), HASH) as base:
        seen = visit(base)
        page = seen.page
        page.goto(base + "/stakes")
        page.fill("#password", "not the password")
        page.click("text=Sign in >> nth=-1")
        expect(page.get_by_role("alert")).to_contain_text("That is not the password.")
        assert seen.complaints == ["Failed to load resource: the server responded with a status of 401 (UNAUTHORIZED)"]
        seen.complaints.clear()

        page.fill("#password", PASSWORD)
        page.click("button[type=submit]")
        expect(page.locator("main h1")).to_contain_text("Probes:")
        assert seen.complaints == []
        assert seen.elsewhere() == []

        page.click("text=Sign out")
        expect(page.locator("h1")).to_have_text("Sign in to the garden.")


def test_a_session_that_ends_while_the_page_is_open_leads_to_signing_in(visit: Visiting) -> None:
    with serving(fakes.a_day_in_april(), HASH) as base:
        page = visit(base).page
        page.goto(base + "/")
        page.fill("#password", PASSWORD)
        page.click("button[type=submit]")
        expect(page.locator("main h1")).to_contain_text("Two jobs today")
        handed_over(page).context.clear_cookies()

        expect(page.locator("h1")).to_have_text("Sign in to the garden.", timeout=12_000)


# ---------------------------------------------------------------- the command


def test_the_command_serves_a_real_garden_and_ends_well_when_told_to(tmp_path: Path, visit: Visiting) -> None:
    (tmp_path / "garden.toml").write_text(GARDEN_FILE)
    port = free_port()
    call = [sys.executable, "-m", "dashboard", "--garden", str(tmp_path / "garden.toml"), "--port", str(port)]
    environment = {name: value for name, value in os.environ.items() if not name.startswith("COOLDEPTH_")}
    with subprocess.Popen(call, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment) as process:
        try:
            wait_until(lambda: answers(f"http://127.0.0.1:{port}/beds"))
            seen = visit(f"http://127.0.0.1:{port}")
            for path in ("/", "/bed/terrace", "/stakes", "/notices"):
                seen.open(path)
            assert seen.complaints == []
        finally:
            process.send_signal(signal.SIGTERM)
            said, complained = process.communicate(timeout=10)

    assert (process.returncode, said, complained) == (0, b"", b"")


def answers(url: str) -> bool:
    try:
        with urllib.request.urlopen(url, timeout=1) as answer:
            return bool(answer.status == 200)
    except OSError:
        return False


# ---------------------------------------------------------------- out of reach


def test_a_phone_that_cannot_reach_the_garden_shows_what_was_last_known(visit: Visiting) -> None:
    queries = fakes.a_day_in_april()
    with serving(queries) as base:
        seen = visit(base)
        page = seen.open("/")
        kept = "caches.match('/last-known').then(found => found !== undefined)"
        page.wait_for_function(f"() => {kept}", polling=200)
        assert seen.complaints == []
    # the garden computer is gone now
    page.goto(f"{base}/bed/terrace")
    expect(page.locator("#as-of")).to_contain_text(
        "The garden computer cannot be reached. This is what it said on Tuesday 13 April"
    )
    for view in queries.garden().beds:
        expect(page.locator("main")).to_contain_text(view.bed.name)
    assert page.evaluate("document.fonts.check('17px Overpass')")


def test_whoever_signs_out_leaves_nothing_on_the_phone(visit: Visiting) -> None:
    with serving(fakes.a_day_in_april(), HASH) as base:
        seen = visit(base)
        page = seen.page
        page.goto(base + "/")
        page.fill("#password", PASSWORD)
        page.click("button")
        page.wait_for_selector(".bar")
        page.wait_for_function("() => caches.match('/last-known').then(found => found !== undefined)", polling=200)
        page.click("text=Sign out")
        page.wait_for_selector("#password")
        page.wait_for_function("() => caches.match('/last-known').then(found => found === undefined)", polling=200)
