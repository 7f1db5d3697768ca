"""The garden file of the story is one that the garden file's own reader accepts, and says the same garden."""

from __future__ import annotations

from pathlib import Path

import pytest

from collector import garden_file
from collector.model import Garden
from collector.simulate.scenario import TOPIC_ROOT, Scenario, demo_scenario, garden_toml
from collector.units import Quantity


@pytest.fixture
def story() -> Scenario:
    return demo_scenario()


@pytest.fixture
def garden(story: Scenario) -> Garden:
    return garden_file.parse(garden_toml(story, mqtt_port=12345), "garden.toml", {}, Path("/somewhere"))


def test_the_file_says_that_the_garden_is_simulated(garden: Garden) -> None:
    assert garden.simulated


def test_the_file_describes_the_beds_of_the_story(story: Scenario, garden: Garden) -> None:
    assert [bed.id for bed in garden.beds] == [bed.id for bed in story.beds]
    for ours, theirs in zip(story.beds, garden.beds, strict=True):
        for field in ("name", "area_m2", "soil", "field_capacity", "wilting_point", "cool_limit_c", "hose_l_min", "root_depth_m"):
            assert getattr(theirs, field) == pytest.approx(getattr(ours, field)), (ours.id, field)
        assert [cover.material for cover in theirs.covers] == [cover.material for cover in ours.covers]
        assert [cover.thickness_m for cover in theirs.covers] == pytest.approx([cover.thickness_m for cover in ours.covers])
        assert theirs.clove_depth_m == pytest.approx(ours.clove_depth_m)
        assert [(p.id, p.quantity, p.address) for p in theirs.probes] == [(p.id, p.quantity, p.address) for p in ours.probes]
        assert [p.depth_m or 0.0 for p in theirs.probes] == pytest.approx([p.depth_m or 0.0 for p in ours.probes])


def test_the_file_listens_where_the_stakes_publish(story: Scenario, garden: Garden) -> None:
    assert garden.mqtt is not None
    assert garden.mqtt.port == 12345
    assert garden.mqtt.topics == (f"{TOPIC_ROOT}/#",)
    assert all(plan.topic.startswith(f"{TOPIC_ROOT}/") for plan in story.stakes)


def test_every_probe_sits_on_exactly_one_stake_of_its_own_bed(story: Scenario) -> None:
    carried = [(probe_id, plan.bed_id) for plan in story.stakes for probe_id in plan.probe_ids]
    assert sorted(carried) == sorted((probe.id, probe.bed_id) for bed in story.beds for probe in bed.probes)


def test_addresses_are_all_different(garden: Garden) -> None:
    addresses = [probe.address for probe in garden.probes]
    assert len(set(addresses)) == len(addresses) > 15


def test_the_most_important_bed_has_probes_around_the_clove_and_in_the_root_zone(story: Scenario) -> None:
    first = story.beds[0]
    assert first.clove_depth_m in {probe.depth_m for probe in first.probes_of(Quantity.SOIL_TEMPERATURE)}
    assert all((probe.depth_m or 9.0) < first.root_depth_m for probe in first.probes_of(Quantity.SOIL_MOISTURE))
