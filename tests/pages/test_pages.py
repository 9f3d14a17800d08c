"""Every page in a browser: quiet, self-contained, whole at each width, in the dark, on paper, and without scripts."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from shoplib.reports.drawing import DARK

from .conftest import Browser, Opened

At = Callable[..., Any]

HOSTILE_TAGS = "img[src='x'], [onerror], main script:not([type='application/json']), iframe, object, embed, form"
CUT = """() => [...document.querySelectorAll('.plot')].flatMap(plot => {
  const box = plot.getBoundingClientRect();
  return [...plot.querySelectorAll('svg text')].filter(text => {
    const own = text.getBoundingClientRect();
    return own.width && (own.left < box.left - 1 || own.right > box.right + 1 || own.top < box.top - 1 || own.bottom > box.bottom + 1);
  }).map(text => plot.id + ': ' + text.textContent);
})"""
OVERLAPS = """() => [...document.querySelectorAll('.plot')].flatMap(plot => {
  const texts = [...plot.querySelectorAll('svg text')].map(text => [text.textContent, text.getBoundingClientRect()]).filter(([, box]) => box.width);
  return texts.flatMap(([one, a], at) => texts.slice(at + 1)
    .filter(([, b]) => Math.min(a.right, b.right) - Math.max(a.left, b.left) > 3 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 5)
    .map(([two]) => plot.id + ': ' + one + ' / ' + two));
})"""
SMALL = """() => [...document.querySelectorAll('input, button, summary, .sort[role=button], select')].filter(part => {
  const box = part.getBoundingClientRect();
  return box.width && (box.width < 24 || box.height < 24);
}).map(part => part.outerHTML.slice(0, 80))"""
FILLS = """() => [...document.querySelectorAll('.plot svg path, .plot svg text')].flatMap(part => {
  const style = getComputedStyle(part);
  return [style.fill, style.stroke].filter(colour => colour.startsWith('rgb('));
})"""


def rgb(colour: str) -> str:
    return f"rgb({int(colour[1:3], 16)}, {int(colour[3:5], 16)}, {int(colour[5:7], 16)})"


def test_a_page_says_nothing_and_asks_for_nothing(page_file: Path, shared: Opened) -> None:
    """No console message, no error, no dialog, no request but for itself."""
    assert (shared.said, shared.asked) == ([], [page_file.as_uri()])


def test_every_chart_is_drawn(at: At) -> None:
    """Each box holds plotly's drawing."""
    page = at()
    empty = page.evaluate("[...document.querySelectorAll('.plot')].filter(plot => !plot.querySelector('.main-svg')).map(plot => plot.id)")
    assert empty == []


@pytest.mark.parametrize("width", [320, 700, 1280])
def test_a_page_never_scrolls_sideways(at: At, width: int) -> None:
    """Wide tables scroll in their own box."""
    page = at(width)
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("width", [360, 1280])
def test_no_text_of_a_chart_is_cut(at: At, width: int) -> None:
    """All of it lies inside its box."""
    assert at(width).evaluate(CUT) == []


@pytest.mark.parametrize("width", [390, 1280])
def test_no_two_texts_of_a_chart_stand_on_each_other(at: At, width: int) -> None:
    """Labels have room."""
    assert at(width).evaluate(OVERLAPS) == []


def test_text_from_the_data_is_inert(at: At) -> None:
    """Order ids that look like HTML show as text; the demo holds some."""
    assert at().locator(HOSTILE_TAGS).count() == 0


def test_a_hostile_name_shows_as_text(folder: Path, browser: Browser) -> None:
    """In table and chart."""
    page = browser.open(next(folder.glob("*/gallery.html"))).page
    assert page.locator("td, th").get_by_text("<img src=x onerror=alert(1)>").count() >= 1
    assert page.evaluate(
        "[...document.querySelectorAll('#fig-finish svg text')].some(text => text.textContent === '<img src=x onerror=alert(1)>')"
    )


def test_axe_finds_nothing_serious(at: At) -> None:
    """WCAG 2 A and AA, contrast among it."""
    assert serious(at()) == []


def test_axe_finds_nothing_serious_in_the_dark(folder: Path, browser: Browser) -> None:
    """The dark palette is the same on every page; the gallery shows all of it."""
    assert serious(browser.open(next(folder.glob("*/gallery.html")), dark=True).page) == []


def serious(page: Any) -> list[str]:
    """Return what axe calls serious or critical on a page."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is not installed: accessibility is not checked")
    found = axe.Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]}).response["violations"]
    return [f"{one['id']}: {one['nodes'][0]['html'][:120]}" for one in found if one["impact"] in ("serious", "critical")]


@pytest.mark.parametrize("width", [390, 1280])
def test_what_is_tapped_is_large_enough(at: At, width: int) -> None:
    """24 px each way (WCAG 2.2, 2.5.8)."""
    assert at(width).evaluate(SMALL) == []


def test_headings_descend_without_a_gap(at: At) -> None:
    """One H1; no H3 without an H2."""
    page = at()
    levels = page.evaluate("[...document.querySelectorAll('h1,h2,h3,h4')].filter(one => !one.hidden).map(one => Number(one.tagName[1]))")
    assert levels.count(1) == 1 and all(later - earlier <= 1 for earlier, later in zip(levels, levels[1:], strict=False))


def test_a_page_in_the_dark_has_dark_colours_alone(at: At) -> None:
    """Every colour of a chart is the palette's dark one."""
    used = set(at(dark=True).evaluate(FILLS))
    assert used <= {rgb(colour) for colour in DARK.values()} | {"rgb(0, 0, 0)"}


def test_a_page_without_scripts_keeps_its_tables(page_file: Path, browser: Browser) -> None:
    """Empty boxes and controls that do nothing are gone."""
    page = browser.open(page_file, scripts=False).page
    assert page.locator(".plot:visible, .control:visible, .find:visible").count() == 0
    assert page.locator("table").count() > 0


def test_the_first_sheet_holds_the_answer_and_the_first_chart(at: At, tmp_path: Path) -> None:
    """Headline, key figures and the first message are on page 1 of A4."""
    page = at()
    first = pages_of(page, tmp_path, "A4", flowing=True)[0]
    wanted = [
        page.locator(".headline").inner_text(),
        *page.locator(".figures .name").all_inner_texts(),
        page.locator("h3:visible").first.inner_text(),
    ]
    assert [text for text in wanted if plain(text) not in plain(first)] == []


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_no_sheet_ends_with_a_heading(at: At, tmp_path: Path, paper: str) -> None:
    """What it heads comes with it."""
    page = at()
    headings = set(map(plain, page.locator("h2:visible, h3:visible").all_inner_texts()))
    ends = [plain(line) for sheet in pages_of(page, tmp_path, paper) for line in sheet.strip().splitlines()[-3:-1]]
    assert [line for line in ends if line in headings] == []


def test_each_sheet_says_whose_it_is_and_which(at: At, tmp_path: Path) -> None:
    """Date and page number at the foot."""
    sheets = pages_of(at(), tmp_path, "A4")
    assert [number for number, sheet in enumerate(sheets, 1) if not re.search(rf"\b{number} ?/ ?{len(sheets)}\b", sheet)] == []


def pages_of(page: Any, folder: Path, paper: str, flowing: bool = False) -> list[str]:
    """Return the text of each printed sheet, as it is laid out or as it flows."""
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed: printed sheets are not checked")
    page.emulate_media(media="print", color_scheme="light")
    page.pdf(path=folder / "page.pdf", format=paper)
    text = subprocess.run(
        ["pdftotext", *([] if flowing else ["-layout"]), str(folder / "page.pdf"), "-"], capture_output=True, text=True, check=True
    ).stdout
    page.emulate_media(media="screen")
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    return text.split("\f")[:-1]


def plain(text: str) -> str:
    """Return a text without spaces and hyphens of any kind, for sheets break lines where they must."""
    return re.sub(r"[\s\u00a0\u00ad-]+", "", text)


def test_a_page_is_small(page_file: Path) -> None:
    """Its own part, without plotly.js, stays under 300 kB."""
    text = page_file.read_text("utf-8")
    assert len(text.encode()) - max(len(script.encode()) for script in re.findall("<script>(.*?)</script>", text, re.S)) < 300_000


def test_a_page_names_no_other_place(page_file: Path) -> None:
    """No link, script, style or picture from elsewhere."""
    assert (
        re.findall(
            r'(?:src|href|url\()\s*=?\s*["\']?(?:https?:)?//[^"\' )]+',
            re.sub("<script>.*?</script>", "", page_file.read_text("utf-8"), flags=re.S),
        )
        == []
    )
