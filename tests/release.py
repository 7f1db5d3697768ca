"""A release, tried as somebody would who has nothing but the wheel: `python -m tests.release` (`make release`).

It builds the wheel, installs it with what it needs into an environment of its own, away from the sources, and runs the
simulated garden from it until a page shows a bed and readings; then it ends it as Ctrl-C does, and looks at what is left.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import urllib.request
import venv
import zipfile
from pathlib import Path

from tests.real.mosquitto import free_port, wait_until

ROOT = Path(__file__).parent.parent
# What has to be in it, beside every module; and what may not.
IN_IT = ("dashboard/assets/base.css", "dashboard/assets/overpass-latin.woff2", "collector/py.typed")
NOT_IN_IT = ("tests/", "firmware_notes/", "pictures/", ".ci/")


def built(folder: Path) -> Path:
    """The wheel, made from the sources as they are."""
    call = [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", str(folder), str(ROOT)]
    subprocess.run(call, check=True)
    (wheel,) = folder.glob("cooldepth-*.whl")
    names = zipfile.ZipFile(wheel).namelist()
    missing = [name for name in IN_IT if name not in names]
    missing += [one for one in map(str, (path.relative_to(ROOT) for path in modules())) if one not in names]
    assert not missing, missing
    assert not [name for name in names if name.startswith(NOT_IN_IT)]
    assert any("OFL" in name or "Overpass-LICENSE" in name for name in names), "the typeface's licence goes with it"
    return wheel


def modules() -> list[Path]:
    """Every module of the program."""
    return [path for package in ("collector", "dashboard") for path in (ROOT / package).rglob("*.py")]


def main() -> None:
    """Raises AssertionError where the wheel alone does not do."""
    with tempfile.TemporaryDirectory(prefix="release-") as place:
        folder = Path(place)
        wheel = built(folder)
        venv.create(folder / "venv", with_pip=True)
        program = folder / "venv" / "bin" / "cooldepth"
        pins = ["--constraint", str(ROOT / ".ci" / "constraints.txt")]
        install = [str(program.with_name("pip")), "install", "--quiet", "--disable-pip-version-check", *pins, f"{wheel}[keys]"]
        subprocess.run(install, check=True)
        environ = {"PATH": os.environ["PATH"], "HOME": str(folder)}

        def run(*words: str) -> str:
            call = [str(program), *words]
            return subprocess.run(call, env=environ, cwd=folder, capture_output=True, text=True, check=True).stdout

        assert "demo" in run("--help")
        assert "made keys/broker/broker.crt" in run("keys", "--into", "keys")
        port, log = free_port(), folder / "log"
        with log.open("w") as out:
            call = [program, "demo", "--port", str(port), "--folder", str(folder / "garden")]
            demo = subprocess.Popen(call, env=environ, cwd=folder, stdout=out, stderr=out)
        try:

            def shows() -> bool:
                try:
                    page = urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=5).read().decode()
                except OSError:
                    return False
                return "Simulated garden" in page and "°C" in page

            wait_until(shows, 180)
        finally:
            demo.send_signal(signal.SIGINT)
            status = demo.wait(60)
        said = log.read_text()
        assert "Traceback" not in said, said[-2000:]
        assert status == 0, said[-2000:]
        print(f"{wheel.name}: builds, installs alone, makes its keys, and runs the simulated garden")  # noqa: T201


if __name__ == "__main__":
    main()
