"""Today: what is due, said in one sentence, hung on each bed, told done with one tap, and kept up to date."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import dash
import pytest
from dash.development.base_component import Component

from collector.calls import Due, Job
from collector.query import BedView, GardenView, pressing
from collector.units import UnitSystem
from dashboard import ids
from dashboard.app import make_app
from dashboard.components import calls, cut_view, live
from dashboard.figures.cut_frame import today_frame
from dashboard.pages import today
from tests.dashboard import fakes
from tests.dashboard.fakes import FakeQueries


def every(component: object) -> list[Component]:
    """A component and all that is in it, in reading order."""
    if isinstance(component, (list, tuple)):
        return [inner for each in component for inner in every(each)]
    if isinstance(component, Component):
        return [component, *every(getattr(component, "children", None))]
    return []


def words(component: object) -> str:
    """All text in a component, in reading order."""
    if isinstance(component, str):
        return component
    if isinstance(component, (list, tuple)):
        return " ".join(filter(None, map(words, component)))
    return words(getattr(component, "children", None) or "")


def of_class(component: object, name: str) -> list[Component]:
    return [each for each in every(component) if name in str(getattr(each, "className", "")).split()]


def head(queries: FakeQueries) -> str:
    return words(today.head(queries.garden()))


def call_of(kind: str, job: Job) -> Component:
    view = fakes.bed_view(kind)
    (worded,) = [each for each in view.calls if each.call.job is job]
    return calls.call_block(worded, view, today_frame(view.bed, 21.5))


# ---------------------------------------------------------------- the head


@pytest.mark.parametrize(
    ("queries", "sentences"),
    [
        (
            fakes.a_day_in_april(),
            ["Two jobs today.", "Both on the Terrace bed. One more job soon, on the Wall bed. One bed is silent."],
        ),
        (fakes.one_bed("fine"), ["Nothing to do today.", "Every bed is fine."]),
        (fakes.one_bed("warm_all_the_way"), ["One job today.", "On Warm all the way."]),
        (fakes.one_bed("soon"), ["Nothing to do today.", "One job soon, on Soon."]),
        (fakes.one_bed("no_probes"), ["Nothing to do today.", "One bed is not measured."]),
        (fakes.one_bed("behind"), ["Catching up.", "One bed is catching up."]),
        (fakes.one_bed("late"), ["Nothing to do today.", "Readings are late from one bed."]),
        (fakes.one_bed("never"), ["Nothing to do today.", "Nothing heard yet from one bed."]),
        (fakes.many_beds(2, due=5), ["Ten jobs today.", "On five beds."]),
        (fakes.many_beds(0, due=7), ["14 jobs today.", "On seven beds."]),
        (fakes.no_beds(), ["No bed yet.", "Write the first bed into the garden file"]),
    ],
)
def test_the_head_says_how_many_jobs_and_where(queries: FakeQueries, sentences: list[str]) -> None:
    said = head(queries)
    assert [said.index(sentence) for sentence in sentences] == sorted(said.index(sentence) for sentence in sentences)


def test_the_head_names_garden_day_and_time_in_the_gardens_own_zone() -> None:
    # 16:40 UTC is 17:40 in Lisbon in April
    assert head(fakes.one_bed("fine")).startswith("Lower terrace, Tuesday 13 April, 17:40")
    assert "5:40 pm" in head(fakes.one_bed("fine", UnitSystem.US))


def test_where_nothing_is_due_the_head_names_the_day_of_the_next_job() -> None:
    fig, wall = fakes.bed_view("fine", "fig", "Fig bed"), fakes.bed_view("fine", "wall", "Wall bed")
    wall = replace(wall, foreseen=((Job.WATER, fakes.NOW_MS + 2 * fakes.DAY_MS), (Job.SHADE, fakes.NOW_MS + 3 * fakes.DAY_MS)))
    later = replace(fig, foreseen=((Job.SHADE, fakes.NOW_MS + 4 * fakes.DAY_MS),))
    assert today.where(fakes.garden_view([later, wall])) == "The next job is likely on Thursday: water, Wall bed."
    assert today.where(fakes.garden_view([later])) == "The next job is likely on Saturday: shade."
    asking = fakes.bed_view("warm_all_the_way")
    assert "next job" not in today.where(fakes.garden_view([asking, wall]))


def test_a_garden_of_which_something_is_not_known_is_not_called_fine_altogether() -> None:
    unknown = replace(fakes.bed_view("fine"), fine=None)
    assert today.where(fakes.garden_view([unknown])) == "What is not known is told at its bed."


# ---------------------------------------------------------------- calls


def test_a_due_call_has_flag_heading_sentence_a_solid_button_and_its_reason() -> None:
    block = call_of("due", Job.WATER)
    assert "due" in block.className.split()
    assert words(of_class(block, "flag")) == "Due today"
    assert "Water 68 litres" in words(block)
    (button,) = [each for each in every(block) if isinstance(each, dash.html.Button)]
    assert (button.children, button.id) == ("Watered", ids.done("due", Job.WATER))
    assert "solid" in button.className.split()
    reasons = words(of_class(block, "reasons"))
    for reason in ("The first number is 1.", "Evidence: published.", "a printed source, p. 1", "A third number would change"):
        assert reason in reasons


def test_a_call_that_is_soon_has_an_outlined_button_and_one_not_known_a_dotted_flag_and_no_stem() -> None:
    soon = call_of("soon", Job.SHADE)
    (button,) = [each for each in every(soon) if isinstance(each, dash.html.Button)]
    assert "solid" not in button.className.split()
    assert "soon" in soon.className.split()
    unknown = call_of("silent", Job.LOOK)
    assert "not-known" in unknown.className.split()
    assert words(of_class(unknown, "caution")) == "Buried lines: look before you push."


def test_a_call_that_cannot_be_done_has_no_button() -> None:
    assert not [each for each in every(call_of("never", Job.LOOK)) if isinstance(each, dash.html.Button)]


def test_a_done_call_says_when_and_can_be_taken_back_for_ten_minutes() -> None:
    view = fakes.bed_view("done")
    frame = today_frame(view.bed, 21.5)
    (worded,) = [each for each in view.calls if each.call.job is Job.SHADE]

    def block(minutes_ago: float) -> Component:
        since_ms = view.state.now_ms - round(minutes_ago * fakes.MINUTE_MS)
        return calls.call_block(replace(worded, call=replace(worded.call, since_ms=since_ms)), view, frame)

    assert words(block(9.9)).startswith("Done at 17:31. ")
    (undo,) = [each for each in every(block(9.9)) if isinstance(each, dash.html.Button)]
    assert (undo.children, undo.id) == ("Undo", ids.undo("done", Job.SHADE))
    assert not [each for each in every(block(10)) if isinstance(each, dash.html.Button)]


def test_the_stem_reaches_the_place_where_the_call_is_true() -> None:
    view = fakes.bed_view("due")
    frame = today_frame(view.bed, 21.5)
    shade, water = view.calls
    reach = {each.call.job: of_class(calls.call_block(each, view, frame), "stem")[0].style["--reach"] for each in (shade, water)}
    # water: from the floor of the picture, 21.5 cm down, up to the depth of the call, 15 cm
    assert reach[Job.WATER] == "calc(var(--cm) * 6.50)"
    # shade that is due: from the top edge of the picture down to the cloth, which hangs 9 px under it at 4.7 px per cm
    assert reach[Job.SHADE] == f"calc(var(--cm) * {9 / 4.7:.2f})"
    soon = replace(shade, call=replace(shade.call, due=Due.SOON))
    down_to_cloves = of_class(calls.call_block(soon, view, frame), "stem")[0].style["--reach"]
    assert down_to_cloves == f"calc(var(--cm) * {frame.above_cm + 12:.2f})"


def test_calls_stand_on_the_side_where_their_work_is_done() -> None:
    view = fakes.bed_view("due")
    frame = today_frame(view.bed, 21.5)
    assert "Lay the shade cloth" in words(calls.above(view, frame))
    assert "Water" not in words(calls.above(view, frame))
    assert "Water 68 litres" in words(calls.below(view, frame))


def test_more_than_two_calls_on_a_side_fold_up() -> None:
    view = fakes.bed_view("due")
    crowded = replace(view, calls=view.calls[:1] * 4)
    (fold,) = of_class(calls.above(crowded, today_frame(view.bed, 21.5)), "more")
    assert words(fold).startswith("and 2 more")
    assert len(of_class(fold, "call")) == 2


def test_a_fine_bed_begins_with_fine_and_a_late_one_says_from_when_it_is() -> None:
    view = fakes.bed_view("late")
    garden = fakes.garden_view([view])
    below = today.bed_parts(view, today_frame(view.bed, 21.5), garden)["below"]
    assert words(below[0]).startswith("Fine. ")
    assert "Last heard 13:40" in words(below)


def test_a_bed_without_probes_is_not_called_fine_and_not_waited_for() -> None:
    view = fakes.bed_view("no_probes")
    parts = words(list(today.bed_parts(view, today_frame(view.bed, 21.5), fakes.garden_view([view])).values()))
    assert "Not measured.  The garden file names no probe" in parts
    assert "not measured" in parts
    assert "Fine." not in parts
    assert "heard" not in parts


def test_a_bed_silent_for_hours_says_since_when_and_that_its_water_is_from_then() -> None:
    view = fakes.bed_view("silent_lately")
    garden = fakes.garden_view([view])
    below = words(today.bed_parts(view, today_frame(view.bed, 21.5), garden)["below"])
    assert "Last heard 12:40" in below
    assert "The water is drawn as it was then" in below
    told = fakes.bed_view("silent")  # here a call says it
    assert "Last heard" not in words(today.bed_parts(told, today_frame(told.bed, 21.5), garden)["below"][1:-1])


def test_a_bed_that_catches_up_says_up_to_when_its_readings_are_in() -> None:
    view = fakes.bed_view("behind")
    below = words(today.bed_parts(view, today_frame(view.bed, 21.5), fakes.garden_view([view]))["below"])
    assert "Catching up Readings up to 3 April are in." in below


# ---------------------------------------------------------------- the beds


def test_every_bed_is_a_link_to_its_own_page() -> None:
    page = today.layout(fakes.a_day_in_april())
    links = [each.href for each in every(page) if isinstance(each, dash.dcc.Link)]
    assert links == ["/bed/terrace", "/bed/wall", "/bed/fig", "/bed/gate"]


def test_all_cuts_share_one_floor_so_that_they_stand_on_one_ground_line() -> None:
    queries = fakes.every_kind()
    assert len({cut_view.frame_of(view, queries.garden(), cut_view.TODAY).below_cm for view in queries.garden().beds}) == 1


@pytest.mark.parametrize(("fine", "small", "folded"), [(4, 0, 0), (5, 5, 0), (28, 28, 0), (36, 36, 36)])
def test_with_many_beds_the_fine_ones_take_less_room(fine: int, small: int, folded: int) -> None:
    page = today.layout(fakes.many_beds(fine))
    assert len(of_class(page, "small")) == small
    assert sum(len(of_class(fold, "small")) for fold in of_class(page, "fine-beds")) == folded
    assert len(of_class(page, "bed")) == fine + 2


def test_every_state_of_a_bed_can_be_shown_and_an_empty_garden_too() -> None:
    for units in UnitSystem:
        text = words(today.layout(fakes.every_kind(units)))
        assert ("°F" in text) is (units is UnitSystem.US)
        assert "nan" not in text.lower().split()
    assert "no bed yet" in words(today.layout(fakes.no_beds()))


def test_an_unknown_part_of_the_address_does_no_harm() -> None:
    assert of_class(today.layout(fakes.one_bed("fine"), nonsense="1"), "bed")


def test_no_component_of_the_page_parses_markup() -> None:
    # text reaches the page as children, which the browser never parses; these are the components that would
    parsers = (dash.dcc.Markdown, dash.html.Iframe, dash.html.Script, dash.html.ObjectEl, dash.html.Embed)
    assert not [each for each in every(today.layout(fakes.every_kind())) if isinstance(each, parsers)]


# ---------------------------------------------------------------- live


def shown_by(garden: GardenView) -> dict[str, str]:
    return live.prints(today.pieces(garden))


def wanted(garden: GardenView) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    parts = [ids.part(cut_view.TODAY, view.bed.id, name) for view in garden.beds for name in ("above", "labels", "below")]
    return parts, [ids.cut_now(cut_view.TODAY, view.bed.id) for view in garden.beds]


def test_a_page_that_shows_it_all_is_not_sent_anything() -> None:
    garden = fakes.every_kind().garden()
    with pytest.raises(dash.exceptions.PreventUpdate):
        today.update(garden, shown_by(garden), *wanted(garden))


def warmer(view: BedView) -> BedView:
    return fakes.view(view.bed, (19.0, 18.2, 17.0, 16.5), (0.19, 0.21), calls=view.calls, cool_line="cool below 12 cm")


def test_a_new_reading_sends_only_what_shows_it() -> None:
    garden = fakes.a_day_in_april().garden()
    later = replace(garden, beds=(warmer(garden.beds[0]), *garden.beds[1:]))
    new_head, beds, parts, cuts, seen = today.update(later, shown_by(garden), *wanted(later))
    assert new_head is dash.no_update
    assert beds is dash.no_update
    sent = [name for name, content in zip(("above", "labels", "below"), parts[:3], strict=True) if content is not dash.no_update]
    assert sent == ["labels", "below"]  # the labels, and the table in words under the picture
    assert all(content is dash.no_update for content in parts[3:])
    assert cuts[0] is not dash.no_update
    assert all(content is dash.no_update for content in cuts[1:])
    assert seen == shown_by(later)


def test_another_order_of_beds_draws_them_anew() -> None:
    garden = fakes.a_day_in_april().garden()
    later = replace(garden, beds=garden.beds[::-1])
    _, beds, parts, cuts, _ = today.update(later, shown_by(garden), *wanted(garden))
    assert [words(each).split(" bed")[0] for each in beds] == ["Gate", "Fig", "Wall", "Terrace"]
    assert {*parts, *cuts} == {dash.no_update}


def test_a_bed_whose_job_is_done_stays_where_it_is_on_the_page() -> None:
    queries = fakes.a_day_in_april()
    queries.shown = replace(queries.shown, beds=tuple(sorted(queries.shown.beds, key=pressing)))
    order = today.order_of(queries.garden(), [])
    for job in (Job.SHADE, Job.WATER):
        queries.mark_done("terrace", job)
    last = replace(queries.garden(), beds=(*queries.garden().beds[1:], queries.garden().beds[0]))  # as sorted anew
    kept = today.in_order(last, order)
    assert [view.bed.id for view in kept.beds] == ["terrace", "gate", "wall", "fig"]
    # and so it does at the next look, until the page is opened anew
    assert today.in_order(last, today.order_of(kept, order)).beds[0].bed.id == "terrace"
    assert today.in_order(last, []).beds[0].bed.id != "terrace"


def test_a_bed_that_comes_to_press_more_goes_up_on_the_page() -> None:
    garden = fakes.a_day_in_april().garden()
    order = today.order_of(garden, [])
    fig = replace(garden.beds[2], calls=(fakes.water("fig"),), fine=None)
    kept = today.in_order(replace(garden, beds=(fig, *(view for view in garden.beds if view.bed.id != "fig"))), order)
    assert [view.bed.id for view in kept.beds] == ["terrace", "fig", "gate", "wall"]


def test_a_page_of_another_garden_file_does_not_fail() -> None:
    garden = fakes.one_bed("fine").garden()
    parts, cuts = wanted(fakes.a_day_in_april().garden())
    update = today.update(garden, {}, parts, cuts)
    assert len(update[2]) == len(parts)


# ---------------------------------------------------------------- taps and pictures


def test_a_tap_is_told_and_undo_takes_it_back() -> None:
    queries = fakes.one_bed("due")
    assert calls.heed(queries, ids.done("due", "water"), 1) is not dash.no_update
    assert calls.heed(queries, ids.undo("due", "water"), 1) is not dash.no_update
    assert (queries.done, queries.undone) == ([("due", Job.WATER)], [("due", Job.WATER)])


def test_a_button_that_has_only_appeared_is_no_tap() -> None:
    queries = fakes.one_bed("due")
    assert calls.heed(queries, ids.done("due", "water"), None) is dash.no_update
    assert calls.heed(queries, None, None) is dash.no_update
    assert queries.done == []


def test_the_still_drawing_is_served_once_and_kept() -> None:
    queries = fakes.one_bed("due")
    client = make_app(queries, queries.garden().garden, None).server.test_client()
    address = cut_view.picture(queries.bed("due"), today_frame(queries.bed("due").bed, 21.5), cut_view.TODAY)["still"]
    answer = client.get(address)
    assert (answer.status_code, answer.mimetype) == (200, "image/svg+xml")
    assert "immutable" in answer.headers["Cache-Control"]
    assert answer.text.startswith("<svg")
    assert client.get("/cut/due/bed").text != answer.text
    assert client.get("/cut/nowhere/today").status_code == 404
    assert client.get("/cut/due/huge").mimetype != "image/svg+xml"
