"""The cut: to scale, the same for the same bed, painted only where something is known, and small."""

from __future__ import annotations

import datetime as dt
import itertools
import math
import random
import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from collector.model import Cover, Planting
from collector.units import UnitSystem
from dashboard import theme
from dashboard.components import cut_view, stake
from dashboard.figures import cut
from dashboard.figures.cut_covers import marks
from dashboard.figures.cut_field import field
from dashboard.figures.cut_frame import Frame, bed_frame, today_frame
from dashboard.figures.cut_path import path
from dashboard.figures.cut_pores import pores, water
from tests.dashboard import fakes

BELOW_CM = 21.5
SVG = "{http://www.w3.org/2000/svg}"


def small(kind: str) -> tuple[fakes.BedView, Frame]:
    view = fakes.bed_view(kind)
    return view, today_frame(view.bed, BELOW_CM)


def large(kind: str) -> tuple[fakes.BedView, Frame]:
    view = fakes.bed_view(kind)
    return view, bed_frame(view.bed, UnitSystem.METRIC)


def drawn(view: fakes.BedView, frame: Frame) -> ElementTree.Element:
    """The picture as a browser has it, both halves together."""
    root = ElementTree.fromstring(cut.still(view.bed, frame, cut.age_days(view)))
    pieces = cut.now(view, frame)
    for place in root.iter():
        name = place.get("data-now")
        if name is not None:
            place.extend(ElementTree.fromstring(f'<g xmlns="http://www.w3.org/2000/svg">{pieces[name]}</g>'))
    return root


@pytest.mark.parametrize("kind", fakes.KINDS)
@pytest.mark.parametrize("size", [small, large])
def test_every_state_of_a_bed_is_a_well_formed_drawing_whose_references_lead_somewhere(kind: str, size: object) -> None:
    root = drawn(*size(kind))  # type: ignore[operator]
    names = {element.get("id") for element in root.iter() if element.get("id")}
    text = ElementTree.tostring(root, encoding="unicode")
    wanted = set(re.findall(r'(?:url\(#|href="#)([\w-]+)', text))
    assert wanted
    assert wanted <= names
    assert "nan" not in text.lower()


def test_the_large_picture_is_under_60_kb_and_the_small_one_well_under_it() -> None:
    for kind in fakes.KINDS:
        sizes = []
        for view, frame in (small(kind), large(kind)):
            sizes.append(len(cut.still(view.bed, frame, cut.age_days(view))) + sum(map(len, cut.now(view, frame).values())))
        assert sizes[1] < 60_000
        assert sizes[0] < 0.75 * sizes[1]


def test_a_live_update_is_a_fraction_of_the_picture() -> None:
    view, frame = large("due")
    assert sum(map(len, cut.now(view, frame).values())) < 0.3 * len(cut.still(view.bed, frame, 175))


def test_the_same_bed_is_drawn_the_same_and_another_bed_otherwise() -> None:
    view, frame = large("due")
    first = cut.still(view.bed, frame, 175)
    cut._still.cache_clear()
    cut._soil.cache_clear()
    cut._plants.cache_clear()
    assert cut.still(view.bed, frame, 175) == first
    assert cut.still(replace(view.bed, id="another"), frame, 175) != first


def test_the_still_half_does_not_change_with_a_reading_and_changes_with_a_week() -> None:
    view, frame = large("due")
    warmer = fakes.view(view.bed, (22.0, 20.0, 18.5, 17.0), (0.15, 0.18))
    assert cut.fingerprint(view.bed, frame, cut.age_days(view)) == cut.fingerprint(warmer.bed, frame, cut.age_days(warmer))
    assert cut.now(view, frame) != cut.now(warmer, frame)
    assert cut.fingerprint(view.bed, frame, 20) != cut.fingerprint(view.bed, frame, 60)


def test_no_word_of_the_garden_file_reaches_the_drawing() -> None:
    hostile = '"><script>alert(1)</script>'
    bed = fakes.bed(hostile, hostile, covers=(Cover(f"straw {hostile}", 0.09),), variety=hostile)
    view = fakes.view(bed, (18.3, 17.6, 16.8, 16.4), (0.19, 0.21), calls=(fakes.shade(hostile),), cool_line=hostile)
    for frame in (today_frame(bed, BELOW_CM), bed_frame(bed, UnitSystem.METRIC)):
        text = cut.still(bed, frame, 175) + "".join(cut.now(view, frame).values())
        assert "script" not in text
        assert "alert" not in text
        assert set(re.findall(r"<(\w+)", text)) <= {
            *("svg", "defs", "linearGradient", "clipPath", "pattern", "rect", "path", "g", "use", "stop", "text")
        }


# ---------------------------------------------------------------- temperature


def gradient(view: fakes.BedView, frame: Frame) -> list[tuple[float, str]]:
    """Depth [m] and colour of each stop."""
    stops = re.findall(r'<stop offset="([\d.]+)" (?:stop-color|class)="(#?\w+)"', cut.now(view, frame)["field"])
    return [((float(at) * frame.height_px - frame.ground_px) / frame.px_per_cm / 100, colour) for at, colour in stops]


def test_the_colour_at_each_probe_is_the_colour_of_its_temperature() -> None:
    view, frame = large("due")
    stops = gradient(view, frame)
    for depth_m, value_c in zip((0.05, 0.10, 0.20, 0.30), (18.3, 17.6, 16.8, 16.4), strict=True):
        nearest = min(stops, key=lambda stop: abs(stop[0] - depth_m))
        assert abs(nearest[0] - depth_m) < 0.001
        assert nearest[1] == theme.temperature_colour(value_c, 18.0)


def test_the_gradient_steps_where_the_soil_crosses_the_limit_and_the_cool_line_lies_there() -> None:
    view, frame = large("due")
    # between 18.3 °C at 5 cm and 17.6 °C at 10 cm, 18 °C lies at 5 + 5 * 0.3 / 0.7 cm, by the rule of three
    crossing_m = 0.05 + 0.05 * 0.3 / 0.7
    edges = [
        upper[0] for upper, lower in itertools.pairwise(gradient(view, frame)) if upper[0] == lower[0] and upper[1] != lower[1]
    ]
    assert edges == [pytest.approx(crossing_m, abs=0.0005)]
    (line_y,) = {float(y) for y in re.findall(r'd="M0 ([\d.]+)H', cut.now(view, frame)["lines"])}
    assert line_y == pytest.approx(frame.y(crossing_m), abs=0.06)


def test_every_crossing_has_its_line_and_a_bed_without_one_has_none() -> None:
    bed = fakes.bed()
    twice = fakes.view(bed, (18.5, 17.5, 18.4, 17.0), cool_line="cool below 25 cm")
    frame = bed_frame(bed, UnitSystem.METRIC)
    assert cut.now(twice, frame)["lines"].count('class="cool-line"') == len(twice.crossings_m) == 3
    for kind in ("cool_all_the_way", "warm_all_the_way", "no_limit", "silent"):
        assert cut.now(*large(kind))["lines"] == ""


def test_what_is_not_known_is_not_painted() -> None:
    view, frame = large("one_probe")  # a thermometer at 12 cm, whose value holds 5 cm around it, and none in the air
    stops = gradient(view, frame)
    assert {colour for depth_m, colour in stops if depth_m < -0.001} == {"air"}
    assert {colour for depth_m, colour in stops if 0.001 < depth_m < 0.069 or depth_m > 0.171} == {"earth"}
    painted = [depth_m for depth_m, colour in stops if colour == theme.temperature_colour(16.9, 18.0)]
    assert (min(painted), max(painted)) == (pytest.approx(0.07, abs=0.0005), pytest.approx(0.17, abs=0.0005))
    for kind in ("silent", "never", "moisture_only"):
        assert {colour for _, colour in gradient(*large(kind))} == {"air", "earth"}


def test_covers_are_painted_only_where_an_air_thermometer_has_spoken_lately() -> None:
    view, frame = large("due")
    values = dict(zip(field(view, frame).depths_m, field(view, frame).values_c, strict=True))
    assert values[-0.14] == 27.0  # the air's
    assert field(view, frame).covers_known
    assert cut_view.known_class(view, frame) == ""
    late, frame = large("late")
    assert not field(late, frame).covers_known
    assert cut_view.known_class(late, frame) == "covers-bare"
    assert cut_view.known_class(*large("silent")) == "unpainted dry-unknown"
    assert cut_view.known_class(*large("moisture_only")) == "unpainted"


def test_bulbs_are_hatched_only_when_the_cloves_are_over_the_limit() -> None:
    assert "url(#hatch-" in cut.now(*large("warm_all_the_way"))["hatch"]
    assert cut.now(*large("due"))["hatch"] == ""
    assert cut.now(*large("no_limit"))["hatch"] == ""


# ---------------------------------------------------------------- water


def test_pores_fill_from_below_to_the_share_asked_for() -> None:
    soil = pores(random.Random(1), 360, 100.0, 340.0, 26.0)
    assert len(soil) > 200
    half = [tuple(map(float, rect)) for rect in re.findall(r"M(\d+) ([\d.]+)H(\d+)V(\d+)", water(soil, lambda _level: 0.5))]
    assert len(half) == len(soil)
    for pore, (left, level, right, bottom) in zip(soil, half, strict=True):
        assert level == pytest.approx((pore.top + pore.bottom) / 2, abs=0.051)
        assert left <= pore.left
        assert right >= pore.right
        assert bottom >= pore.bottom
    assert water(soil, lambda _level: None) == ""
    assert water(soil, lambda _level: 0.0) == ""
    assert water(soil, lambda _level: 7.0) == water(soil, lambda _level: 1.0)


def test_no_two_pores_overlap() -> None:
    soil = pores(random.Random(5), 360, 100.0, 340.0, 26.0)
    centres = [((pore.left + pore.right) / 2, (pore.top + pore.bottom) / 2) for pore in soil]
    nearest = min(math.dist(one, other) for one, other in itertools.combinations(centres, 2))
    assert nearest > 26.0 * 0.25


def test_water_stands_only_where_moisture_is_known_and_rises_with_it() -> None:
    view, frame = large("due")  # probes at 15 and 25 cm, known 5 cm around them
    levels = [float(y) for y in re.findall(r"M\d+ ([\d.]+)H", cut.now(view, frame)["water"])]
    assert min(levels) > frame.y(0.08)
    assert max(levels) < frame.y(0.33)
    dry = fakes.view(view.bed, (18.3,), (0.11, 0.11))  # at wilting: empty pores, and no water in any
    _, wet_path = re.findall(r'<path[^>]* d="([^"]*)"', cut.now(view, frame)["water"])
    empty, none = re.findall(r'<path[^>]* d="([^"]*)"', cut.now(dry, frame)["water"])
    assert wet_path
    assert empty
    assert none == ""
    assert cut.now(*large("one_probe"))["water"] == ""


# ---------------------------------------------------------------- scale, covers, plants, cloth


def test_depths_are_to_scale_and_zero_is_the_soil_surface() -> None:
    view, frame = large("due")
    assert frame.y(0) == frame.ground_px
    assert frame.y(0.10) - frame.y(0) == pytest.approx(72)  # 7.2 px for each cm
    root = drawn(view, frame)
    numbers = {element.text: float(element.get("y", "0")) for element in root.iter(f"{SVG}text")}
    assert set(numbers) == {"cm", "0", "10", "20", "30"} | {"10"}
    assert numbers["30"] - numbers["20"] == pytest.approx(72, abs=1)


def test_the_us_staff_counts_inches() -> None:
    bed = fakes.bed()
    frame = bed_frame(bed, UnitSystem.US)
    root = ElementTree.fromstring(cut.still(bed, frame, 175))
    numbers = {element.text: float(element.get("y", "0")) for element in root.iter(f"{SVG}text")}
    assert {"in", "0", "4", "8", "12"} == set(numbers)
    assert numbers["12"] - numbers["8"] == pytest.approx(4 * 2.54 * 7.2, abs=1.1)  # 1 in = 2.54 cm exactly


def test_a_very_deep_bed_is_drawn_smaller_down_past_its_deepest_probe() -> None:
    deep = fakes.bed(temperatures_cm=(10, 50, 100))
    frame = bed_frame(deep, UnitSystem.METRIC)
    assert frame.below_cm > 100
    assert frame.height_px < 600


@pytest.mark.parametrize("material", ["straw", "compost", "wood chips", "leaves", "fleece", "slate"])
def test_each_cover_has_its_own_marks_within_its_layer(material: str) -> None:
    kind, draw = marks(material)
    layers = draw(random.Random(3), 360, 50.0, 110.0, 7.2)
    text = "".join(layers)
    assert text
    heights = [float(y) for y in re.findall(r"M-?[\d.]+[ -]([\d.]+)", text)]
    assert min(heights) > 50 - 4 * 7.2
    assert max(heights) < 110 + 4 * 7.2
    others = {"straw", "compost", "wood chips", "leaves", "fleece", "slate"} - {material}
    assert all("".join(marks(other)[1](random.Random(3), 360, 50.0, 110.0, 7.2)) != text for other in others)
    assert kind in {"stem", "crumb", "fleece", "stroke"}


def leaf_data(age: int | None) -> str:
    bed = fakes.bed()
    root = ElementTree.fromstring(cut.still(bed, bed_frame(bed, UnitSystem.METRIC), age))
    return "".join(element.get("d", "") for element in root.iter(f"{SVG}path") if element.get("class") == "leaf")


def test_plants_grow_with_their_age_from_no_leaf_to_a_few_long_ones() -> None:
    assert leaf_data(5) == ""
    counts = [leaf_data(age).count("M") for age in (15, 60, 110, 200)]
    assert counts == sorted(counts)
    assert counts[0] < counts[-1]
    assert leaf_data(None) == leaf_data(400)


def test_a_bed_with_nothing_planted_shows_no_plant() -> None:
    view, frame = large("no_planting")
    assert cut.age_days(view) is None
    plants = [element for element in drawn(view, frame).iter(f"{SVG}path") if element.get("class") in {"bulb", "leaf", "root"}]
    assert {element.get("d") for element in plants} == {""}


def test_the_age_counts_from_the_first_planting_and_never_below_zero() -> None:
    view = fakes.bed_view("due")
    assert cut.age_days(view) == (dt.date(2027, 4, 13) - dt.date(2026, 10, 20)).days
    later = replace(view, bed=replace(view.bed, plantings=(Planting("Late", 0.1, dt.date(2028, 1, 1)),)))
    assert cut.age_days(later) == 0


def test_the_cloth_is_dashed_when_due_solid_when_laid_and_else_not_there() -> None:
    assert 'class="to-lay"' in cut.now(*small("due"))["cloth"]
    assert 'class="laid"' in cut.now(*small("done"))["cloth"]
    assert cut.now(*small("soon"))["cloth"] == cut.now(*small("fine"))["cloth"] == ""


def test_paths_are_written_short_and_numbers_stay_apart() -> None:
    assert path("M", 1.04, -2.0, "l", 3, 4.55, -0.5, "z") == "M1-2l3 4.5-0.5z"


# ---------------------------------------------------------------- labels


def test_labels_on_the_stake_keep_their_order_and_their_distance() -> None:
    heights = stake.label_heights([100, 100, 110, 400], 430)
    assert heights == sorted(heights)
    assert min(lower - upper for upper, lower in itertools.pairwise(heights)) >= 33 - 1e-9
    assert heights[0] == 100
    assert max(stake.label_heights([400, 410, 420], 430)) <= 430
    assert stake.label_heights([10, 90], 430) == [10, 90]


def words_of(component: object) -> str:
    """All text in a component, in reading order."""
    if isinstance(component, str):
        return component
    if isinstance(component, (list, tuple)):
        return " ".join(filter(None, map(words_of, component)))
    return words_of(getattr(component, "children", None) or "")


@pytest.mark.parametrize(
    ("kind", "wanted"),
    [
        ("due", {"cool below 7 cm", "17.4 °C worked out"}),
        ("cool_all_the_way", {"cool all the way down", "13.5 °C worked out"}),
        ("warm_all_the_way", {"warm to 30 cm and below", "24.6 °C worked out"}),
        ("one_probe", {"16.9 °C"}),
        ("late", {"cool below 7 cm", "17.4 °C"}),
        ("silent", {"not known"}),
        ("never", {"not heard yet"}),
        ("no_limit", {"17.4 °C worked out"}),
        ("no_planting", {"cool below 7 cm"}),
    ],
)
def test_the_labels_say_what_is_known_and_no_more(kind: str, wanted: set[str]) -> None:
    view, frame = small(kind)
    garden = fakes.garden_view([view])
    assert {words_of(label) for label in cut_view.today_labels(view, frame, garden)} == wanted


def test_the_two_labels_never_cover_each_other() -> None:
    bed = fakes.bed()
    frame = today_frame(bed, BELOW_CM)
    for tenth in range(150, 300, 5):
        view = fakes.view(bed, (tenth / 10 + 1, tenth / 10, tenth / 10 - 1, tenth / 10 - 3))
        labels = cut_view.today_labels(view, frame, fakes.garden_view([view]))
        tops = sorted(float(re.findall(r"\* ([\d.]+)", label.style["top"])[0]) * frame.px_per_cm for label in labels)
        assert all(lower - upper >= 41.9 for upper, lower in itertools.pairwise(tops))
        assert tops[-1] < frame.height_px


def test_the_table_tells_depth_value_and_source_of_all_that_the_picture_shows() -> None:
    view, _ = large("due")
    text = words_of(cut_view.table(view, fakes.garden_view([view])))
    assert "5 cm 18.3 °C due-t5, heard 17:38" in text
    assert "cloves, 12 cm 17.4 °C worked out" in text
    assert "15 cm 67 % full due-m15, heard 17:38" in text
    silent, _ = large("silent")
    assert "18.3" not in words_of(cut_view.table(silent, fakes.garden_view([silent])))
    never, _ = large("never")
    assert "5 cm not known never-t5, nothing heard yet" in words_of(cut_view.table(never, fakes.garden_view([never])))
