"""Bed: the page sentence, the stake, the key and the charts of one bed, in every state it can be in."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import dash
import pytest

from collector.model import Flag
from collector.query import Heard
from collector.units import UnitSystem
from dashboard import ids, theme, view_state
from dashboard.components import bed_heading, cut_view, key, live, stake, through_time
from dashboard.figures.cut_frame import bed_frame
from dashboard.pages import bed
from tests.dashboard import fakes
from tests.dashboard.fakes import DAY_MS, MINUTE_MS, NOW_MS, FakeQueries
from tests.dashboard.test_today import every, of_class, words


def sentence(kind: str, units: UnitSystem = UnitSystem.METRIC) -> tuple[str, str]:
    queries = fakes.one_bed(kind, units)
    return bed_heading.sentence(queries.bed(kind), queries.garden())


@pytest.mark.parametrize(
    ("kind", "wanted"),
    [
        ("due", ("Cloves cool, 17.4 °C.", "The cool line, 18 °C, is 5 cm above them.")),
        ("cool_all_the_way", ("Cloves cool, 13.5 °C.", "Cool all the way down. Your limit is 18 °C.")),
        ("warm_all_the_way", ("Cloves warm, 24.6 °C.", "Warm to 30 cm and below. Your limit is 18 °C.")),
        ("no_limit", ("Cloves at 17.4 °C.", "No cool limit is set for this bed, so nothing is called cool or warm.")),
        ("silent", ("Cloves not known.", "Nothing heard since yesterday 19:05.")),
        ("moisture_only", ("Cloves not known.", "No thermometer in this bed has spoken lately.")),
        ("never", ("Nothing heard yet.", "The bed is drawn without colour until its first reading comes.")),
        ("no_planting", ("Nothing planted here.", "Cool below 7 cm.")),
    ],
)
def test_the_page_sentence_says_how_the_cloves_are_and_where_the_cool_line_lies(kind: str, wanted: tuple[str, str]) -> None:
    assert sentence(kind) == wanted


def test_the_page_sentence_is_in_the_growers_units() -> None:
    assert sentence("due", UnitSystem.US) == ("Cloves cool, 63.4 °F.", "The cool line, 64.4 °F, is 2 in above them.")


def test_the_mean_that_the_limit_is_for_stands_beside_the_number_of_now() -> None:
    warm = fakes.view(fakes.bed(), (20.0, 19.0, 17.0, 16.0), cool_line="cool below 15 cm")

    def under_it(mean_c: float) -> str:
        known = replace(warm, state=replace(warm.state, clove_mean_c=mean_c))
        return bed_heading.sentence(known, fakes.garden_view([known]))[1]

    assert under_it(17.4).endswith("below them. That is now; over the last 24 hours they averaged 17.4 °C, under your limit.")
    assert under_it(18.3).endswith("averaged 18.3 °C, over your limit.")
    assert under_it(18.02).endswith("averaged your limit.")


def test_cloves_over_the_limit_have_the_cool_line_below_them() -> None:
    warm = fakes.view(fakes.bed(), (20.0, 19.0, 17.0, 16.0), cool_line="cool below 15 cm")
    garden = fakes.garden_view([warm])
    assert bed_heading.sentence(warm, garden) == ("Cloves warm, 18.6 °C.", "The cool line, 18 °C, is 3 cm below them.")


def test_warm_cloves_in_a_ground_that_cools_from_above_are_told_of_the_line_below_them() -> None:
    morning = fakes.view(fakes.bed(), (17.0, 18.2, 19.0, 16.0), cool_line="cool below 23 cm")
    # from 19 °C at 20 cm to 16 at 30: 18 °C at 23 cm; nearer to the cloves, at 9 cm, is where the night cools the ground
    assert bed_heading.sentence(morning, fakes.garden_view([morning]))[1] == "The cool line, 18 °C, is 11 cm below them."


def test_cloves_too_far_from_any_thermometer_are_not_known() -> None:
    far = fakes.view(fakes.bed(temperatures_cm=(2, 5)), (19.0, 18.5))
    assert bed_heading.sentence(far, fakes.garden_view([far])) == (
        "Cloves not known.",
        "No thermometer is near enough to the depth of the cloves.",
    )


def test_the_small_line_tells_crop_age_and_when_it_was_heard() -> None:
    queries = fakes.a_day_in_april()
    assert bed_heading.facts(queries.bed("terrace"), queries.garden()) == "Terrace bed, Porcelain, day 175, heard 17:38"
    never = fakes.one_bed("never")
    assert bed_heading.facts(never.bed("never"), never.garden()).endswith("nothing heard yet")


# ---------------------------------------------------------------- stake and key


def on_the_stake(view: fakes.BedView) -> list[str]:
    garden = fakes.garden_view([view])
    return [words(each) for each in of_class(stake.stake(view, bed_frame(view.bed, UnitSystem.METRIC), garden), "tag")]


def test_the_stake_tells_every_probe_from_the_shallowest_down() -> None:
    # share of what the soil holds above wilting: (0.19 - 0.11) / (0.23 - 0.11) = 67 %, and 83 % at 0.21
    assert on_the_stake(fakes.bed_view("due")) == ["18.3 °C", "17.6 °C", "67 % full", "16.8 °C", "83 % full", "16.4 °C"]


def test_the_stake_shows_no_number_of_a_silent_or_faulty_probe() -> None:
    assert set(on_the_stake(fakes.bed_view("silent"))) == {"silent"}
    assert set(on_the_stake(fakes.bed_view("never"))) == {"not heard"}
    view = fakes.bed_view("due")
    first, *others = view.probes
    faulty = replace(first, last=fakes.reading(first.probe, 85.0, flags=Flag.RESET_VALUE))
    assert on_the_stake(replace(view, probes=(faulty, *others)))[0] == "faulty"


def test_two_probes_at_one_depth_are_told_one_after_the_other_the_thermometer_first() -> None:
    paired = fakes.view(fakes.bed(temperatures_cm=(10, 20), moistures_cm=(10,)), (17.0, 16.0), (0.19,))
    assert on_the_stake(paired) == ["17.0 °C", "67 % full", "16.0 °C"]


def test_a_bed_without_buried_probes_has_no_stake() -> None:
    bare = fakes.bed(temperatures_cm=(), moistures_cm=())
    assert on_the_stake(fakes.view(bare, ())) == []


def test_the_key_counts_from_the_beds_own_limit_in_the_growers_units() -> None:
    assert words(key.colours(15.0, UnitSystem.METRIC)) == "7 11 15 °C, limit 19 23 27"
    assert "64.4 °F, limit" in words(key.colours(18.0, UnitSystem.US))
    assert words(key.colours(16.5, UnitSystem.METRIC)) == "8.5 12.5 16.5 °C, limit 20.5 24.5 28.5"
    assert words(key.colours(None, UnitSystem.METRIC)) == "10 14 18 22 26 30"


def test_the_key_says_where_colours_are_worked_out_and_what_full_is_said_of() -> None:
    assert key.worked_out(fakes.bed_view("due"), UnitSystem.METRIC) == ["In the covers colours are worked out from the air."]
    deep = fakes.view(fakes.bed(temperatures_cm=(9, 20)), (17.0, 16.0), (0.19, 0.27))
    assert key.worked_out(deep, UnitSystem.METRIC) == ["Above 4 cm colours are worked out from the air."]
    assert key.worked_out(replace(deep, air_c=None), UnitSystem.METRIC) == []  # then they are not painted
    assert words(key.key(deep, UnitSystem.METRIC)).endswith(
        "Full counts only water that roots can take. At 25 cm the soil is over-full and drains."
    )
    assert "over-full" in on_the_stake(deep)
    assert "full" not in " ".join(key.fullness(fakes.bed_view("one_probe"), UnitSystem.METRIC))


def test_the_key_shows_the_refill_point_only_where_it_is_known() -> None:
    assert words(key.pores(fakes.bed_view("due"))) == "Water in pores wilting refill full"
    assert words(key.pores(fakes.bed_view("one_probe"))) == "Water in pores wilting full"
    insides = of_class(key.pores(fakes.bed_view("due")), "inside")
    assert [each.style["--full"] for each in insides] == ["0%", "70%", "100%"]  # refill is at 1 - p, with p = 0.30


# ---------------------------------------------------------------- the page


@pytest.mark.parametrize("kind", fakes.KINDS)
@pytest.mark.parametrize("units", list(UnitSystem))
def test_the_page_stands_in_every_state(kind: str, units: UnitSystem) -> None:
    queries = fakes.one_bed(kind, units)
    page = bed.layout(queries, bed_id=kind, days="3", nonsense="1")
    assert len([each for each in every(page) if isinstance(each, dash.dcc.Graph)]) == len(bed.CHARTS) == 4
    assert len([each for each in every(page) if isinstance(each, dash.html.H1)]) == 1
    assert "nan" not in words(page).lower().split()


def test_a_bed_that_is_not_there_gets_a_sentence() -> None:
    assert "no bed with the id 'nowhere'" in words(bed.layout(fakes.one_bed("fine"), bed_id="nowhere"))
    assert "no bed with the id ''" in words(bed.layout(fakes.one_bed("fine")))


def test_the_span_shown_is_marked_and_the_others_are_links() -> None:
    page = bed.layout(fakes.one_bed("fine"), bed_id="fine", days="7")
    (spans,) = of_class(page, "spans")
    assert words(of_class(spans, "here")) == "7 days"
    assert [each.href for each in every(spans) if isinstance(each, dash.dcc.Link)][4] == "/bed/fine?days=365"


def test_the_past_can_be_walked_through_and_says_which_days_it_shows() -> None:
    queries = fakes.one_bed("fine")
    until_ms = NOW_MS - 10 * DAY_MS
    page = bed.layout(queries, bed_id="fine", days="7", until=str(until_ms))
    (spans,) = of_class(page, "spans")
    links = {words(each): each.href for each in every(spans) if isinstance(each, dash.dcc.Link)}
    assert links["Earlier"] == f"/bed/fine?days=7&until={until_ms - 7 * DAY_MS}"
    assert links["Later"] == f"/bed/fine?days=7&until={until_ms + 7 * DAY_MS}"
    assert links["Up to now"] == "/bed/fine?days=7"
    assert links["3 days"] == f"/bed/fine?until={until_ms}"
    assert "The charts show 27 March 16:40 to 3 April 17:40; the cut shows now." in words(spans)
    shown = bed.charts(queries, view_state.bed_address("fine", 7, until_ms), "light", None)
    assert "At the end of these days the roots were" in words(shown[1])
    assert "look ahead" not in words(shown[1])
    assert "Dashed" not in words(shown[1])


def test_a_tap_on_a_chart_offers_a_closer_look_at_that_moment() -> None:
    garden, week = fakes.one_bed("fine").garden(), view_state.bed_address("fine", 7)
    (link,) = bed.closer(week, {"points": [{"x": NOW_MS - 4 * DAY_MS, "y": 3}]}, garden)
    assert words(link) == "Look closer at Friday 17:40"
    assert link.href == f"/bed/fine?until={NOW_MS - 4 * DAY_MS + 3 * DAY_MS // 2}"
    assert bed.closer(view_state.bed_address("fine", 1), {"points": [{"x": NOW_MS}]}, garden) == []
    for nothing in (None, {}, {"points": []}, {"points": [{"x": "soon"}]}, {"points": [{"x": float("nan")}]}):
        assert bed.closer(week, nothing, garden) == []


def test_a_page_that_shows_it_all_is_not_sent_anything_and_a_reading_sends_what_shows_it() -> None:
    queries = fakes.one_bed("due")
    names = ("head", "labels", "calls")
    parts = [ids.part(cut_view.BED, "due", name) for name in names]
    cuts = [ids.cut_now(cut_view.BED, "due")]
    seen = live.prints(bed.pieces(queries.bed("due"), queries.garden()))
    with pytest.raises(dash.exceptions.PreventUpdate):
        bed.update(queries, "due", seen, parts, cuts)
    view = queries.bed("due")
    warm = fakes.view(view.bed, (20.0, 19.0, 17.0, 16.0), (0.19, 0.21), calls=view.calls)
    queries.shown = fakes.garden_view([warm])
    now_seen, sent, drawn = bed.update(queries, "due", seen, parts, cuts)
    assert "Cloves warm, 18.6 °C." in words(sent[0])
    assert drawn[0] is not dash.no_update
    assert now_seen != seen


# ---------------------------------------------------------------- charts


def charts(queries: FakeQueries, bed_id: str, mode: str = "light", seen: str | None = None) -> tuple[Any, ...]:
    return bed.charts(queries, view_state.bed_address(bed_id, "3"), mode, seen)


def test_each_chart_has_its_finding_over_it_and_is_drawn_for_the_mode() -> None:
    _, over, figures, _ = charts(fakes.one_bed("due", ahead=True), "due")
    assert len(over) == len(figures) == len(bed.CHARTS)
    assert all(words(each) for each in over)
    dark = charts(fakes.one_bed("due", ahead=True), "due", "dark")[2]
    assert figures != dark
    assert theme.DARK.ink in str(dark)
    assert theme.DARK.ink not in str(figures)


def test_a_graph_that_is_not_drawn_yet_paints_no_ground() -> None:
    page = bed.layout(fakes.one_bed("due"), bed_id="due")
    for graph in [each for each in every(page) if isinstance(each, dash.dcc.Graph)]:
        layout = graph.figure["layout"]
        assert {layout["paper_bgcolor"], layout["plot_bgcolor"]} == {"rgba(0,0,0,0)"}


def test_charts_are_not_sent_again_until_something_is_heard() -> None:
    queries = fakes.one_bed("due")
    shown, *_ = charts(queries, "due")
    with pytest.raises(dash.exceptions.PreventUpdate):
        charts(queries, "due", seen=shown)
    view = queries.bed("due")
    queries.shown = replace(queries.shown, beds=(replace(view, heard_ms=NOW_MS),))
    assert charts(queries, "due", seen=shown)[0] != shown
    queries.shown = replace(queries.shown, beds=(fakes.with_outlook(view),))
    assert charts(queries, "due", seen=shown)[0] != shown


def test_the_depth_time_picture_has_the_scale_and_the_floor_of_the_cut() -> None:
    queries = fakes.one_bed("due")
    frame = bed_frame(queries.bed("due").bed, UnitSystem.METRIC)
    layout = charts(queries, "due")[2][0]["layout"]
    assert layout["yaxis"]["range"] == [frame.below_cm / 100, 0]
    ground_px = layout["height"] - layout["margin"]["t"] - layout["margin"]["b"]
    assert ground_px == pytest.approx(frame.below_cm * 7.2)
    # the style sheet keeps the same place for it, and 70 px for the words above and below
    assert layout["margin"]["t"] + layout["margin"]["b"] == 70


def test_what_is_to_come_lies_level_with_the_cut_and_is_left_out_where_nothing_is_expected() -> None:
    _, over, figures, _ = charts(fakes.one_bed("due", ahead=True), "due")
    was, to_come = (figure["layout"] for figure in figures[:2])
    assert (to_come["yaxis"]["range"], to_come["height"]) == (was["yaxis"]["range"], was["height"])
    assert words(over[1]) == "The days ahead, if nothing is done."
    _, over, figures, _ = charts(fakes.one_bed("due"), "due")
    assert over[1] == []  # the style sheet hides a picture without words
    assert figures[1]["data"] == []


@pytest.mark.parametrize(("days", "widths"), [("3", ("3fr", "3fr")), ("7", ("7fr", "7fr")), ("30", ("30fr", "7fr"))])
def test_the_width_of_the_ground_is_shared_by_days(days: str, widths: tuple[str, str]) -> None:
    (ground,) = of_class(bed.layout(fakes.one_bed("due"), bed_id="due", days=days), "ground")
    assert (ground.style["--past"], ground.style["--ahead"]) == widths


def test_now_is_marked_and_the_days_ahead_are_shown_though_the_clock_goes_on_meanwhile() -> None:
    queries = fakes.one_bed("due", ahead=True)
    span = (NOW_MS - 3 * DAY_MS, NOW_MS)
    later = fakes.history(queries.bed("due"), *span, ahead=queries.bed("due").state.outlook)
    queries.histories["due"] = replace(later, now_ms=NOW_MS + 2 * MINUTE_MS)
    _, _, figures, _ = charts(queries, "due")
    assert all(figure["data"] for figure in figures)
    assert "<b>now</b>" in [note["text"] for note in figures[2]["layout"]["annotations"]]


def test_all_charts_of_a_bed_together_travel_light() -> None:
    figures = charts(fakes.one_bed("due", ahead=True), "due")[2]
    assert len(json.dumps(figures, separators=(",", ":"))) < 200_000


@pytest.mark.parametrize("kind", ["never", "silent", "one_probe", "moisture_only"])
def test_a_bed_with_little_or_nothing_heard_still_has_its_charts_or_their_words(kind: str) -> None:
    _, over, figures, _ = charts(fakes.one_bed(kind), kind)
    for name, words_over, figure in zip(bed.CHARTS, over, figures, strict=True):
        if name != "depth-ahead":  # that is left out where nothing is expected
            assert words(words_over)
            assert figure["data"] or figure["layout"]["annotations"]


def test_a_gap_in_the_data_does_not_stop_the_page() -> None:
    queries = fakes.one_bed("due")
    span = (NOW_MS - 3 * DAY_MS, NOW_MS)
    queries.histories["due"] = fakes.history(queries.bed("due"), *span, gap=(NOW_MS - 2 * DAY_MS, NOW_MS - DAY_MS))
    assert [bool(figure["data"]) for figure in charts(queries, "due")[2]] == [True, False, True, True]


def test_the_late_bed_says_so_on_its_own_page() -> None:
    queries = fakes.one_bed("late")
    assert queries.bed("late").heard is Heard.LATE
    assert "Last heard 13:40" in words(bed.layout(queries, bed_id="late"))


# ---------------------------------------------------------------- another time


class WasAndWillBe(FakeQueries):
    """A bed that was, and will be, as another; and which moments were asked for."""

    def __init__(self, other: fakes.BedView, **changes: Any) -> None:
        super().__init__(fakes.garden_view([fakes.with_outlook(fakes.bed_view("due"))]))
        self.other = replace(other, **changes)
        self.asked_ms: list[int] = []

    def bed_at(self, _bed_id: str, at_ms: int) -> fakes.BedView:
        self.asked_ms.append(at_ms)
        return self.other


def test_the_cut_goes_back_and_on_with_the_slider() -> None:
    queries = WasAndWillBe(fakes.bed_view("warm_all_the_way", "due"))
    said, labels, cut = bed.at_another_time(queries, "due", -30)
    assert queries.asked_ms == [fakes.NOW_MS - 30 * fakes.HOUR_MS]
    assert said == "Yesterday 11:40, as it was"  # 30 hours before Tuesday 17:40, Lisbon
    assert "warm to 30 cm and below" in words(labels)
    assert cut["now"] != bed.at_another_time(queries, "due", 0)[2]["now"]


def test_what_is_expected_is_called_so_and_the_stake_has_not_said_it() -> None:
    queries = WasAndWillBe(fakes.bed_view("due"), expected=True)
    said, labels, _ = bed.at_another_time(queries, "due", 20)
    assert said == "Tomorrow 13:40, expected if nothing is done"
    assert of_class(labels, "stake")
    assert of_class(labels, "dot")
    assert not of_class(labels, "probe")


def test_where_the_outlook_is_gone_meanwhile_the_cut_stays_and_the_words_say_so() -> None:
    said, labels, cut = bed.at_another_time(fakes.one_bed("due"), "due", 20)
    assert said == "Not foreseen so far ahead"
    assert (labels, cut) == (dash.no_update, dash.no_update)


def test_back_at_now_it_is_the_page_again() -> None:
    queries = fakes.one_bed("due")
    said, labels, cut = bed.at_another_time(queries, "due", 0)
    seen = bed.pieces(queries.bed("due"), queries.garden())
    assert said == "The bed now"
    assert live.fingerprint(labels) == live.fingerprint(seen[live.name(ids.part(cut_view.BED, "due", "labels"))])
    assert cut == seen[live.name(ids.cut_now(cut_view.BED, "due"))]


def test_while_the_cut_shows_another_time_a_reading_changes_the_rest_of_the_page() -> None:
    queries = fakes.one_bed("due")
    parts, cuts = [ids.part(cut_view.BED, "due", name) for name in ("head", "labels")], [ids.cut_now(cut_view.BED, "due")]
    seen = live.prints(bed.pieces(queries.bed("due"), queries.garden()))
    queries.shown = fakes.garden_view([fakes.view(queries.bed("due").bed, (20.0, 19.0, 17.0, 16.0), (0.19, 0.21))])
    _, sent, drawn = bed.update(queries, "due", seen, parts, cuts, elsewhen=True)
    assert "Cloves warm, 18.6 °C." in words(sent[0])
    assert (sent[1], drawn[0]) == (dash.no_update, dash.no_update)


def test_the_slider_goes_on_as_far_as_is_foreseen() -> None:
    def last(queries: FakeQueries) -> int:
        return through_time.last_h(queries.bed("due"), fakes.NOW_MS)

    assert last(fakes.one_bed("due")) == 0
    assert last(fakes.one_bed("due", ahead=True)) == 167  # of a week from the next full hour on


def test_what_a_browser_sends_for_the_slider_is_a_number_or_nothing() -> None:
    assert [through_time.hours_of(value) for value in (-3, 5, 0.0)] == [-3, 5, 0]
    for value in (None, "", "soon"):
        with pytest.raises(dash.exceptions.PreventUpdate):
            through_time.hours_of(value)
