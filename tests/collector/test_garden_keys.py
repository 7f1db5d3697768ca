"""The table of keys: each is read, has bounds and a fitting default, and stands in the description once."""

import math
import re
from pathlib import Path

from collector import garden_file
from collector.garden_key import Kind, fits
from collector.garden_keys import KEYS, describe, keys_of


def test_every_key_of_the_table_is_used_by_the_reader_and_has_a_default_that_fits():
    source = Path(garden_file.__file__).read_text()
    for key in KEYS:
        assert f'["{key.name}"]' in source or key.name in ("field_capacity", "wilting_point") or key.table == "limits", (
            f"{key.name} is read and forgotten"
        )
        assert key.default is None or fits(key, key.default)
        assert not (key.required and key.default is not None)
        if key.kind in (Kind.NUMBER, Kind.WHOLE):
            assert math.isfinite(key.low)
            assert math.isfinite(key.high)


def test_the_description_has_one_row_for_each_key_and_no_other():
    rows = re.findall(r"^\| `\[+([\w.]+)\]+` \| `(\w+)` \|", describe(), re.MULTILINE)
    assert rows == [(key.table, key.name) for key in KEYS]
    assert keys_of("garden")["elevation_m"].wanted == "a number [m] from -500 to 6000"
