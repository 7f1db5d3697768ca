"""Tables of other loggers: day-first dates, Fahrenheit, decimal commas, clocks that change, lines before the heading."""

import datetime as dt
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from collector import foreign_table
from collector.cli import main
from collector.errors import DecodeError
from collector.foreign_table import Dates, Told, plan, read
from collector.garden_file import parse
from tests.collector.test_cli import put
from tests.fakes import NOW_MS

GARDEN = """
[garden]
latitude_deg = 37.1
longitude_deg = -7.6
timezone = "Europe/Lisbon"
[store]
path = "garden.db"
[[bed]]
id = "upper"
area_m2 = 4
soil = "loam"
  [[bed.probe]]
  id = "t5"
  quantity = "soil_temperature"
  depth_cm = 5
  address = "stake/t5"
  [[bed.probe]]
  id = "t12"
  quantity = "soil_temperature"
  depth_cm = 12.5
  address = "stake/t12"
  [[bed.probe]]
  id = "m15"
  quantity = "soil_moisture"
  depth_cm = 15
  address = "stake/m15"
  [[bed.probe]]
  id = "air"
  quantity = "air_temperature"
  address = "stake/air"
"""


@pytest.fixture
def garden(tmp_path):
    return parse(GARDEN, "garden.toml", {}, tmp_path, secrets=False)


def readings(text, garden, told=None):
    lines = text.splitlines()
    chunks = list(read(lines, plan(lines, garden, told or Told()), NOW_MS))
    return [one for chunk in chunks for one in chunk.readings], [one for chunk in chunks for one in chunk.refused]


def at(text, zone="Europe/Lisbon"):
    return round(dt.datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(zone)).timestamp() * 1000)


# A logger with lines before its heading, day-first dates, Fahrenheit and inches.
LOGGER = """Plot title: bed 7
Serial: 10447
"#","Date Time, local","Temp 2 in (°F)","Temp 5 in (°F)","Water Content 6 in (%)","Battery, V"
1,"13/02/2026 23:50",50.0,48.2,21.3,3.6
2,"14/02/2026 00:00",50.9,48.38,21.3,3.6
3,"14/02/2026 00:10",n/a,48.2,,3.6
"""


def test_day_first_dates_and_fahrenheit_are_found_and_told(garden):
    found = plan(LOGGER.splitlines(), garden, Told())
    assert foreign_table.in_words(found) == [
        "line 3 is the heading; dates are day-first, in Europe/Lisbon, the garden’s own, since the table does not say",
        "column 'Temp 2 in (°F)' is t5 (soil_temperature), in °F",
        "column 'Temp 5 in (°F)' is t12 (soil_temperature), in °F",
        "column 'Water Content 6 in (%)' is m15 (soil_moisture), in %",
        "passed over: #, Battery, V",
    ]
    stored, refused = readings(LOGGER, garden)
    # 50 °F is 10 °C and 48.2 °F is 9 °C, by definition
    assert [(one.probe_id, one.measured_ms, one.value) for one in stored[:3]] == [
        ("t5", at("2026-02-13T23:50"), 10.0),
        ("t12", at("2026-02-13T23:50"), 9.0),
        ("m15", at("2026-02-13T23:50"), 0.213),
    ]
    assert refused == [(6, "Temp 2 in (°F): 'n/a' is no number")]
    assert len(stored) == 7


def test_semicolons_decimal_commas_and_a_time_of_day_in_a_column_of_its_own(garden):
    text = "Datum;Zeit;Boden 5 cm (°C);Boden 12,5 cm (°C)\n01.03.2026;06:00;8,25;9,5\n01.03.2026;18:00:30;11,75;9,75\n"
    text += "02.03.2026;06:00;8,5;9,5\n"
    stored, refused = readings(text, garden)
    assert refused == []
    assert [(one.probe_id, one.measured_ms, one.value) for one in stored[:4]] == [
        ("t5", at("2026-03-01T06:00"), 8.25),
        ("t12", at("2026-03-01T06:00"), 9.5),
        ("t5", at("2026-03-01T18:00:30"), 11.75),
        ("t12", at("2026-03-01T18:00:30"), 9.75),
    ]


@pytest.mark.parametrize(
    ("cells", "moments"),
    [
        (["2026-03-01 06:00", "2026-03-01 07:00"], [at("2026-03-01T06:00"), at("2026-03-01T07:00")]),
        (["2026-03-01T06:00:00Z", "2026-03-01T07:00:00Z"], [at("2026-03-01T06:00", "UTC"), at("2026-03-01T07:00", "UTC")]),
        (["2026-03-01T06:00+02:00", "2026-03-01T07:00+02:00"], [at("2026-03-01T04:00", "UTC"), at("2026-03-01T05:00", "UTC")]),
        (["3/1/26 11:30 PM", "3/2/26 12:15 AM"], [at("2026-03-01T23:30"), at("2026-03-02T00:15")]),
        (["28/02/2026 23:30", "01/03/2026 00:30"], [at("2026-02-28T23:30"), at("2026-03-01T00:30")]),
        (["02/28/2026 23:30", "03/01/2026 00:30"], [at("2026-02-28T23:30"), at("2026-03-01T00:30")]),
        (["1772345400", "1772349000"], [1772345400000, 1772349000000]),
    ],
)
def test_times_are_read_in_the_order_that_makes_them_dates(garden, cells, moments):
    text = "Time,T 5 cm (C)\n" + "".join(f"{cell},{10 + place}\n" for place, cell in enumerate(cells))
    stored, refused = readings(text, garden)
    assert ([one.measured_ms for one in stored], refused) == (moments, [])


def test_of_two_orders_that_could_be_the_one_in_which_days_follow_each_other_is_taken(garden):
    days = "".join(f"{day:02d}/03/2026 12:00,10\n" for day in range(4, 11))
    stored, _ = readings("Time,T 5 cm (C)\n" + days, garden)
    assert [dt.datetime.fromtimestamp(one.measured_ms / 1000, dt.UTC).month for one in stored] == [3] * 7


def test_where_nobody_can_tell_it_is_asked_for_and_may_be_told(garden):
    text = "Time,T 5 cm (C)\n03/04/2026 12:00,10\n03/04/2026 13:00,10\n"
    with pytest.raises(DecodeError, match=r"may be day-first or month-first \('03/04/2026 12:00'\); say which with --dates"):
        readings(text, garden)
    stored, _ = readings(text, garden, Told(dates=Dates.DAY_FIRST))
    assert stored[0].measured_ms == at("2026-04-03T12:00")


def test_an_hour_that_the_clocks_repeat_is_told_apart_and_one_that_they_skip_is_refused(garden):
    # Lisbon's clocks went back at 2:00 on Sunday 26 October 2025 and forward at 1:00 on 30 March 2025 (tz database, Rule EU)
    autumn = "Time,T 5 cm (C)\n" + "".join(
        f"2025-10-26 {clock},10\n" for clock in ("00:30", "01:00", "01:30", "01:00", "01:30", "02:00")
    )
    stored, refused = readings(autumn, garden)
    assert [after.measured_ms - before.measured_ms for before, after in pairwise(stored)] == [1_800_000] * 5
    assert refused == []
    _, refused = readings("Time,T 5 cm (C)\n2025-03-30 00:30,10\n2025-03-30 01:30,10\n", garden)
    assert refused == [(3, "'2025-03-30 01:30' was skipped by the clocks of Europe/Lisbon; does the logger keep another time?")]


def test_a_table_that_says_utc_is_in_utc_and_a_zone_may_be_told(garden):
    stored, _ = readings("Time (UTC),T 5 cm (C)\n2026-07-01 06:00,10\n2026-07-01 07:00,10\n", garden)
    assert stored[0].measured_ms == at("2026-07-01T06:00", "UTC")
    stored, _ = readings("Time,T 5 cm (C)\n2026-07-01 06:00,10\n2026-07-01 07:00,10\n", garden, Told(zone="Asia/Tokyo"))
    assert stored[0].measured_ms == at("2026-07-01T06:00", "Asia/Tokyo")


def test_columns_go_by_ids_and_addresses_and_may_be_told(garden):
    text = "Time,t5,stake/t12,Probe A\n2026-03-01 06:00,10,11,61\n2026-03-01 07:00,10,11,61\n"
    stored, _ = readings(text, garden, Told(columns=(("Probe A", "air", "F"),)))
    assert [(one.probe_id, one.value) for one in stored[:3]] == [
        ("air", pytest.approx(16.1111, abs=1e-4)),
        ("t5", 10.0),
        ("t12", 11.0),
    ]
    assert "since the heading does not say" in " ".join(foreign_table.in_words(plan(text.splitlines(), garden, Told())))


@pytest.mark.parametrize(
    ("text", "told", "says"),
    [
        ("hello\nworld\n", Told(), "no heading was found"),
        ("", Told(), "no heading was found"),
        ("a,b\n1,2\n", Told(), "no column of a, b holds dates and times"),
        ("Time,Thing\n2026-03-01 06:00,4\n", Told(), "say which is whose with --column HEADING=PROBE"),
        ("Time,T 5 cm,T 5 cm again\n2026-03-01 06:00,4,5\n", Told(), "two columns seem to be those of t5"),
        ("Time,T 5 cm\n2026-03-01 06:00,4\n", Told(columns=(("No", "t5", None),)), "no column 'No'; the table has Time, T 5 cm"),
        ("Time,T 5 cm\n2026-03-01 06:00,4\n", Told(columns=(("T 5 cm", "x", None),)), "no probe 'x' in the garden file"),
        ("Time,T 5 cm\n2026-03-01 06:00,4\n", Told(columns=(("T 5 cm", "t5", "lx"),)), "no unit 'lx' for soil_temperature"),
    ],
)
def test_what_cannot_be_told_says_what_to_say(garden, text, told, says):
    with pytest.raises(DecodeError, match=says):
        plan(text.splitlines(), garden, told)


def test_rows_that_are_none_are_refused_by_their_lines_and_the_others_stand(garden):
    text = "Time,T 5 cm (C)\n2026-03-01 06:00,10\n2026-03-01 07:00\nsoon,11\n2026-03-01 25:00,11\n2026-03-01 09:00,1e9\n\n"
    text += "2026-03-01 10:00,12\n"
    lines = text.splitlines()
    found = plan([*lines[:2], lines[7]], garden, Told())
    chunks = list(read(lines, found, NOW_MS))
    assert [one.value for chunk in chunks for one in chunk.readings] == [10.0, 12.0]
    assert [line for chunk in chunks for line, _ in chunk.refused] == [3, 4, 5, 6]


def test_through_the_command_it_is_shown_first_written_with_yes_and_twice_changes_nothing(tmp_path, capsys):
    (tmp_path / "garden.toml").write_text(GARDEN)
    (tmp_path / "logger.csv").write_text(LOGGER)
    put(tmp_path / "garden.toml")
    call = ["import", "--garden", str(tmp_path / "garden.toml"), str(tmp_path / "logger.csv")]
    assert main(call) == 1
    told = capsys.readouterr()
    assert "dates are day-first" in told.err
    assert "7 readings could be stored, 1 rows refused; nothing is written without --yes" in told.out
    tables = []
    for _ in range(2):
        assert main([*call, "--yes"]) == 1
        capsys.readouterr()
        assert main(["export", "--garden", str(tmp_path / "garden.toml")]) == 0
        tables.append(capsys.readouterr().out)
    assert tables[0] == tables[1]
    assert len(tables[0].splitlines()) == 8
