"""Payloads that a fuzzer finds by watching which lines of the decoders they reach: `python -m tests.crash.guided RUNS`.

With atheris (coverage-guided, libFuzzer), where it is installed: it has wheels for some machines only. What is found is
printed with the payload, and the process ends with a status that is not 0.
"""

from __future__ import annotations

import importlib.util
import subprocess
import sys
import tempfile
from pathlib import Path


def guided(runs: int) -> str:
    """So many payloads in a process of its own, since libFuzzer ends the one it runs in."""
    if importlib.util.find_spec("atheris") is None:
        return "guided payloads: not tried, atheris is not installed here"
    from tests.crash.fuzz import GOOD

    with tempfile.TemporaryDirectory(prefix="guided-") as name:
        for number, payload in enumerate(GOOD):
            (Path(name) / f"good-{number}").write_bytes(payload)
        call = [sys.executable, "-m", "tests.crash.guided", f"-runs={runs}", "-max_len=2048", "-timeout=5", name]
        ended = subprocess.run(call, capture_output=True, text=True, check=False)
    assert ended.returncode == 0, ended.stderr[-4000:]
    return f"{runs} guided payloads: none broke a decoder, none took long"


def fuzz() -> None:
    """Take over this process."""
    import atheris

    with atheris.instrument_imports(include=["collector.decode"]):
        from collector.decode import lines, senml
        from collector.errors import DecodeError

    def one(payload: bytes) -> None:
        try:
            records = senml.resolve(lines.without_check(payload))
        except DecodeError:
            return
        assert records, "a pack without a record is none"
        found, rest = lines.take_lines(lines.NOTHING, payload)
        whole = [line for line in (each.removesuffix(b"\r") for each in payload.split(b"\n")) if line]
        assert [each.head for each in (*found, *lines.whole(rest))] == whole

    atheris.Setup(sys.argv, one)
    atheris.Fuzz()


if __name__ == "__main__":
    fuzz()
