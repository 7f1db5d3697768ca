"""Pictures of every page of the simulated garden, at both widths, into a folder that git ignores: `make pictures`.

python -m tests.bench.pictures [FOLDER]
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import urllib.error
import urllib.request
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.real.conftest import QUIET_FLAGS
from tests.real.mosquitto import free_port, wait_until

WIDTHS = {390: 844, 1440: 900}
PAGES = {
    "today": "/",
    "beds": "/beds",
    "bed": "/bed/kiln?days=7",
    "bed-year": "/bed/kiln?days=365",
    "what-if": "/what-if?bed=kiln",
    "season": "/season",
    "compare": "/compare",
    "mounting": "/mounting?bed=kiln",
    "feed": "/feed",
    "journal": "/journal?bed=kiln&deed=counted",
    "stakes": "/stakes",
    "notices": "/notices",
    "last-known": "/last-known",
}
# Until the demo has learned its beds and called for something.
SETTLED_MS = 60_000


def main(folder: Path) -> None:
    """Start the demo, take the pictures, end it."""
    folder.mkdir(exist_ok=True)
    port = free_port()
    with tempfile.TemporaryDirectory(prefix="pictures-") as name, sync_playwright() as playwright:
        call = [sys.executable, "-m", "collector", "demo", "--port", str(port), "--folder", f"{name}/garden"]
        demo = subprocess.Popen(call, stderr=subprocess.DEVNULL)
        try:
            wait_until(lambda: _answers(f"http://127.0.0.1:{port}/health"), 120)
            browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=QUIET_FLAGS)
            for mode in ("light", "dark"):
                for width, height in WIDTHS.items():
                    page = browser.new_context(viewport={"width": width, "height": height}, color_scheme=mode).new_page()  # type: ignore[arg-type]
                    page.wait_for_timeout(SETTLED_MS if (mode, width) == ("light", 390) else 0)
                    for what, path in PAGES.items():
                        page.goto(f"http://127.0.0.1:{port}{path}")
                        page.locator(".at-first").wait_for(state="detached")
                        page.wait_for_selector("main h1")
                        page.wait_for_load_state("networkidle")
                        page.wait_for_timeout(1500)
                        page.screenshot(path=folder / f"{what}-{width}-{mode}.png", full_page=True)
            browser.close()
        finally:
            demo.terminate()
            demo.wait(timeout=20)
    print(f"{folder}: {len(list(folder.glob('*.png')))} pictures")  # noqa: T201


def _answers(address: str) -> bool:
    try:
        urllib.request.urlopen(address, timeout=5).close()
    except urllib.error.HTTPError:
        return True
    except OSError:
        return False
    return True


if __name__ == "__main__":
    main(Path(sys.argv[1] if len(sys.argv) > 1 else "pictures"))
