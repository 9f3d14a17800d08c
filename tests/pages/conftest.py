"""Every page there is, made once: the gallery, a failed report, each report of the demo workshop, and their indexes.

Drawn in headless Chromium; without one these tests skip, and say so.
"""

from __future__ import annotations

import shutil
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from shoplib.intake.templates.start import write_start
from shoplib.reports.discover import reports
from shoplib.reports.index import overview
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


@contextmanager
def chromium() -> Iterator[playwright.Browser]:
    """Start a browser, end it behind the block; two at once cannot be in one process."""
    program = next(filter(None, map(shutil.which, BROWSERS)), None)
    if program is None:
        pytest.skip("no Chromium on this machine: page tests are skipped")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=program, args=SWITCHES)
        yield browser
        browser.close()


@pytest.fixture(scope="package")
def _driver() -> Iterator[playwright.Browser]:
    with chromium() as driver:
        yield driver


@pytest.fixture
def browser(_driver: playwright.Browser) -> Iterator[Browser]:
    opener = Browser(_driver)
    yield opener
    opener.close()


@pytest.fixture(scope="package")
def folder(_driver: playwright.Browser, tmp_path_factory: pytest.TempPathFactory, shared_cache: Path) -> Path:
    """A folder with every page: the demo's reports, the gallery, a report that failed, a group's overview, the printable sheets."""
    home = tmp_path_factory.mktemp("pages")
    with kernels_find_samples(shared_cache):
        made(small_shop(home / "shop"), home / "out", "gallery", "fails")
        run(Request(ROOT / "data_demo", home / "out"), Terminal(quiet=True, bar=None))
    shops = [
        ("north", "The north bench (invented)", 0, "Raise curb first: gold stands 4.5% above."),
        ("south", "<b>south", 1, "south: no orders"),
    ]
    (home / "out/group.html").write_text(overview(shops), "utf-8")
    write_start(home / "started")
    for sheet in ("job_card.html", "day_sheet.html"):
        (home / "out" / sheet).write_bytes((home / "started" / sheet).read_bytes())
    return home / "out"


@pytest.fixture(scope="package", params=NAMES)
def page_file(request: pytest.FixtureRequest, folder: Path) -> Path:
    """The page of each report in turn."""
    file = next(folder.glob(f"????-??-??/{request.param}.html"), None)
    assert file is not None, f"{request.param} was not made"
    return file


@pytest.fixture(scope="package")
def shared(_driver: playwright.Browser, page_file: Path) -> Iterator[Opened]:
    """The page, opened once for all tests that only look at it."""
    opener = Browser(_driver)
    yield opener.open(page_file)
    opener.close()


WIDTHS = (320, 390, 700, 1280)
MEASURES = {
    "scroll": "document.documentElement.scrollWidth",
    "cut": """[...document.querySelectorAll('.plot')].flatMap(plot => {
      const box = plot.getBoundingClientRect();
      return [...plot.querySelectorAll('svg text')].filter(text => {
        const own = text.getBoundingClientRect();
        return own.width && (own.left < box.left - 1 || own.right > box.right + 1 || own.top < box.top - 1 || own.bottom > box.bottom + 1);
      }).map(text => plot.id + ': ' + text.textContent);
    })""",
    "overlaps": """[...document.querySelectorAll('.plot')].flatMap(plot => {
      const texts = [...plot.querySelectorAll('svg text')].map(text => [text.textContent, text.getBoundingClientRect()]).filter(([, box]) => box.width);
      return texts.flatMap(([one, a], at) => texts.slice(at + 1)
        .filter(([, b]) => Math.min(a.right, b.right) - Math.max(a.left, b.left) > 3 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 5)
        .map(([two]) => plot.id + ': ' + one + ' / ' + two));
    })""",
    "small": """[...document.querySelectorAll('input, button, summary, .sort[role=button], select')].filter(part => {
      const box = part.getBoundingClientRect();
      return box.width && (box.width < 24 || box.height < 24);
    }).map(part => part.outerHTML.slice(0, 80))""",
}
"""What is measured at each width: how wide the page is, texts of charts that are cut or stand on each other, targets too small to tap."""


@pytest.fixture(scope="package")
def measured(shared: Opened) -> dict[tuple[int, str], Any]:
    """Every measure of the page at every width."""
    found = {}
    for width in WIDTHS:
        shared.page.set_viewport_size({"width": width, "height": 900})
        settled(shared.page, AT_WIDTH)
        found |= {(width, name): shared.page.evaluate(measure) for name, measure in MEASURES.items()}
    return found


@pytest.fixture(scope="package")
def sheets(shared: Opened, measured: object, tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[str]]:
    """The text of each printed sheet, on A4 and on Letter."""
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed: printed sheets are not checked")
    file = tmp_path_factory.mktemp("paper") / "page.pdf"
    found = {}
    for paper in ("A4", "Letter"):
        shared.page.emulate_media(media="print")
        shared.page.pdf(path=file, format=paper)
        text = subprocess.run(["pdftotext", str(file), "-"], capture_output=True, text=True, check=True).stdout
        found[paper] = text.split("\f")[:-1]
    shared.page.emulate_media(media="screen")
    shared.page.evaluate("dispatchEvent(new Event('afterprint'))")
    return found
