"""Readings as a Parquet file: the columns of the CSV, with a type for each. Needs pyarrow."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import islice
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from collector.model import Garden, Reading
from collector.units import UNIT_RULES

ROWS_AT_ONCE = 100_000
SCHEMA = pa.schema(
    [
        ("time_utc", pa.timestamp("ms", tz="UTC")),
        ("probe", pa.string()),
        ("quantity", pa.string()),
        ("depth_cm", pa.float64()),
        ("value", pa.float64()),
        ("unit", pa.string()),
        ("raw", pa.float64()),
        ("flags", pa.string()),
    ]
)


def write_parquet(readings: Iterable[Reading], garden: Garden, path: Path) -> int:
    """Write them in the order given, a portion at a time; answers how many there were. Raises OSError."""
    probes = {probe.id: probe for probe in garden.probes}
    units = {probe.id: UNIT_RULES[probe.quantity].unit for probe in garden.probes}
    count, several = 0, iter(readings)
    with pq.ParquetWriter(path, SCHEMA, compression="zstd") as writer:
        while some := list(islice(several, ROWS_AT_ONCE)):
            columns = [
                [one.measured_ms for one in some],
                [one.probe_id for one in some],
                [probes[one.probe_id].quantity.value for one in some],
                [None if (depth_m := probes[one.probe_id].depth_m) is None else round(depth_m * 100, 7) for one in some],
                [one.value for one in some],
                [units[one.probe_id] for one in some],
                [one.raw for one in some],
                [one.flags.words for one in some],
            ]
            writer.write_table(
                pa.table([pa.array(column, kind) for column, kind in zip(columns, SCHEMA.types, strict=True)], SCHEMA)
            )
            count += len(some)
    return count
