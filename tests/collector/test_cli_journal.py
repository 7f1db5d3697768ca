"""`cooldepth journal`: written, asked about, listed, changed and taken back from the command line."""

import csv
import io
import json

import pytest

from collector.cli import main
from collector.journal import moment_ms

GARDEN = """
[garden]
latitude_deg = 37.1
longitude_deg = -7.6
timezone = "Europe/Lisbon"
[store]
path = "garden.db"
[[bed]]
id = "terrace"
area_m2 = 7.2
  [[bed.planting]]
  variety = "Porcelain"
  planted = 2025-10-20
  depth_cm = 12
"""


@pytest.fixture
def journal(tmp_path, capsys):
    file = tmp_path / "garden.toml"
    file.write_text(GARDEN)

    def run(*words):
        status = main(["journal", *words, "--garden", str(file)])
        told = capsys.readouterr()
        return status, told.out, told.err

    return run


def test_an_entry_is_added_listed_changed_taken_back_and_its_history_stays(journal):
    status, out, _ = journal("add", "--bed", "terrace", "--deed", "watered", "--at", "2026-02-13T07:30", "--amount", "litres=60")
    assert (status, out) == (0, "   1  2026-02-13 07:30  terrace: Watered: 60 litres\n")
    assert journal()[1] == out
    assert journal("change", "--number", "1", "--amount", "litres=80", "--note", "two hoses")[1].endswith(
        "80 litres, two hoses\n"
    )
    assert journal("strike", "--number", "1")[1].endswith("(taken back)\n")
    assert journal()[1] == ""
    assert journal("history", "--number", "1")[1].splitlines() == [
        "   1  2026-02-13 07:30  terrace: Watered: 60 litres",
        "   1  2026-02-13 07:30  terrace: Watered: 80 litres, two hoses",
        "   1  2026-02-13 07:30  terrace: Watered: 80 litres, two hoses  (taken back)",
    ]


def test_what_is_odd_is_asked_and_kept_with_yes_only(journal):
    odd = ("add", "--deed", "lifted", "--at", "2025-09-01")
    status, out, err = journal(*odd)
    assert (status, out) == (1, "")
    assert "That is before the planting" in err
    assert "nothing was written; with --yes it is kept as it is" in err
    assert journal(*odd, "--yes")[0] == 0
    assert "Lifted" in journal()[1]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("add", "--bed", "terrace"), "--deed is missing"),
        (("add", "--deed", "watered", "--amount", "litres=much"), "--amount 'litres=much': want NAME=NUMBER"),
        (("add", "--deed", "watered", "--amount", "buckets=3"), "--amount 'buckets=3': want NAME=NUMBER with one of"),
        (("add", "--deed", "watered", "--at", "yesterday"), "'yesterday' is no time; want 2026-04-13"),
        (("add", "--deed", "watered", "--bed", "gate"), "bed 'gate': the garden file names no such bed"),
        (("strike",), "--number is missing"),
        (("history", "--number", "4"), "journal entry 4: there is none of that number"),
    ],
)
def test_what_cannot_be_is_told_and_nothing_is_written(journal, words, told):
    status, out, err = journal(*words)
    assert (status, out) == (1, "")
    assert told in err
    assert journal()[1] == ""


def test_a_deed_that_is_none_is_bad_usage(journal):
    with pytest.raises(SystemExit) as ended:
        journal("add", "--deed", "prayed")
    assert ended.value.code == 2


def test_the_list_is_there_for_programs_too_and_no_note_becomes_a_formula(journal):
    journal("add", "--deed", "counted", "--at", "2026-02-13", "--amount", "leaves=6", "--amount", "browned=1", "--note", "=1+1")
    (plain,) = json.loads(journal("--json")[1])
    assert (plain["deed"], plain["amounts"], plain["note"]) == ("counted", {"leaves": 6.0, "browned": 1.0}, "=1+1")
    assert plain["time_utc"] == "2026-02-13T12:00:00.000Z"
    (row,) = csv.DictReader(io.StringIO(journal("--format", "csv")[1]))
    assert (row["amounts"], row["note"]) == ("leaves=6 browned=1", "'=1+1")


def test_a_time_is_by_the_gardens_clock_also_where_that_changes():
    hour = 3_600_000
    assert moment_ms("2026-02-13", "Europe/Lisbon") == moment_ms("2026-02-13T12:00:00Z", "Europe/Lisbon")
    # The clock goes from 1:00 to 2:00 on 29 March: 1:30 is not there, and counts as 1:30 UTC, which is 2:30.
    assert moment_ms("2026-03-29T01:30", "Europe/Lisbon") == moment_ms("2026-03-29T01:30:00Z", "Europe/Lisbon")
    # On 25 October 1:30 comes twice; the first is meant.
    first = moment_ms("2026-10-25T01:30", "Europe/Lisbon")
    assert first == moment_ms("2026-10-25T00:30:00Z", "Europe/Lisbon")
    assert moment_ms("2026-10-25T03:00", "Europe/Lisbon") - first == 2.5 * hour
    assert moment_ms("13.2.2026", "Europe/Lisbon") is None
