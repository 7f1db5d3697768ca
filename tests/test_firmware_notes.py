"""The payload samples that firmware authors copy are decoded as the notes say."""

import json
import re
from pathlib import Path

import pytest

from collector.decode import lines, senml

NOTES = Path(__file__).parent.parent / "firmware_notes"
SAMPLES = sorted((NOTES / "samples").iterdir())


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda path: path.name)
def test_every_sample_stands_in_the_notes_letter_for_letter(sample):
    shown = re.findall(rf"`samples/{sample.name}`\n```(?:json)?\n(.*?)```", (NOTES / "payload.md").read_text(), re.DOTALL)
    assert shown == [sample.read_text()]


def decoded(name):
    return senml.decode((NOTES / "samples" / name).read_bytes())


def test_the_smallest_message_is_one_reading_without_a_time():
    (reading,) = decoded("one.json")
    assert (reading.address, reading.unit, reading.value) == ("urn:dev:ow:28a1b2c3d4e5f607", "Cel", 17.4375)
    assert reading.measured_ms is None


def test_a_whole_stake_is_five_readings_of_one_moment():
    readings = decoded("stake.json")
    assert [reading.address for reading in readings] == [f"stake-3/{name}" for name in ("t05", "t12", "t20", "m12", "battery")]
    assert {reading.measured_ms for reading in readings} == {1776067200000}


def test_the_stake_in_cbor_says_what_it_says_in_json_in_fewer_bytes():
    payload = bytes.fromhex((NOTES / "samples" / "stake_cbor.hex").read_text())
    assert senml.decode(payload) == decoded("stake.json")
    as_json = json.dumps(json.loads((NOTES / "samples" / "stake.json").read_text()), separators=(",", ":"))
    assert (len(payload), len(as_json)) == (104, 196)


def test_readings_kept_while_offline_have_their_own_times():
    assert sorted(reading.measured_ms for reading in decoded("offline.json")) == [1776066000000, 1776066600000, 1776067200000]


def test_a_stake_without_a_clock_counts_back_from_arrival():
    assert [(reading.measured_ms, reading.offset_ms) for reading in decoded("no_clock.json")] == [(None, -60_000), (None, 0)]


def test_the_serial_sample_passes_its_check_byte():
    payload = lines.without_check((NOTES / "samples" / "line.txt").read_bytes().rstrip(b"\n"))
    assert senml.decode(payload)[0].value == 17.4375


def test_how_long_the_cells_last_follows_from_the_figures_beside_it():
    text = (NOTES / "parts.md").read_text().split("## How long the cells last")[1]
    told = dict(re.findall(r"^\| ([^|]+?) \| ([^|]+?) \|$", text, re.MULTILINE))
    seconds, times = map(float, re.findall(r"[\d.]+", told["awake"]))
    awake_ma, asleep_ma = (float(told[name].split()[0]) for name in ("while awake, with Wi-Fi", "asleep"))
    capacity_mah, share = map(float, re.findall(r"[\d.]+", told["cells"]))
    awake_mah, asleep_mah = seconds * times / 3600 * awake_ma, 24 * asleep_ma
    assert float(told["awake, a day"].split()[0]) == pytest.approx(awake_mah, abs=0.05)
    assert float(told["asleep, a day"].split()[0]) == pytest.approx(asleep_mah, abs=0.05)
    usable_mah = capacity_mah * share / 100
    assert float(told["lasts"].split()[0]) == pytest.approx(usable_mah / (awake_mah + asleep_mah), abs=0.5)
    hourly = float(re.search(r"instead of ten minutes: (\d+) days", text).group(1))
    assert hourly == pytest.approx(usable_mah / (awake_mah / 6 + asleep_mah), abs=1.0)


def test_every_page_of_the_notes_is_named_in_the_first_one():
    named = set(re.findall(r"\]\((\w+\.md)\)", (NOTES / "README.md").read_text()))
    assert named == {path.name for path in NOTES.glob("*.md")} - {"README.md"}
