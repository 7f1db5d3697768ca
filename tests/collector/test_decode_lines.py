"""Whole lines out of a stream however it is cut, and their check byte."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from collector.decode import lines
from collector.decode.lines import NOTHING, Line, check_byte, take_lines, without_check
from collector.errors import DecodeError
from collector.model import PAYLOAD_LIMIT_BYTES


def lines_of(chunks) -> list[Line]:
    found: list[Line] = []
    rest = NOTHING
    for chunk in chunks:
        some, rest = take_lines(rest, chunk)
        found += some
    return found + lines.whole(rest)


@st.composite
def cut_streams(draw):
    stream = draw(
        st.lists(st.sampled_from([b"a", b"\r", b"\n", b"\r\n", b"\x00", b"[1]*0F", b"x" * 40]), max_size=40).map(b"".join)
    )
    cuts = sorted(draw(st.lists(st.integers(0, len(stream)), max_size=8)))
    edges = [0, *cuts, len(stream)]
    return stream, [stream[start:end] for start, end in pairwise(edges)]


@given(cut_streams())
def test_any_cutting_of_a_stream_gives_the_same_lines(stream_and_chunks):
    stream, chunks = stream_and_chunks
    with pytest.MonkeyPatch.context() as small:  # limits that short streams reach
        small.setattr(lines, "PAYLOAD_LIMIT_BYTES", 50)
        small.setattr(lines, "NOISE_LIMIT_BYTES", 120)
        assert lines_of(chunks) == lines_of([stream]) == lines_of(bytes([byte]) for byte in stream)


def test_lines_end_with_lf_or_cr_lf_and_empty_ones_are_skipped():
    assert lines_of([b"one\r\n\r\n\ntwo\nthr", b"ee"]) == [Line(b"one", 3), Line(b"two", 3), Line(b"three", 5)]


def test_a_line_over_the_limit_keeps_its_head_and_tells_its_true_length():
    (long, short), rest = take_lines(NOTHING, b"x" * (PAYLOAD_LIMIT_BYTES + 1000) + b"\nshort\n")
    assert (len(long.head), long.size) == (PAYLOAD_LIMIT_BYTES, PAYLOAD_LIMIT_BYTES + 1000)
    assert (short, rest) == (Line(b"short", 5), NOTHING)


def test_noise_that_never_ends_a_line_is_bounded_and_told():
    rest = NOTHING
    told: list[Line] = []
    for _ in range(3 * lines.NOISE_LIMIT_BYTES // 4096):
        some, rest = take_lines(rest, b"\xfe" * 4096)
        told += some
        assert len(rest.head) <= PAYLOAD_LIMIT_BYTES
    assert [one.size for one in told] == [lines.NOISE_LIMIT_BYTES] * 3


# The sentences of NMEA 0183 that its guides print, with their checks: sentences from memory.
@pytest.mark.parametrize(
    ("between_dollar_and_star", "check"),
    [
        (b"GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,", 0x47),
        (b"GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W", 0x6A),
        (b"GPGLL,5057.970,N,00146.110,E,142451,A", 0x27),
    ],
)
def test_the_check_byte_is_that_of_nmea_0183_sentences(between_dollar_and_star, check):
    assert check_byte(between_dollar_and_star) == check


PACK = b'[{"n":"a","v":1}]'


def test_a_right_check_is_taken_off_in_either_case_of_its_digits():
    assert without_check(b"%s*%02X" % (PACK, check_byte(PACK))) == PACK
    assert without_check(b"%s*%02x" % (PACK, check_byte(PACK))) == PACK


def test_a_line_with_no_check_is_left_as_it_is():
    assert without_check(PACK) == PACK
    assert without_check(b'[{"n":"a*b","v":1}] ') == b'[{"n":"a*b","v":1}] '


@given(st.integers(0, len(PACK) - 1), st.integers(1, 255))
def test_a_byte_that_was_disturbed_is_found_and_both_checks_are_told(place, change):
    disturbed = bytearray(PACK)
    disturbed[place] ^= change
    if b"*" in disturbed:
        return
    told = f"{check_byte(PACK):02X} does not fit the line, which has {check_byte(bytes(disturbed)):02X}"
    with pytest.raises(DecodeError, match=told):
        without_check(bytes(disturbed) + b"*%02X" % check_byte(PACK))


@pytest.mark.parametrize("check", [b"", b"1", b"123", b"zz", b" 1", b"\xff\xfe"])
def test_a_check_that_is_not_two_hexadecimal_digits_is_refused(check):
    with pytest.raises(DecodeError, match="two hexadecimal digits"):
        without_check(PACK + b"*" + check)


@given(st.binary(max_size=80))
def test_any_line_gives_bytes_or_decode_error(line):
    try:
        left = without_check(line)
    except DecodeError:
        left = b""
    assert line.startswith(left)
