"""Today and Bed in a real Chromium: what of the look can be measured, and that no name of the garden file becomes markup."""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest
from playwright.sync_api import Browser, Page, expect

from collector.calls import Job
from collector.model import Cover
from collector.query import pressing
from tests.dashboard import fakes
from tests.dashboard.fakes import FakeQueries
from tests.real.conftest import handed_over
from tests.real.served import serving

pytestmark = pytest.mark.browser

WIDTHS = pytest.mark.parametrize("width", [320, 390, 1440])
PAGES = pytest.mark.parametrize("path", ["/", "/bed/due"])

SHARE_OF_OTHER_PIXELS = """async (shots) => {
  const pixels = await Promise.all(shots.map(async (shot) => {
    const bytes = Uint8Array.from(atob(shot), (letter) => letter.charCodeAt(0));
    const image = await createImageBitmap(new Blob([bytes]));
    const paper = new OffscreenCanvas(image.width, image.height).getContext("2d");
    paper.drawImage(image, 0, 0);
    return paper.getImageData(0, 0, image.width, image.height).data;
  }));
  const other = pixels[0].filter((value, at) => Math.abs(value - pixels[1][at]) > 96).length;
  return other / pixels[0].length;
}"""

Opening = Callable[..., Page]


@pytest.fixture  # anew for each test: dash keeps one list of pages for the whole process, and the newest app owns it
def every_state() -> Iterator[str]:
    with serving(fakes.every_kind()) as base:
        yield base


@pytest.fixture
def opened(chromium: Browser) -> Iterator[Opening]:
    pages: list[Page] = []

    def start(address: str, width: int = 390) -> Page:
        page = chromium.new_page(viewport={"width": width, "height": 844})
        pages.append(page)
        page.goto(address)
        handed_over(page)
        page.wait_for_selector(".picture svg", state="attached")
        return page

    yield start
    for page in pages:
        page.close()


@PAGES
@WIDTHS
def test_nothing_is_wider_than_the_screen(opened: Opening, every_state: str, path: str, width: int) -> None:
    page = opened(every_state + path, width)
    assert page.evaluate("document.documentElement.scrollWidth") == width


@PAGES
def test_text_has_the_four_sizes_and_no_other(opened: Opening, every_state: str, path: str) -> None:
    page = opened(every_state + path)
    sizes = page.evaluate(
        """() => {
          const found = {};
          const walk = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
          while (walk.nextNode()) {
            const holder = walk.currentNode.parentElement;
            if (walk.currentNode.data.trim() && !holder.closest("style, .js-plotly-plot, .unseen")) {
              found[getComputedStyle(holder).fontSize] = walk.currentNode.data;
            }
          }
          return found;
        }"""
    )
    assert set(sizes) <= {"30px", "22px", "17px", "14px"}, sizes
    assert len(sizes) >= 3


@PAGES
def test_everything_to_tap_is_at_least_44_px_high_and_wide(opened: Opening, every_state: str, path: str) -> None:
    page = opened(every_state + path)
    taps = page.evaluate(
        """() => [...document.querySelectorAll("main button, main a, main summary")]
          .map((each) => [each.innerText || each.className, each.getBoundingClientRect()])
          .filter(([, box]) => box.width > 0)
          .map(([name, box]) => [name, box.width, box.height])"""
    )
    assert taps
    assert [tap for tap in taps if tap[1] < 44 or tap[2] < 44] == []


@WIDTHS
@pytest.mark.parametrize("kind", ["due", "cool_all_the_way", "warm_all_the_way", "silent"])
def test_no_label_of_the_cut_covers_another_or_leaves_the_picture(
    opened: Opening, every_state: str, kind: str, width: int
) -> None:
    page = opened(f"{every_state}/bed/{kind}", width)
    page.wait_for_selector(".tag")
    boxes = page.evaluate(
        """() => [...document.querySelectorAll(".one-bed .cut .tag")].map((each) => {
          const box = each.getBoundingClientRect();
          return [each.innerText, box.left, box.top, box.right, box.bottom];
        })"""
    )
    (floor, right) = page.evaluate(
        "() => { const box = document.querySelector('.one-bed .cut').getBoundingClientRect(); return [box.bottom, box.right]; }"
    )
    assert len(boxes) >= 7
    for k, (name, left, top, end, bottom) in enumerate(boxes):
        assert end <= right + 0.5, name
        assert bottom <= floor + 0.5, name
        for other in boxes[k + 1 :]:
            apart = other[1] >= end - 1 or other[3] <= left + 1 or other[2] >= bottom - 1 or other[4] <= top + 1
            assert apart, (name, other[0])


def test_the_stem_of_a_call_ends_at_the_depth_where_it_is_true(opened: Opening) -> None:
    with serving(fakes.one_bed("due")) as base:
        for width, px_per_cm in ((390, 3.4), (1440, 6.3)):  # of a bed with jobs on both sides
            page = opened(base, width)
            ground_px, end_px = page.evaluate(
                """() => [document.querySelector(".picture svg .surface").getBoundingClientRect(),
                          document.querySelector(".below .stem").getBoundingClientRect().top].map((it) => it.top ?? it)"""
            )
            assert end_px - ground_px == pytest.approx(15 * px_per_cm, abs=4)  # the fake call is true 15 cm down


def test_the_first_screen_of_a_phone_holds_both_jobs_of_a_bed_and_their_buttons_also_where_they_are_told_at_length(
    opened: Opening,
) -> None:
    view = fakes.bed_view("due", "terrace", "Terrace bed")
    shade, water = view.calls
    shade = replace(
        shade,
        flag="Due by 19:00 tomorrow",
        sentence="The cloves would pass your limit, 18 °C, tomorrow afternoon. With the 50 % cloth they would average 17.4 °C "
        "at most, instead of 18.6 °C.",
        caution="Posts to drive? Buried lines: look first.",
    )
    water = replace(
        water, sentence="Twelve minutes of hose. The root zone is 129 litres short of full; the refill line is at 112 litres."
    )
    with serving(FakeQueries(fakes.garden_view([replace(view, calls=(shade, water))]))) as base:
        page = opened(base)
        bar = page.locator(".bar").bounding_box()
        assert bar is not None
        for name in ("Cloth is laid", "Watered"):
            button = page.get_by_role("button", name=name).bounding_box()
            assert button is not None
            assert button["y"] + button["height"] <= bar["y"]
        flags = page.evaluate("[...document.querySelectorAll('.flag')].map((flag) => flag.getBoundingClientRect().right)")
        assert max(flags) <= 390


def test_what_the_keyboard_reaches_is_not_left_under_the_bar(opened: Opening, every_state: str) -> None:
    page = opened(every_state)
    hidden, reached = [], set()
    for _ in range(60):
        page.keyboard.press("Tab")
        name, bottom, bar, in_bar, nowhere = page.evaluate(
            """() => {
              const now = document.activeElement, bar = document.querySelector(".bar");
              const [end, top] = [now.getBoundingClientRect().bottom, bar.getBoundingClientRect().top];
              return [now.id || now.innerText, end, top, bar.contains(now), now === document.body];
            }"""
        )
        reached.add(name)
        if not nowhere and not in_bar and bottom > bar:
            hidden.append((name, bottom, bar))
    assert len(reached) > 15
    assert hidden == []


def test_a_bed_whose_job_is_done_stays_under_the_finger_with_its_undo(opened: Opening) -> None:
    queries = fakes.a_day_in_april()
    queries.shown = replace(queries.shown, beds=tuple(sorted(queries.shown.beds, key=pressing)))

    def done_and_sorted_anew(bed_id: str, job: Job) -> None:
        FakeQueries.mark_done(queries, bed_id, job)
        queries.shown = replace(queries.shown, beds=tuple(sorted(queries.shown.beds, key=pressing)))

    queries.mark_done = done_and_sorted_anew  # type: ignore[method-assign]
    with serving(queries) as base:
        page = opened(base)
        page.locator(".bed").first.get_by_role("button", name="Cloth is laid").click()
        page.locator(".bed").first.get_by_role("button", name="Watered").click()
        expect(page.locator(".bed").first.get_by_role("button", name="Undo")).to_have_count(2)
        names = page.locator(".bed h2").all_inner_texts()
        assert names[0] == "Terrace bed"
        assert queries.garden().beds[0].bed.name != "Terrace bed"
        page.reload()
        page.wait_for_selector(".picture svg", state="attached")
        assert page.locator(".bed h2").all_inner_texts()[0] != "Terrace bed"


def test_a_state_shows_in_every_copy_of_the_repeated_drawing(opened: Opening) -> None:
    with serving(fakes.one_bed("silent")) as base:
        page = opened(base, 768)
        # the same plant, a tile of 280 px farther on: it must look the same but for the smoothing of edges
        picture = page.locator(".cut").bounding_box()
        assert picture is not None
        clip = {"x": 100.0, "y": picture["y"], "width": 80.0, "height": picture["height"]}
        page.add_style_tag(content=".labels, .below, .above, .edges, .surface { visibility: hidden }")
        shots = [base64.b64encode(page.screenshot(clip=clip | {"x": x})).decode() for x in (100.0, 380.0)]
        assert page.evaluate(SHARE_OF_OTHER_PIXELS, shots) < 0.005
        blank = base64.b64encode(page.screenshot(clip=clip | {"y": 0.0})).decode()
        assert page.evaluate(SHARE_OF_OTHER_PIXELS, [shots[0], blank]) > 0.01  # the comparison can tell


def test_a_hostile_name_stands_on_the_page_as_text(opened: Opening) -> None:
    hostile = "<img src=x onerror=\"document.title='broken in'\">"
    bed = fakes.bed("hostile", hostile, covers=(Cover(hostile, 0.09),), variety=hostile)
    view = fakes.view(bed, (18.3, 17.6, 16.8, 16.4), (0.19, 0.21), fine=hostile, cool_line="cool below 7 cm")
    with serving(FakeQueries(fakes.garden_view([view]))) as base:
        for path in ("/", "/bed/hostile"):
            page = opened(base + path)
            page.wait_for_timeout(300)
            assert page.locator("main img").count() == 0
            assert hostile in page.locator("main").inner_text()
            assert "broken in" not in page.title()


def test_a_picture_that_is_told_before_its_place_is_there_comes_when_the_place_does(opened: Opening) -> None:
    with serving(fakes.one_bed("due")) as base:
        page = opened(base)
        page.evaluate(
            """() => {
              const cut = { still: "/cut/due/today?is=late", now: {}, known: "", words: "late" };
              window.dash_clientside.cut.draw(cut, { type: "late", bed: "due" });
            }"""
        )
        page.wait_for_timeout(200)
        assert page.locator("[aria-label=late]").count() == 0
        page.evaluate(
            """() => {
              const place = document.createElement("div");
              place.id = '{"bed":"due","type":"late"}';
              document.body.append(place);
            }"""
        )
        page.wait_for_selector("[aria-label=late] svg", state="attached")


def test_the_picture_speaks_to_a_screen_reader(opened: Opening, every_state: str) -> None:
    page = opened(every_state + "/bed/due")
    picture = page.get_by_role("img", name="Cut through Due: straw, compost above the soil; cool below 7 cm.")
    assert picture.count() == 1
    assert page.get_by_role("table", name="Due, from the soil surface down").count() == 1
    assert page.get_by_role("heading", level=1).inner_text() == "Cloves cool, 17.4 °C."
