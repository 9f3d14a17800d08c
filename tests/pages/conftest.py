"""Every page there is, made once: the gallery, a failed report, each report of the demo workshop, and their indexes.

Drawn in headless Chromium; without one these tests skip, and say so.
"""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from shoplib.reports.discover import reports
from shoplib.reports.run import Request, run
from shoplib.reports.terminal import Terminal
from tests.reports.runs import ROOT, kernels_find_samples, made, small_shop

playwright = pytest.importorskip("playwright.sync_api", reason="no browser driver: page tests are skipped")

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
SWITCHES = [
    "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--disable-background-networking", "--disable-component-update",
    "--disable-default-apps", "--disable-sync", "--no-first-run", "--force-color-profile=srgb",
]  # fmt: skip
NAMES = ["gallery", *(one.name for one in reports())]
AT_WIDTH = "[...document.querySelectorAll('.plot')].every(plot => !plot.clientWidth || Math.abs(plot.querySelector('.main-svg').clientWidth - plot.clientWidth) < 1)"
DRAWN = "[...document.querySelectorAll('.plot')].every(plot => !plot.clientWidth || plot.querySelector('.main-svg'))"


def settled(page: playwright.Page, condition: str) -> None:
    """Wait until `condition` holds; asked from outside, for the page's policy lets nothing be evaluated inside."""
    end = time.monotonic() + 30
    while not page.evaluate(condition):
        assert time.monotonic() < end, f"not within 30 s: {condition}"
        time.sleep(0.05)


@dataclass
class Opened:
    """A page that is open, what it said and what it asked for."""

    page: playwright.Page
    said: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)


class Browser:
    """Opens pages, one context each."""

    def __init__(self, browser: playwright.Browser) -> None:
        self._browser = browser
        self._open: list[playwright.BrowserContext] = []

    def open(self, file: Path, width: int = 1280, height: int = 900, dark: bool = False, scripts: bool = True) -> Opened:
        """Open a file and wait until its charts are drawn."""
        context = self._browser.new_context(
            viewport={"width": width, "height": height}, color_scheme="dark" if dark else "light", java_script_enabled=scripts, offline=True
        )
        self._open.append(context)
        opened = Opened(context.new_page())
        opened.page.on("console", lambda message: opened.said.append(message.text))
        opened.page.on("pageerror", lambda error: opened.said.append(str(error)))
        opened.page.on("dialog", lambda dialog: (opened.said.append(f"dialog {dialog.message}"), dialog.dismiss()))
        opened.page.on("request", lambda request: opened.asked.append(request.url))
        opened.page.goto(file.as_uri())
        if scripts:
            settled(opened.page, DRAWN)
        return opened

    def close(self) -> None:
        """Close what is open."""
        for context in self._open:
            context.close()
        self._open.clear()


@pytest.fixture(scope="session")
def _driver() -> Iterator[playwright.Browser]:
    program = next(filter(None, map(shutil.which, BROWSERS)), None)
    if program is None:
        pytest.skip("no Chromium on this machine: page tests are skipped")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=program, args=SWITCHES)
        yield browser
        browser.close()


@pytest.fixture
def browser(_driver: playwright.Browser) -> Iterator[Browser]:
    opener = Browser(_driver)
    yield opener
    opener.close()


@pytest.fixture(scope="session")
def folder(_driver: playwright.Browser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with every page: the demo's reports, the gallery and a report that failed."""
    home = tmp_path_factory.mktemp("pages")
    with kernels_find_samples(home / "cache"):
        made(small_shop(home / "shop"), home / "out", "gallery", "fails")
        run(Request(ROOT / "data_demo", home / "out"), Terminal(quiet=True, bar=None))
    return home / "out"


@pytest.fixture(scope="session", params=NAMES)
def page_file(request: pytest.FixtureRequest, folder: Path) -> Path:
    """The page of each report in turn."""
    file = next(folder.glob(f"????-??-??/{request.param}.html"), None)
    assert file is not None, f"{request.param} was not made"
    return file


@pytest.fixture(scope="session")
def shared(_driver: playwright.Browser, page_file: Path) -> Iterator[Opened]:
    """The page, opened once for all tests that only look at it; `at` gives it its width and colours."""
    opener = Browser(_driver)
    yield opener.open(page_file)
    opener.close()


@pytest.fixture
def at(shared: Opened) -> Callable[..., playwright.Page]:
    """Give the page at a width, in light or dark, on screen or paper, its charts drawn anew."""

    def show(width: int = 1280, dark: bool = False) -> playwright.Page:
        shared.page.emulate_media(media="screen", color_scheme="dark" if dark else "light")
        if shared.page.viewport_size != {"width": width, "height": 900}:
            shared.page.set_viewport_size({"width": width, "height": 900})
        settled(shared.page, AT_WIDTH)
        return shared.page

    return show
