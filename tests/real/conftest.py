"""The real things of these tests: a Mosquitto on a free loopback port, and a Chromium."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from tests.real.mosquitto import Mosquitto, missing

# No look-up of hosts and no updates in the background: the pages are all on this machine.
QUIET_FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"]
QUIET_FLAGS += ["--disable-component-update", "--disable-sync"]


@pytest.fixture
def mosquitto(tmp_path: Path) -> Iterator[Mosquitto]:
    why = missing()
    if why:
        pytest.skip(why)
    with Mosquitto(tmp_path) as broker:
        yield broker


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    path = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if path is None:
        pytest.skip("Chromium is not installed; on Debian: apt-get install chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, headless=True, args=QUIET_FLAGS)
        yield browser
        browser.close()


def handed_over(page: Page) -> Page:
    """The page, once what stood there at first is gone: a test that means dash must not meet the other."""
    page.locator(".at-first").wait_for(state="detached")
    return page
