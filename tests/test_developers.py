"""DEVELOPERS.md: what its table of ARITHMETIC says follows from what it says it goes by."""

import re
from pathlib import Path

import pytest

TEXT = (Path(__file__).parent.parent / "DEVELOPERS.md").read_text()
GARDENS, PROBES, PACK = 10_000, 40, 4
READINGS_S = GARDENS * PROBES / 60
YEAR_S = 365.25 * 86_400


def rows():
    table = TEXT.split("## ARITHMETIC")[1].split("\n## ")[0]
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in table.splitlines() if line.startswith("| ")]
    return {what: (by, comes) for what, by, comes in cells if what != "what"}


def number(text):
    return float(re.search(r"[\d.,]+", text).group().replace(",", ""))


@pytest.mark.parametrize(
    ("what", "comes"),
    [
        ("readings a second", lambda _: READINGS_S),
        ("messages a second", lambda _: READINGS_S / PACK),
        ("collectors, cores", lambda micro: READINGS_S / PACK * micro / 1e6),
        ("broker, cores", lambda micro: READINGS_S / PACK * micro / 1e6),
        ("shippers, cores", lambda micro: READINGS_S * micro / 1e6),
        ("InfluxDB, cores", lambda micro: READINGS_S * micro / 1e6),
        ("disk of InfluxDB in a year", lambda size: READINGS_S * YEAR_S * size / 1e12),
        ("disk in SQLite instead", lambda size: READINGS_S * YEAR_S * size / 1e12),
    ],
)
def test_each_line_of_the_arithmetic_follows_from_its_figure(what, comes):
    by, said = rows()[what]
    expected, places = comes(number(by)), len(re.search(r"[\d,]+(?:\.(\d+))?", said).group(1) or "")
    assert number(said) == pytest.approx(expected, abs=0.51 * 10.0**-places)


def test_catching_up_takes_what_the_two_lines_before_it_leave():
    """A collector's core that the present leaves free takes an hour's messages in so many minutes."""
    busy, minutes = number(rows()["collectors, cores"][1]), number(rows()["to catch up on an hour's outage"][1])
    assert minutes == pytest.approx(60.0 * busy / (1.0 - busy), abs=1.0)
