"""JSON Pointer against the example document of RFC 6901, section 5."""

import json

import pytest

from collector.decode.pointer import found_at, is_pointer
from collector.errors import DecodeError

DOCUMENT = json.loads(
    r"""{"foo": ["bar", "baz"], "": 0, "a/b": 1, "c%d": 2, "e^f": 3, "g|h": 4, "i\\j": 5, "k\"l": 6, " ": 7, "m~n": 8}"""
)
EXAMPLES = {
    "": DOCUMENT,
    "/foo": ["bar", "baz"],
    "/foo/0": "bar",
    "/": 0,
    "/a~1b": 1,
    "/c%d": 2,
    "/e^f": 3,
    "/g|h": 4,
    "/i\\j": 5,
    '/k"l': 6,
    "/ ": 7,
    "/m~0n": 8,
}


@pytest.mark.parametrize("pointer", EXAMPLES)
def test_each_pointer_of_the_example_points_where_the_text_says(pointer):
    assert is_pointer(pointer)
    assert found_at(DOCUMENT, pointer) == EXAMPLES[pointer]


@pytest.mark.parametrize("pointer", ["/foo/2", "/foo/-", "/foo/00", "/foo/01", "/foo/x", "/foo/0/x", "/no", "/m~01n"])
def test_what_points_to_nothing_is_told(pointer):
    # section 4: "-" names the place after the last, which does not exist; an index has no leading zeros
    with pytest.raises(DecodeError, match="nothing at"):
        found_at(DOCUMENT, pointer)


@pytest.mark.parametrize("text", ["foo", "foo/0", "/a~2b", "/a~", "#/foo"])
def test_what_is_no_pointer_is_known(text):
    assert not is_pointer(text)
