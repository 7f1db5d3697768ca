"""The export as Parquet, read back by pandas and held against the CSV of the same readings."""

import io

import numpy as np
import pandas as pd
import pytest

from collector.cli import main
from collector.model import Flag, Reading
from tests.collector.test_cli import GARDEN, put


@pytest.fixture
def garden(tmp_path):
    path = tmp_path / "garden.toml"
    path.write_text(GARDEN)
    hours = [1_776_067_200_123 + hour * 3_600_000 for hour in range(30)]
    warm = [Reading("t12", at, 15 + at % 7 / 16, 15 + at % 7 / 16, at, Flag.JUMP if at % 5 == 0 else Flag.NONE) for at in hours]
    put(path, readings=(*warm, *(Reading("m12", at, 0.231, 23.1, at) for at in hours)))
    return path


def test_it_holds_what_the_csv_holds(garden, tmp_path, capsys):
    out = tmp_path / "season.parquet"
    assert main(["export", "--garden", str(garden), "--format", "parquet", "--out", str(out)]) == 0
    assert capsys.readouterr().out == f"{out}: 60 readings\n"
    assert main(["export", "--garden", str(garden)]) == 0
    told = pd.read_csv(io.StringIO(capsys.readouterr().out), parse_dates=["time_utc"], keep_default_na=False)
    found = pd.read_parquet(out)
    assert list(found.columns) == list(told.columns)
    assert (found["time_utc"] == told["time_utc"]).all()
    for name in ("probe", "quantity", "unit", "flags"):
        assert (found[name] == told[name]).all()
    for name in ("value", "raw", "depth_cm"):
        assert np.array_equal(found[name].to_numpy(), told[name].astype(float).to_numpy())


def test_a_csv_may_go_into_a_file_too(garden, tmp_path, capsys):
    assert main(["export", "--garden", str(garden), "--out", str(tmp_path / "season.csv")]) == 0
    assert capsys.readouterr().out == ""
    assert len((tmp_path / "season.csv").read_text().splitlines()) == 61


@pytest.mark.parametrize("more", [[], ["--out", "x.parquet", "--means", "day"]])
def test_what_parquet_does_not_do_is_told(garden, capsys, more):
    assert main(["export", "--garden", str(garden), "--format", "parquet", *more]) == 1
    assert "want --out FILE.parquet, and no --means" in capsys.readouterr().err
