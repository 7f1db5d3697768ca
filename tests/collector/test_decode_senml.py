"""SenML decoding beyond the RFC's own examples: whatever comes, the answer is measurements or DecodeError."""

import json
import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from collector.decode import senml
from collector.errors import DecodeError
from collector.model import Measurement

LABELS = ["bn", "bt", "bu", "bv", "bs", "bver", "n", "u", "v", "vs", "vb", "vd", "s", "t", "ut", "x", "x_"]
ANY_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(LABELS), inner, max_size=6),
    max_leaves=12,
)
NEARLY_SENML = st.lists(
    st.dictionaries(st.sampled_from(LABELS), st.integers() | st.floats() | st.text(max_size=6) | st.booleans(), max_size=6),
    max_size=4,
)


def assert_measurements_or_decode_error(payload: bytes) -> None:
    try:
        entries = senml.resolve(payload)
    except DecodeError:
        return
    assert entries
    for one in entries:
        if isinstance(one, Measurement):
            assert math.isfinite(one.value)
            assert one.address.isascii()
            assert -(2**28) * 1000 <= one.offset_ms < 2**28 * 1000
            assert one.measured_ms is None or 2**28 * 1000 <= one.measured_ms < 2**63
        else:
            assert isinstance(one, DecodeError)
            assert str(one)


@given(st.binary(max_size=200))
@example(b"\x00")
@example(b"[" * 100_000)
@example(b'[{"n":"a","v":1,"x":' + b"[" * 100_000 + b"]" * 100_000 + b"}]")
@example(b'[{"n":"a","v":' + b"9" * 60_000 + b"}]")
@example(b'[{"n":"a","v":1,"x":' + b"9" * 60_000 + b"}]")
@example(b'[{"n":"a","v":1,"u":"\\ud800"}]')
@example(b'[{"n":"a","v":1,"x":"\\ud800"}]')
@example(b'[{"n":"a","bv":1e308,"v":1e308}]')
@example(b'[{"n":"a","bt":1e308,"t":1e308,"v":1}]')
def test_any_bytes_at_all_give_measurements_or_decode_error(payload):
    assert_measurements_or_decode_error(payload)


@given(ANY_JSON | NEARLY_SENML)
def test_any_json_at_all_gives_measurements_or_decode_error(value):
    assert_measurements_or_decode_error(json.dumps(value).encode())


@given(st.data())
def test_a_pack_cut_anywhere_is_refused(data):
    whole = b'[{"bn":"urn:dev:ow:","bt":1776067200,"n":"a","u":"Cel","v":17.25},{"n":"b","v":18}]'
    cut = data.draw(st.integers(0, len(whole) - 1))
    with pytest.raises(DecodeError):
        senml.decode(whole[:cut])


@given(
    st.lists(
        st.tuples(
            st.from_regex(r"[A-Za-z0-9][A-Za-z0-9:./_-]{0,20}", fullmatch=True),
            st.floats(allow_nan=False, allow_infinity=False),
            st.integers(2**28, 4_000_000_000),
        ),
        min_size=1,
        max_size=5,
    )
)
def test_what_the_standard_library_writes_is_read_back(records):
    payload = json.dumps([{"n": name, "v": value, "t": time_s} for name, value, time_s in records], indent=1).encode()
    assert [(one.address, one.value, one.measured_ms) for one in senml.decode(payload)] == [
        (name, value, time_s * 1000) for name, value, time_s in records
    ]


@pytest.mark.parametrize(
    ("payload", "told"),
    [
        (b"", "empty message"),
        (b" \n", "empty message"),
        (b"[]", "at least one record"),
        (b'{"n":"a","v":1}', "Expected `array`"),
        (b'[{"n":"a","v":"17"}]', r"Expected `float`, got `str` - at `\$\[0\].v`"),
        (b'[{"n":"a","v":null}]', "got `null`"),
        (b'[{"n":"a","v":NaN}]', "malformed"),
        (b'[{"n":"a","v":-Infinity}]', "malformed"),
        (b'[{"n":"a","v":1e999}]', "out of range"),
        (b'[{"n":"a","v":1}]\x00', "trailing characters"),
        (b'[{"n":"a\x00b","v":1}]', "malformed"),
        (b'[{"n":"\xff","v":1}]', "utf-8"),
        (b'[{"n":"a","v":1,"x":"\xff"}]', "utf-8"),
        (b'[{"n":"a","v":1,"x":' + b"[" * 100_000 + b"]" * 100_000 + b"}]", "nested too deep"),
        (b'[{"n":"a","v":1,"v":2}]', "'v' stands twice"),
        (b'[{"n":"a","v":1,"\\u0076":2}]', "'v' stands twice"),
        (b'[{"n":"a","v":1,"x":{"y":1,"y":2}}]', "'y' stands twice"),
        (b'[{"n":"a","v":1,"x\\u005f":2}]', "'x_' must be understood"),
        (b'[{"n":"a","t":1776067200000,"v":1}]', "want seconds since 1970, not milliseconds"),
        (b'[{"n":"a","t":-1e300,"v":1}]', "before the message"),
        (b'[{"n":"' + b"a" * 600 + b'","v":1}]', "has 600 characters"),
        (b'[{"n":"a","u":"' + b"C" * 600 + b'","v":1}]', "of 600 characters"),
        (b'[{"n":"a","bv":1.7e308,"v":1.7e308}]', "add up to no number"),
    ],
)
def test_each_fault_is_told_with_what_was_found(payload, told):
    with pytest.raises(DecodeError, match=told):
        senml.decode(payload)


def test_a_label_that_stands_in_two_records_is_no_fault():
    assert len(senml.decode(b'[{"n":"a","v":1},{"n":"a","v":2}]')) == 2


def test_escapes_and_white_space_are_read_as_json_has_them():
    (one,) = senml.decode(b' [ { "\\u006e" : "a\\/b" , "u" : "\\u0043el" , "v" : 1.5E1 } ] ')
    assert (one.address, one.unit, one.value) == ("a/b", "Cel", 15.0)


def test_decode_refuses_a_pack_with_one_bad_record_and_names_it():
    with pytest.raises(DecodeError, match=r"record 2 of 2: .*'vs' is text"):
        senml.decode(b'[{"n":"a","v":1},{"n":"a","vs":"x"}]')
