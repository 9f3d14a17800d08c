"""Hostile text in every text column, in shop.toml and in file names: nothing executes in page, workbook, list, index or terminal."""

from __future__ import annotations

import csv
import re
import unicodedata
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from shoplib.reports.lists import RISKY
from tests.pages.conftest import Browser, chromium
from tests.reports.runs import kernels_find_samples

from .hostile import ELSEWHERE, write_hostile
from .kills import COMMAND, begin

REPORTS = ("margin", "throughput", "lead_time", "hiring", "price_sensitivity", "metal_balance", "monthly_review")
INJECTED = (
    "img[src='x'], [onerror], [onload], main script:not([type='application/json']), iframe, object, embed, form, base, link[rel=stylesheet], "
    f"main style, meta[http-equiv=refresh], main a[href*='{ELSEWHERE}'], a[href^='javascript']"
)


@dataclass(frozen=True)
class Attacked:
    """The run of a hostile shop: where it wrote, its exit code, and all it said."""

    out: Path
    code: int
    said: str


@pytest.fixture(scope="module")
def attacked(tmp_path_factory: pytest.TempPathFactory, shared_cache: Path) -> Attacked:
    home = tmp_path_factory.mktemp("hostile")
    shop = home / "<img src=x onerror=alert(10)> \x1b[31m"
    shop.mkdir()
    write_hostile(shop)
    with kernels_find_samples(shared_cache):
        run = begin(COMMAND, shop, home / "out <b>", "-v")
        said = b"".join(run.communicate()).decode()
    return Attacked(home / "out <b>", run.returncode, said)


def test_every_report_is_made(attacked: Attacked) -> None:
    """Odd names are names."""
    assert (attacked.code, sorted(file.stem for file in attacked.out.glob("????-??-??/*.json"))) == (0, sorted(REPORTS)), attacked.said[
        -2000:
    ]


def test_the_terminal_gets_no_control_and_no_direction_signs(attacked: Attacked) -> None:
    """Neither escape sequences nor signs that turn the line round."""
    assert [sign for sign in set(attacked.said) if unicodedata.category(sign) in ("Cc", "Cf") and sign != "\n"] == []


def test_nothing_is_written_elsewhere(attacked: Attacked) -> None:
    """Names with dots and slashes lead nowhere."""
    assert sorted(file.name for file in attacked.out.parent.iterdir()) == ["<img src=x onerror=alert(10)> \x1b[31m", "out <b>"]


def test_no_cell_of_a_workbook_is_a_formula_or_a_link(attacked: Attacked) -> None:
    """Text is text."""
    found = []
    for file in attacked.out.rglob("*.xlsx"):
        with zipfile.ZipFile(file) as book:
            for sheet in (name for name in book.namelist() if name.startswith("xl/worksheets/")):
                content = re.sub(rb"<is>.*?</is>", b"", book.read(sheet), flags=re.S)
                found += [f"{file.name} {sheet}" for part in (b"<f>", b"<f ", b"<hyperlink ") if part in content]
    assert found == []


def test_no_cell_of_a_list_begins_a_formula(attacked: Attacked) -> None:
    """A spreadsheet that opens the two lists computes nothing."""
    cells = [cell for file in attacked.out.glob("*.csv") for row in csv.reader(file.open(encoding="utf-8", newline="")) for cell in row]
    assert len(cells) > 500 and [cell for cell in cells if cell.startswith(RISKY)] == []


@pytest.fixture
def browser() -> Iterator[Browser]:
    """A browser that is gone before the tests of other folders start theirs."""
    with chromium() as driver:
        yield Browser(driver)


def test_pages_and_index_stay_inert(attacked: Attacked, browser: Browser) -> None:
    """No dialog, no message, no request, no element that the data brought."""
    wrong = []
    for file in sorted(attacked.out.rglob("*.html")):
        opened = browser.open(file)
        injected = opened.page.locator(INJECTED).count()
        if opened.said or opened.asked != [file.as_uri()] or injected or "36481" in opened.page.inner_text("body").replace(",", ""):
            wrong.append((file.name, opened.said, opened.asked[1:], injected))
        browser.close()
    assert wrong == []


def test_an_error_is_told_in_signs_that_can_be_printed(tmp_path: Path) -> None:
    """A currency that is an escape sequence stops the run; the message does not move the cursor."""
    shop = tmp_path / "shop"
    shop.mkdir()
    write_hostile(shop, 40, 4)
    prices = (shop / "metal_prices.csv").read_text("utf-8").splitlines()
    (shop / "metal_prices.csv").write_text("\n".join([prices[0], prices[1].replace("USD", "\x1b[2J\u202eUSD"), *prices[2:]]), "utf-8")
    run = begin(COMMAND, shop, tmp_path / "out", "margin")
    said = run.communicate()[1].decode()
    assert run.returncode == 2 and [sign for sign in said if unicodedata.category(sign) in ("Cc", "Cf") and sign != "\n"] == []
