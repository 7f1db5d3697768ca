"""SDI-12 against the examples of its specification, version 1.4 (second-hand, as public test suites quote it)."""

import pytest

from collector.decode.sdi12 import answer_of, crc, values_of
from collector.errors import DecodeError

# Sections 4.4.12 and 4.5 (examples of answers with their check).
ANSWERS = [
    ("0+3.14OqZ", [3.14]),
    ("0+3.14+2.718+1.414Ipz", [3.14, 2.718, 1.414]),
    ("0+1.11+2.22+3.33+4.44+5.55+6.66I]q", [1.11, 2.22, 3.33, 4.44, 5.55, 6.66]),
    ("0+7.77+8.88+9.99IvW", [7.77, 8.88, 9.99]),
    ("0+3.14+2.718IWO", [3.14, 2.718]),
    ("0AP@", []),  # section 4.4.8.1: no data
]


@pytest.mark.parametrize(("answer", "values"), ANSWERS)
def test_the_check_of_each_example_is_ours(answer, values):
    assert crc(answer[:-3].encode()) == answer[-3:]
    assert values_of(answer_of(answer.encode(), "0", checked=True)) == values


@pytest.mark.parametrize(("answer", "values"), ANSWERS)
def test_an_answer_with_any_sign_changed_is_refused(answer, values):
    for place in range(len(answer)):
        changed = answer[:place] + ("1" if answer[place] != "1" else "2") + answer[place + 1 :]
        with pytest.raises(DecodeError, match=r"has the check|is the answer of another"):
            answer_of(changed.encode(), "0", checked=True)


def test_the_check_is_crc_16_arc():
    # CRC-16/ARC of "123456789" is BB3D (catalogue of parametrised CRC algorithms): its six bits from the left, in three signs.
    assert crc(b"123456789") == "".join(chr(0x40 | part) for part in (0xBB3D >> 12, 0xBB3D >> 6 & 0x3F, 0xBB3D & 0x3F)) == "Kl}"
