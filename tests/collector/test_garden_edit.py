"""Claiming writes one probe into the garden file: the grower's own lines stay, and Python's TOML reader is the judge."""

import tomllib

import pytest

from collector.errors import QuestionError
from collector.garden_edit import GardenKeeper, with_probe
from collector.model import Place, Probe
from collector.units import Quantity

HEAD = """# what we call it
[garden]
name = "Test"   # for now
latitude_deg = 36.0
longitude_deg = -5.0

[store]
path = "garden.db"
"""
UPPER = """
[[bed]]
id = "upper"   # by the wall
area_m2 = 4.0
soil = "loam"
"""
PROBES = """
    # bought last year
    [[bed.probe]]
    id = "t5"
    quantity = "soil_temperature"
    depth_cm = 5
    address = "stake/t5"   # red cable
"""
LOWER = """
# the new one
[[bed]]
id = "lower"
area_m2 = 3.0
soil = "sand"
"""
AFTER = """
# and the phone
[[notify]]
url_env = "COOLDEPTH_PHONE"
"""
NEW = Probe("upper-t12", "upper", Quantity.SOIL_TEMPERATURE, "urn:dev:ow:28a1", 0.12)
SHAPES = {
    "alone": HEAD + UPPER,
    "no end of line": (HEAD + UPPER).rstrip(),
    "with probes": HEAD + UPPER + PROBES,
    "bed after": HEAD + UPPER + PROBES + LOWER,
    "table after": HEAD + UPPER + AFTER,
    "spaced": (HEAD + UPPER).replace("[[bed]]", "[[ bed ]]  # first") + LOWER,
    "windows": (HEAD + UPPER + PROBES + LOWER).replace("\n", "\r\n"),
    "store last": UPPER + HEAD,
}


@pytest.fixture
def keep(tmp_path):
    def made(text):
        path = tmp_path / "garden.toml"
        path.write_bytes(text.encode())
        return path

    return made


@pytest.mark.parametrize("shape", sorted(SHAPES))
def test_the_probe_is_there_and_every_line_that_was_there_still_is(keep, shape):
    path = keep(SHAPES[shape])
    was = tomllib.loads(path.read_text())
    GardenKeeper(path).add_probe(NEW)
    text = path.read_bytes().decode()
    (upper, *others) = tomllib.loads(text)["bed"]
    assert upper["probe"][-1] == {"id": "upper-t12", "quantity": "soil_temperature", "depth_cm": 12, "address": "urn:dev:ow:28a1"}
    assert upper["probe"][:-1] == was["bed"][0].get("probe", [])
    assert others == was["bed"][1:]
    lines = text.split("\n")
    kept = SHAPES[shape].split("\n")
    for line in kept:  # in their order
        lines = lines[lines.index(line) + 1 :]
    assert ("\r" in text) == (shape == "windows")
    assert text.count("\r") == (text.count("\n") if shape == "windows" else 0)
    assert path.with_name("garden.toml.before").read_bytes() == SHAPES[shape].encode()


def test_a_comment_stays_with_the_table_that_it_stands_over(keep):
    path = keep(SHAPES["bed after"])
    GardenKeeper(path).add_probe(NEW)
    assert '    address = "urn:dev:ow:28a1"\n\n# the new one\n[[bed]]\nid = "lower"' in path.read_text()


def test_the_second_bed_gets_what_is_its_own(keep):
    path = keep(HEAD + UPPER + PROBES + LOWER + AFTER)
    GardenKeeper(path).add_probe(Probe("air", "lower", Quantity.AIR_TEMPERATURE, "stake/air"))
    upper, lower = tomllib.loads(path.read_text())["bed"]
    assert [one["id"] for one in upper["probe"]] == ["t5"]
    assert lower["probe"] == [{"id": "air", "quantity": "air_temperature", "address": "stake/air"}]


def test_a_place_that_is_not_the_bed_is_written_too():
    text = with_probe(HEAD + UPPER, 0, Probe("c", "upper", Quantity.AIR_TEMPERATURE, "stake/c", place=Place.CURING))
    assert tomllib.loads(text)["bed"][0]["probe"][0]["place"] == "curing place"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (HEAD.replace("[garden]", 'bed = [{id = "upper", area_m2 = 4.0, soil = "loam"}]\n[garden]'), "no place was found"),
        (HEAD + UPPER.replace("upper", "other"), "no place was found"),
        (HEAD + UPPER.replace('soil = "loam"', 'soil = "lome"'), "did you mean loam"),
        (HEAD + UPPER + PROBES.replace("stake/t5", "urn:dev:ow:28a1"), "urn:dev:ow:28a1"),
    ],
)
def test_where_it_does_not_fit_nothing_is_changed_and_the_lines_are_told(keep, text, told):
    path = keep(text)
    with pytest.raises(QuestionError) as refused:
        GardenKeeper(path).add_probe(NEW)
    assert told in str(refused.value)
    assert 'address = "urn:dev:ow:28a1"' in str(refused.value)
    assert path.read_text() == text
    assert [one.name for one in path.parent.iterdir()] == ["garden.toml"]


def test_a_text_within_the_file_that_looks_like_a_bed_spoils_nothing(keep):
    text = HEAD.replace('name = "Test"   # for now', 'name = """Te\\\n[[bed]]\nst"""') + UPPER
    path = keep(text)
    try:
        GardenKeeper(path).add_probe(NEW)
    except QuestionError:
        assert path.read_text() == text
    else:
        assert tomllib.loads(path.read_text())["bed"][0]["probe"][0]["id"] == "upper-t12"


def test_a_file_that_is_a_link_stays_one(keep, tmp_path):
    path = keep(HEAD + UPPER)
    (tmp_path / "link.toml").symlink_to(path)
    GardenKeeper(tmp_path / "link.toml").add_probe(NEW)
    assert (tmp_path / "link.toml").is_symlink()
    assert "upper-t12" in path.read_text()


def test_a_folder_that_may_not_be_written_in_is_told_with_what_to_do(keep, monkeypatch):
    path = keep(HEAD + UPPER)

    def refuse(*_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("collector.garden_edit.shutil.copy2", refuse)
    with pytest.raises(QuestionError, match=r"cannot be changed from here \(Permission denied\)\. Add these lines"):
        GardenKeeper(path).add_probe(NEW)
    assert path.read_text() == HEAD + UPPER
