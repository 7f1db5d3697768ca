"""`cooldepth unclaimed`, `claim` and `mounted` as a newcomer types them, slips among them."""

from __future__ import annotations

import json
import time

import pytest

from collector import cli
from collector.model import Batch, Unclaimed
from collector.stores.sqlite import SqliteReadingStore

GARDEN = """
[garden]
latitude_deg = 36.0
longitude_deg = -5.0
[store]
path = "garden.db"
[[bed]]
id = "upper"
name = "Upper bed"
area_m2 = 4.0
soil = "loam"
"""


@pytest.fixture
def call(tmp_path, capsys):
    """Calls a command of the garden, of which three addresses have been heard; answers with status, output and errors."""
    file = tmp_path / "garden.toml"
    file.write_text(GARDEN)
    now_ms = round(time.time() * 1000)
    heard = (("stake/t10", "Cel", 15.0), ("stake/t20", "Cel", 14.5), ("stake/m10", "/", 0.2))
    store = SqliteReadingStore(tmp_path / "garden.db")
    told = [Unclaimed(address, unit, now_ms - 60_000, value, now_ms, "mqtt garden/stake") for address, unit, value in heard]
    store.commit(Batch(unclaimed=tuple(told)))
    store.close()

    def run(command, *words):
        status = cli.main([command, "--garden", str(file), *words])
        said = capsys.readouterr()
        return status, said.out, said.err

    return run


def test_an_address_gets_its_place_and_one_at_the_same_depth_is_asked_about(call):
    status, out, _ = call("claim", "stake/t10", "--bed", "upper", "--depth-cm", "10")
    assert (status, out.endswith("of bed Upper bed now; what it said before counts too\n")) == (0, True)
    _, out, _ = call("claim", "stake/t20", "--bed", "upper", "--depth-cm", "10")
    assert "upper-t10 is at the same depth, is that meant?" in out
    _, out, _ = call("unclaimed", "--json")
    assert [one["address"] for one in json.loads(out)] == ["stake/m10"]


def test_slips_are_told_with_what_was_meant(call):
    assert "stake/t1O has not been heard; did you mean stake/t10?" in call("claim", "stake/t1O", "--bed", "upper")[2]
    wrong = call("claim", "stake/m10", "--bed", "upper", "--depth-cm", "10", "--quantity", "soil_temperature")
    assert (wrong[0], "it speaks in /, which is soil_moisture" in wrong[2]) == (1, True)
    call("claim", "stake/t10", "--bed", "upper", "--depth-cm", "10")
    assert "probe upper-t10 of bed upper has this address already" in call("claim", "stake/t10", "--bed", "upper")[2]
    assert "the garden file names upper" in call("mounted", "--bed", "lower")[2]


def test_where_nothing_is_there_it_is_said(call):
    assert call("mounted")[:2] == (
        0,
        "No probes yet. `cooldepth unclaimed` tells what speaks, `cooldepth claim` gives it a place.\n",
    )
    for address, depth_cm in (("stake/t10", "10"), ("stake/t20", "20"), ("stake/m10", "10")):
        call("claim", address, "--bed", "upper", "--depth-cm", depth_cm)
    status, out, err = call("unclaimed")
    assert (status, out, err) == (
        0,
        "address,unit,value,time_utc,source,may_be\n",
        "cooldepth: nothing speaks that no probe has\n",
    )
    _, out, _ = call("mounted", "--json")
    assert [one["how"] for one in json.loads(out)] == ["wait"] * 4
    status, _, err = call("unclaimed", "--in-hand", "0")
    assert (status, "none has spoken meanwhile" in err) == (1, True)
