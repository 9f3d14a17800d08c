"""The two lists of the price report that hang at the bench: each on one sheet of its own, A4 and Letter."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from .conftest import Browser

LISTS = {"t-quote_sheet": "What to quote on", "t-new_list": "The new price list on"}
LEAST_POINTS = 7.5
"""Smallest type that is read at arm's length (common practice, no source)."""


@pytest.fixture(scope="module")
def prices(folder: Path) -> Path:
    """The page of the demo's price report: 60 lines."""
    return next(folder.glob("????-??-??/price_sensitivity.html"))


def printed(page: object, paper: str, folder: Path) -> list[str]:
    """Return the text of each sheet."""
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed: printed sheets are not checked")
    file = folder / f"{paper}.pdf"
    page.emulate_media(media="print")
    page.pdf(path=file, format=paper)
    return subprocess.run(["pdftotext", "-layout", str(file), "-"], capture_output=True, text=True, check=True).stdout.split("\f")[:-1]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("table", list(LISTS))
def test_a_list_is_one_sheet_and_nothing_else_is_on_it(prices: Path, browser: Browser, tmp_path: Path, paper: str, table: str) -> None:
    """Caption, all lines and the note under them, and no other caption, stand on one sheet."""
    page = browser.open(prices).page
    lines = page.locator(f"#{table} tbody tr").count()
    note = page.locator(f".table:has(#{table}) ~ p.small").inner_text().split()
    captions = [text for text in page.locator("caption").all_inner_texts() if not text.startswith(LISTS[table])]
    sheets = [sheet for sheet in printed(page, paper, tmp_path) if LISTS[table] in sheet]
    assert [sum(" · " in line and " mm" in line for line in sheet.splitlines()) for sheet in sheets] == [lines]
    assert " ".join(note[-5:]) in " ".join(sheets[0].split()) and not [text for text in captions if text in sheets[0]]


@pytest.mark.parametrize("table", list(LISTS))
def test_a_list_is_legible(prices: Path, browser: Browser, table: str) -> None:
    """Its type is no smaller than 7.5 points."""
    page = browser.open(prices).page
    page.emulate_media(media="print")
    pixels = page.evaluate(f"parseFloat(getComputedStyle(document.querySelector('#{table} td')).fontSize)")
    assert pixels * 72 / 96 >= LEAST_POINTS


def test_columns_for_paper_are_not_on_the_screen(prices: Path, browser: Browser) -> None:
    """Grams a centimetre, length and hours show on paper only; the screen keeps eight columns."""
    page = browser.open(prices).page
    shown = page.locator("#t-quote_sheet thead th:visible").count()
    page.emulate_media(media="print")
    assert (shown, page.locator("#t-quote_sheet thead th:visible").count()) == (8, 11)
