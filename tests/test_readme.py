"""The README's garden file is a garden file, and its table of keys is the table the reader goes by.

`python -m tests.test_readme --write` writes the table anew.
"""

import re
import sys
from pathlib import Path

import pytest

from collector import garden_file, garden_keys

README = Path(__file__).parent.parent / "README.md"
BEGIN = "<!-- keys: `python -m tests.test_readme --write` writes this table -->\n"
END = "<!-- end of keys -->"


EXAMPLES = re.findall(r"```toml\n(.*?)```", README.read_text(), re.DOTALL)
WHOLE = next(text for text in EXAMPLES if "[garden]" in text)


@pytest.mark.parametrize("part", [text for text in EXAMPLES if text != WHOLE])
def test_a_part_of_a_garden_file_is_read_without_a_problem(part):
    garden_file.parse(WHOLE + part, "README.md", {"COOLDEPTH_PHONE_URL": "json://127.0.0.1"}, Path("/nowhere"))


def test_the_example_garden_file_is_read_without_a_problem():
    garden = garden_file.parse(WHOLE, "README.md", {"COOLDEPTH_PHONE_URL": "json://127.0.0.1"}, Path("/nowhere"))
    assert [probe.id for probe in garden.probes] == ["upper-t10", "upper-m12"]
    assert garden.beds[0].clove_depth_m == 0.10


def test_the_table_of_keys_is_the_one_the_reader_goes_by():
    shown = README.read_text().split(BEGIN)[1].split(END)[0].strip()
    assert shown == garden_keys.describe()


if __name__ == "__main__" and "--write" in sys.argv:
    before, _, rest = README.read_text().partition(BEGIN)
    README.write_text(f"{before}{BEGIN}{garden_keys.describe()}\n{END}{rest.partition(END)[2]}")
