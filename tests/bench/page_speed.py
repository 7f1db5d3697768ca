"""How soon the pages are there, in a real Chromium with nothing in its cache, over a season of 12.7 million readings.

python -m tests.bench.page_speed FOLDER

FOLDER is that of `store_speed`, which makes the season. Medians of five visits, each in a browser of its own, beside a bare
page of Dash with one empty graph on the same machine. The pages are served as `cooldepth serve` does, by a process that has
answered once before; what it does the first time is told apart.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

from tests.bench.store_speed import END_MS, garden
from tests.real.conftest import QUIET_FLAGS
from tests.real.mosquitto import free_port, wait_until

VISITS = 5
PHONE = {"width": 390, "height": 844}
BARE = """
import sys
from dash import Dash, dcc, html
from waitress import serve
app = Dash("bare")
app.layout = html.Div([html.H1("bare"), dcc.Graph(figure={"data": [], "layout": {}})])
serve(app.server, host="127.0.0.1", port=int(sys.argv[1]), threads=8)
"""


def garden_file(folder: Path) -> Path:
    """The garden of the season as a file."""
    whole = garden(folder)
    lines = [
        f'[garden]\nname = "{whole.name}"\nlatitude_deg = {whole.latitude_deg}\nlongitude_deg = {whole.longitude_deg}',
        'timezone = "UTC"\n[store]\npath = "garden.db"',
    ]
    for bed in whole.beds:
        (planting,) = bed.plantings
        lines.append(
            f'[[bed]]\nid = "{bed.id}"\nname = "{bed.name}"\narea_m2 = {bed.area_m2}\nsoil = "{bed.soil}"\n'
            f'cool_limit_c = {bed.cool_limit_c}\n[[bed.planting]]\nvariety = "{planting.variety}"\nplants = {planting.plants}\n'
            f"planted = {planting.planted}\ndepth_cm = {100 * planting.depth_m:g}"
        )
        lines += [
            f'[[bed.probe]]\nid = "{one.id}"\nquantity = "{one.quantity}"\ndepth_cm = {100 * (one.depth_m or 0.0):g}\n'
            f'address = "{one.address}"'
            for one in bed.probes
        ]
    path = folder / "garden.toml"
    path.write_text("\n".join(lines) + "\n")
    return path


@contextmanager
def serving(call: list[str], port: int, environment: dict[str, str] | None = None) -> Iterator[tuple[str, int]]:
    """A server in a process of its own, up while this is open: its address, and the number of the process."""
    process = subprocess.Popen(call, env={**os.environ, **(environment or {})}, stderr=subprocess.DEVNULL)
    base = f"http://127.0.0.1:{port}"

    def answers() -> bool:
        try:
            return bool(urllib.request.urlopen(base + "/", timeout=5).status == 200)
        except OSError:
            return False

    try:
        wait_until(answers, 30)
        yield base, process.pid
    finally:
        process.terminate()
        process.wait(timeout=10)


@contextmanager
def served(file: Path) -> Iterator[tuple[str, int]]:
    """The pages of a garden file, on a clock that stands at the end of the season and goes on from there."""
    port, clock = free_port(), {"COOLDEPTH_SIMULATED_CLOCK": f"{END_MS},{round(time.time() * 1000)},1"}
    with serving([sys.executable, "-m", "dashboard", "--garden", str(file), "--port", str(port)], port, clock) as found:
        yield found


def visit(browser: Browser, address: str, there: str, state: str = "visible") -> tuple[float, float]:
    """How long until that is there [s], and what came over the wire [MB]."""
    context = browser.new_context(viewport=PHONE)
    page = context.new_page()
    wire = context.new_cdp_session(page)
    wire.send("Network.enable")
    came: list[float] = []
    wire.on("Network.loadingFinished", lambda event: came.append(event["encodedDataLength"]))
    began = time.perf_counter()
    page.goto(address, wait_until="commit")
    page.wait_for_selector(there, state=state)  # type: ignore[arg-type]
    took_s = time.perf_counter() - began
    page.wait_for_load_state("networkidle")
    context.close()
    return took_s, sum(came) / 1e6


def medians(browser: Browser, address: str, there: str, state: str = "visible") -> tuple[float, float]:
    """The medians of the visits."""
    found = [visit(browser, address, there, state) for _ in range(VISITS)]
    return statistics.median(one[0] for one in found), statistics.median(one[1] for one in found)


def main(folder: Path) -> None:
    """Write a table of it to standard output."""

    def tell(what: str, measured: str, bar: str) -> None:
        print(f"{what:66} {measured:>20}   {bar}", flush=True)  # noqa: T201

    chart = ".temperatures .js-plotly-plot .scatterlayer .js-line"
    bare_port = free_port()
    with sync_playwright() as playwright, serving([sys.executable, "-c", BARE, str(bare_port)], bare_port) as (bare, _):
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=QUIET_FLAGS)
        bare_s, bare_mb = medians(browser, bare, ".js-plotly-plot .main-svg", "attached")
        tell("a bare page with an empty graph", f"{bare_s:.2f} s, {bare_mb:.2f} MB", "")
        with served(garden_file(folder)) as (base, _):
            first_s, _ = visit(browser, base + "/", "main .call, main .fine")
            tell("Today, the first time that the server is asked", f"{first_s:.2f} s", "")
            today_s, today_mb = medians(browser, base + "/", "main .call, main .fine")
            tell("Today, to tap on", f"{today_s:.2f} s, {today_mb:.2f} MB", "under 0.8 s, 1.2 MB")
            for days, name in ((3, "three days"), (30, "a month"), (365, "a year")):
                address = f"{base}/bed/bed3?days={days}"
                first_s, _ = visit(browser, address, chart, "attached")
                bed_s, bed_mb = medians(browser, address, chart, "attached")
                tell(f"Bed with {name}, to its first line, the first time", f"{first_s:.2f} s", "")
                tell("  the same, medians", f"{bed_s:.2f} s, {bed_mb:.2f} MB", "under 1.5 s, 1.2 MB")
        browser.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
