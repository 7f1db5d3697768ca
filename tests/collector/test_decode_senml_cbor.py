"""SenML in CBOR beside JSON: the same pack is the same measurements, and whatever comes is measurements or DecodeError."""

import json
import math

import cbor2
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from collector.decode import senml, senml_cbor
from collector.errors import DecodeError
from tests.collector.test_decode_senml import ANY_JSON, assert_measurements_or_decode_error

# RFC 8428, section 6, Table 4.
NUMBERS = {"bver": -1, "bn": -2, "bt": -3, "bu": -4, "bv": -5, "bs": -6}
NUMBERS |= {label: n for n, label in enumerate(("n", "u", "v", "vs", "vb", "s", "t", "ut", "vd"))}
NUMBER = st.integers(-(2**31), 2**31) | st.floats(-1e9, 1e9)
RECORD = st.fixed_dictionaries(
    {"n": st.from_regex(r"[a-z0-9][a-z0-9:./_-]{0,8}", fullmatch=True)},
    optional={
        "bn": st.sampled_from(("stake:", "urn:dev:ow:")),
        "bu": st.sampled_from(("Cel", "/")),
        "u": st.sampled_from(("Cel", "K")),
        "bt": st.integers(2**28, 2**31) | st.floats(2**28, 2**31),
        "t": NUMBER,
        "bv": NUMBER,
        "v": NUMBER,
        "vs": st.text(max_size=4),
        "vb": st.booleans(),
        "s": NUMBER,
        "bver": st.integers(1, 12),
        "x": st.text(max_size=4),
    },
)


def in_cbor(pack):
    return cbor2.dumps([{NUMBERS.get(label, label): value for label, value in record.items()} for record in pack])


def told(payload):
    try:
        return [str(one) if isinstance(one, DecodeError) else one for one in senml.resolve(payload)]
    except DecodeError:
        return "refused"


@given(st.lists(RECORD, max_size=4))
def test_a_pack_says_the_same_in_both(pack):
    assert told(in_cbor(pack)) == told(json.dumps(pack).encode())


@given(st.lists(RECORD, min_size=1, max_size=3))
def test_labels_may_be_text_and_floats_of_any_width(pack):
    by_text, narrow = cbor2.dumps(pack), cbor2.dumps(cbor2.loads(in_cbor(pack)), canonical=True)
    assert told(by_text) == told(narrow) == told(in_cbor(pack))


@given(st.binary(max_size=200), st.integers(0x80, 0x9F))
@example(b"\x81" * 60_000, 0x81)
@example(b"\xff" * 8, 0x9B)
@example(b"\xff", 0x9F)
@example(cbor2.dumps({0: "a", 2: 1}) + b"\xff", 0x9F)
def test_any_bytes_at_all_give_measurements_or_decode_error(rest, first):
    assert_measurements_or_decode_error(bytes([first]) + rest)


@given(st.lists(ANY_JSON, max_size=3))
def test_any_value_at_all_gives_measurements_or_decode_error(value):
    assert_measurements_or_decode_error(cbor2.dumps(value))


@given(st.data())
def test_a_pack_cut_anywhere_is_refused(data):
    whole = in_cbor([{"bn": "urn:dev:ow:", "bt": 1776067200, "n": "a", "u": "Cel", "v": 17.25}, {"n": "b", "v": 18}])
    cut = data.draw(st.integers(1, len(whole) - 1))
    with pytest.raises(DecodeError):
        senml.decode(whole[:cut])


@pytest.mark.parametrize(
    ("payload", "reason"),
    [
        (in_cbor([]), "at least one record"),
        (in_cbor([{"n": "a", "v": 1}]) + b"\x00", "1 bytes follow the array"),
        (bytes.fromhex("81a3006161020102 02".replace(" ", "")), "Duplicate"),
        (cbor2.dumps([{0: "a", "n": "b", 2: 1}]), "'n' stands twice"),
        (cbor2.dumps([{0: "a", 2: 1, "x_": 1}]), "must be understood"),
        (cbor2.dumps([17]), "record 1 is no map"),
        (cbor2.dumps([{0: "a", 2: math.nan}]), "'v' is nan"),
        (cbor2.dumps([{0: "a", 2: 1, 6: math.inf}]), "'t' is inf"),
        (cbor2.dumps([{0: "a", 2: "warm"}]), "Expected `float`"),
        (cbor2.dumps([{0: b"a", 2: 1}]), "Expected `str"),
        (cbor2.dumps([{(1, 2): "a", 2: 1}]), "a label of kind tuple"),
        (cbor2.dumps([{0: "a", 2: 2**70}]), "tag"),
        (cbor2.dumps([{0: "a", 2: cbor2.CBORTag(5, [10**9, 3])}]), "tag"),
        (cbor2.dumps([{0: "a", 2: cbor2.CBORTag(35, "(a+)+$")}]), "tag"),
        (cbor2.dumps([{0: "a", 2: cbor2.CBORTag(999, 1)}]), "tag"),
        (cbor2.dumps([{0: "a", 2: cbor2.CBORTag(4, [10**12, 3])}]), "beyond the range"),
        (cbor2.dumps([{0: "a", 2: cbor2.CBORTag(4, [1])}]), "no pair"),
    ],
)
def test_what_is_no_pack_is_refused_with_the_reason(payload, reason):
    with pytest.raises(DecodeError, match=reason):
        senml.resolve(payload)


def test_a_decimal_fraction_is_a_number():
    # RFC 8949, section 3.4.4: 4([-2, 27315]) is 273.15, the section's own example.
    (reading,) = senml.decode(bytes.fromhex("81a200616102c48221196ab3"))
    assert reading.value == 273.15


def test_data_is_refused_alone_as_in_json():
    first, second = senml.resolve(cbor2.dumps([{0: "a", 8: b"\x00\x01"}, {0: "b", 2: 1}]))
    assert "data" in str(first)
    assert second.value == 1


def test_no_json_text_begins_as_a_pack_in_cbor_does():
    assert not any(senml_cbor.is_pack(text) for text in (b"[", b" [", b"{", b'"', b"\xef\xbb\xbf[", b""))
    assert senml_cbor.is_pack(in_cbor([{"n": "a", "v": 1}]))
