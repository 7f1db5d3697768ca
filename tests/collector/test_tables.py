"""CSV out and in: the contract's columns, exact numbers, strangers' text made harmless, every refused row told."""

import csv
import datetime as dt
import io
from base64 import b64decode
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from collector.errors import DecodeError
from collector.model import Bed, Flag, Garden, Probe, Reading, Refusal
from collector.settings import StoreSettings
from collector.tables import CHUNK_ROWS, export_rows, read_import, time_ms, time_text, write_export, write_refused
from collector.units import Quantity, UnitSystem
from tests.fakes import NOW_MS

SIX_MS = 1_776_060_000_000  # 2026-04-13T06:00:00Z
PROBES = (
    Probe("t12", "terrace", Quantity.SOIL_TEMPERATURE, "urn:t12", 0.12),
    Probe("t7", "terrace", Quantity.SOIL_TEMPERATURE, "urn:t7", 0.07),
    Probe("m25", "terrace", Quantity.SOIL_MOISTURE, "urn:m25", 0.025),
    Probe("air", "terrace", Quantity.AIR_TEMPERATURE, "urn:air"),
)
GARDEN = Garden(
    name="Terrace",
    latitude_deg=37.1,
    longitude_deg=-7.6,
    elevation_m=60.0,
    timezone="UTC",
    units=UnitSystem.METRIC,
    store=StoreSettings(Path("garden.db")),
    beds=(Bed("terrace", "Terrace", 7.2, None, 0.23, 0.11, probes=PROBES),),
)
HEADING = "time_utc,probe,quantity,depth_cm,value,unit,raw,flags"


def exported(*readings):
    out = io.StringIO()
    write_export(readings, GARDEN, out)
    return out.getvalue()


def imported(text):
    lines = text if isinstance(text, list) else [line.encode() for line in text.splitlines(keepends=True)]
    chunks = list(read_import(lines, GARDEN, NOW_MS))
    return [one for chunk in chunks for one in chunk.readings], [one for chunk in chunks for one in chunk.refused]


def test_an_export_has_the_columns_of_the_contract_and_plain_numbers():
    told = exported(
        Reading("t12", SIX_MS, 12.0625, 12.0625, SIX_MS),
        Reading("t7", SIX_MS + 1, 85.0, 358.15, SIX_MS, Flag.OUT_OF_RANGE | Flag.RESET_VALUE),
        Reading("m25", SIX_MS + 60_000, 0.1 + 0.2, 30.0, SIX_MS),
        Reading("air", SIX_MS + 999, -1.5, -1.5, SIX_MS),
    )
    assert told == (
        f"{HEADING}\n"
        "2026-04-13T06:00:00.000Z,t12,soil_temperature,12,12.0625,Cel,12.0625,\n"
        "2026-04-13T06:00:00.001Z,t7,soil_temperature,7,85.0,Cel,358.15,out_of_range reset_value\n"
        "2026-04-13T06:01:00.000Z,m25,soil_moisture,2.5,0.30000000000000004,/,30.0,\n"
        "2026-04-13T06:00:00.999Z,air,air_temperature,,-1.5,Cel,-1.5,\n"
    )


def test_an_empty_export_is_its_heading():
    assert exported() == f"{HEADING}\n"


def test_a_probe_that_has_left_the_garden_file_is_exported_without_what_the_file_said():
    (row,) = export_rows([Reading("gone", SIX_MS, 1.0, 1.0, SIX_MS)], GARDEN)
    assert row == ("2026-04-13T06:00:00.000Z", "gone", "", "", "1.0", "", "1.0", "")


@given(st.integers(0, 253_402_300_799_999))  # years 1970 to 9999
def test_every_time_is_written_as_python_reads_it_and_comes_back(moment_ms):
    text = time_text(moment_ms)
    assert time_ms(text) == moment_ms
    # The outside judge: datetime's own reading of ISO 8601.
    seconds, rest = divmod(moment_ms, 1000)
    assert dt.datetime.fromisoformat(text) == dt.datetime(1970, 1, 1, tzinfo=dt.UTC) + dt.timedelta(
        seconds=seconds, milliseconds=rest
    )


# RFC 3339, section 5.8: the examples that name one moment in two ways
@pytest.mark.parametrize(
    ("text", "same"),
    [
        ("1985-04-12T23:20:50.52Z", "1985-04-12T23:20:50.520Z"),
        ("1996-12-19T16:39:57-08:00", "1996-12-20T00:39:57.000Z"),
    ],
)
def test_times_of_rfc_3339_are_read(text, same):
    assert time_text(time_ms(text)) == same


@pytest.mark.parametrize("text", ["2026-04-13T06:00:00", "2026-04-13"])
def test_a_time_without_a_zone_is_refused(text):
    with pytest.raises(DecodeError, match="does not say its time zone; want Z"):
        time_ms(text)


@pytest.mark.parametrize("text", ["", "yesterday", "13/04/2026 06:00", "2026-02-30T06:00:00Z", "1776060000"])
def test_what_is_no_time_is_refused(text):
    with pytest.raises(DecodeError, match="is no ISO 8601 date and time"):
        time_ms(text)


def test_refused_messages_are_written_with_their_payload_whole():
    out = io.StringIO()
    write_refused([Refusal(SIX_MS, "mqtt garden/a", "no JSON at column 1", b"\x00\xff{,\n", 5)], out)
    assert out.getvalue().splitlines()[0] == "received_utc,source,reason,payload_base64"
    (row,) = list(csv.DictReader(io.StringIO(out.getvalue())))
    assert (row["received_utc"], row["source"], row["reason"]) == (
        "2026-04-13T06:00:00.000Z",
        "mqtt garden/a",
        "no JSON at column 1",
    )
    assert b64decode(row["payload_base64"]) == b"\x00\xff{,\n"


@given(st.text(), st.text(), st.binary())
def test_nothing_that_a_stranger_sends_becomes_a_formula_or_breaks_a_line(source, reason, payload):
    out = io.StringIO()
    write_refused([Refusal(SIX_MS, source, reason, payload, len(payload))], out)
    out.getvalue().encode("utf-8")
    assert out.getvalue().count("\n") == 2
    _, row = csv.reader(io.StringIO(out.getvalue()))
    assert len(row) == 4
    # OWASP, "CSV Injection": the signs that begin a formula
    assert not any(cell.startswith(("=", "+", "-", "@", "\t", "\r")) for cell in row[:3])


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@sum", "=cmd|' /c calc'!A0"])
def test_a_formula_gets_an_apostrophe_before_it(text):
    out = io.StringIO()
    write_refused([Refusal(SIX_MS, text, text, b"", 0)], out)
    _, row = csv.reader(io.StringIO(out.getvalue()))
    assert row[1:3] == [f"'{text}", f"'{text}"]


def test_an_import_takes_columns_in_any_order_and_passes_over_others():
    told, refused = imported("\ufeffnote,value,probe,time_utc,raw\r\nx,12.0625,t12,2026-04-13T06:00:00Z,ADC 7\r\n")
    assert (told, refused) == ([Reading("t12", SIX_MS, 12.0625, 12.0625, SIX_MS, Flag.AS_TOLD)], [])


def test_each_refused_row_is_told_with_its_line_and_the_others_are_read():
    told, refused = imported(
        "time_utc,probe,value\n"
        "2026-04-13T06:00:00Z,t12,12.5\n"
        "2026-04-13T06:00:00,t12,12.5\n"
        "\n"
        "2026-04-13T06:00:00Z,t11,12.5\n"
        '2026-04-13T06:00:00Z,t12,"12,5"\n'
        "2026-04-13T06:00:00Z,t12,\n"
        "2026-04-13T06:00:00Z,t12,nan\n"
        "2026-04-13T06:00:00Z,t12,1e999\n"
        "2026-04-13T06:00:00Z,t12,1_000\n"
        "2026-04-13T06:00:00Z,m25,25\n"
        "2026-04-13T06:00:00Z,t12\n"
        "2026-04-13T06:00:00Z,t12,12,5\n"
        "2026-04-13T08:00:00+01:00,t7,-0.5\n"
    )
    assert [(one.probe_id, one.value, one.measured_ms) for one in told] == [
        ("t12", 12.5, SIX_MS),
        ("t7", -0.5, SIX_MS + 3_600_000),
    ]
    reasons = dict(refused)
    assert sorted(reasons) == [3, 5, 6, 7, 8, 9, 10, 11, 12, 13]
    assert "does not say its time zone" in reasons[3]
    assert "probe 't11' is not in the garden file; did you mean t12?" in reasons[5]
    assert "the decimal sign must be a point" in reasons[6]
    assert all("is no number" in reasons[line] for line in (7, 8, 9, 10))
    assert "value 25.0 is no soil_moisture; want -0.5 to 1.5 [/]" in reasons[11]
    assert "the row has 2 cells, the heading 3" in reasons[12]
    assert "the row has 4 cells" in reasons[13]


def test_bytes_that_are_no_utf_8_spoil_their_own_row_only():
    told, refused = imported(
        [
            b"time_utc,probe,value\n",
            b"2026-04-13T06:00:00Z,t\xff,1\n",
            b"2026-04-13T06:00:00Z,t12,\x001\n",
            b"2026-04-13T06:00:00Z,t12,1\n",
        ]
    )
    assert len(told) == 1
    assert [line for line, _ in refused] == [2, 3]
    assert all(reason.isprintable() for _, reason in refused)


@given(st.lists(st.one_of(st.binary(), st.just(b"2026-04-13T06:00:00Z,t12,1"), st.just(b'2026-04-13T06:00:00Z,"t12,1'))))
def test_any_bytes_under_a_right_heading_are_read_or_refused_and_nothing_else(rows):
    told, refused = imported([b"time_utc,probe,value\n", *(row.replace(b"\n", b"") + b"\n" for row in rows)])
    assert len(told) + len(refused) <= len(rows)
    assert all(reason.isprintable() for _, reason in refused)


@given(st.binary())
def test_any_bytes_for_a_heading_are_told_in_words(heading):
    with pytest.raises(DecodeError, match=r"^line 1: ") as caught:
        imported([heading])
    assert str(caught.value).isprintable()


def test_a_quotation_mark_left_open_is_told():
    rows = ["2026-04-13T06:00:00Z,t12,1\n"] * 10_000
    _, refused = imported([b"time_utc,probe,value\n", b'2026-04-13T06:00:00Z,"t12,1\n', *(row.encode() for row in rows)])
    assert [line for line, _ in refused] == [2], "the lines after it are rows of their own"
    assert "quotation mark left open" in refused[0][1]


@pytest.mark.parametrize(
    "text", ["9999-12-31T23:59:59-12:00", "0001-01-01T00:00:00+14:00", "1969-12-31T23:59:59.999Z", "1970-01-01T00:00:00+00:01"]
)
def test_a_time_that_no_export_could_write_or_show_is_refused(text):
    with pytest.raises(DecodeError, match="lies outside the years 1970 to 9999"):
        time_ms(text)
    assert time_ms("9999-12-31T23:59:59.999Z") == 253_402_300_799_999
    assert time_ms("1970-01-01T00:00:00Z") == 0


def test_an_import_is_checked_as_what_comes_over_a_wire_is():
    rows = ["2026-04-13T06:00:00Z,t12,12", "2026-04-13T06:01:00Z,t12,85", "2026-04-13T06:02:00Z,t12,-127"]
    rows += [
        "2026-04-13T06:03:00Z,t12,12",
        "2026-04-13T06:04:00Z,t12,45",
        "2099-01-01T00:00:00Z,t12,12",
        "1998-01-01T00:00:00Z,t7,9",
    ]
    told, _ = imported("\n".join(["time_utc,probe,value", *rows, ""]))
    assert {one.flags & Flag.AS_TOLD for one in told} == {Flag.AS_TOLD}
    assert [one.flags & ~Flag.AS_TOLD for one in told] == [
        Flag.NONE,
        Flag.OUT_OF_RANGE | Flag.RESET_VALUE,
        Flag.OUT_OF_RANGE | Flag.DISCONNECTED,
        Flag.NONE,
        Flag.JUMP,
        Flag.FUTURE,
        Flag.NONE,
    ]


def test_a_unit_or_quantity_that_contradicts_the_garden_file_refuses_the_row():
    told, refused = imported(
        "time_utc,probe,value,unit,quantity\n"
        "2026-04-13T06:00:00Z,t12,64,Fahrenheit,soil_temperature\n"
        "2026-04-13T06:01:00Z,t12,12,Cel,soil_moisture\n"
        "2026-04-13T06:02:00Z,t12,12,Cel,soil_temperature\n"
        "2026-04-13T06:03:00Z,t12,12,,\n"
    )
    assert len(told) == 2
    assert dict(refused) == {
        2: "unit 'Fahrenheit'; probe t12 of the garden file wants 'Cel'",
        3: "quantity 'soil_moisture'; probe t12 of the garden file wants 'soil_temperature'",
    }


@pytest.mark.parametrize(
    ("heading", "told"),
    [
        ("", "found nothing"),
        ("time,probe,value\n", "no column time_utc; want at least time_utc, probe, value, found time, probe, value"),
        ("time_utc;probe;value\n", "must be separated by commas"),
        ("time_utc,probe,value,value\n", "column value stands 2 times"),
    ],
)
def test_a_heading_that_does_not_do_is_told(heading, told):
    with pytest.raises(DecodeError, match=told):
        imported(heading)


@given(
    st.lists(
        st.tuples(
            st.integers(0, 4_000_000_000_000),
            st.floats(-200, 900),
            st.floats(allow_nan=False, allow_infinity=False),
            st.sampled_from([Flag.NONE, Flag.STUCK, Flag.JUMP | Flag.FUTURE]),
        ),
        max_size=5,
    )
)
def test_an_export_read_again_gives_the_very_same_readings(rows):
    readings = [Reading("t12", measured_ms, value, raw, measured_ms, flags) for measured_ms, value, raw, flags in rows]
    assert imported(exported(*readings)) == (readings, [])


def test_an_export_with_a_flag_nobody_knows_is_told():
    _, refused = imported(f"{HEADING}\n2026-04-13T06:00:00.000Z,t12,soil_temperature,12,1.0,Cel,1.0,wobbly\n")
    assert "flag 'wobbly' is not known" in refused[0][1]


def test_a_long_table_is_handed_on_in_chunks_before_its_end_is_read():
    read_lines = 0

    def lines():
        nonlocal read_lines
        yield b"time_utc,probe,value\n"
        for number in range(3 * CHUNK_ROWS):
            read_lines += 1
            yield f"{time_text(number)},t12,1\n".encode()

    chunks = read_import(lines(), GARDEN, NOW_MS)
    assert len(next(chunks).readings) == CHUNK_ROWS
    assert read_lines <= CHUNK_ROWS + 1
    assert sum(len(chunk.readings) for chunk in chunks) == 2 * CHUNK_ROWS
