"""Every page in a browser: quiet, self-contained, whole at each width, in the dark, on paper, and without scripts."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from shoplib.reports.drawing import DARK

from .conftest import WIDTHS, Browser, Opened, settled

Measured = dict[tuple[int, str], Any]
Sheets = dict[str, list[str]]

HOSTILE_TAGS = "img[src='x'], [onerror], main script:not([type='application/json']), iframe, object, embed, form"
DARK_DRAWN = "[...document.querySelectorAll('.plot .main-svg')].every(drawn => drawn.style.background in {'': 0, 'rgb(21, 24, 28)': 0})"
FILLS = """() => [...document.querySelectorAll('.plot svg path, .plot svg text')].flatMap(part => {
  const style = getComputedStyle(part);
  return [style.fill, style.stroke].filter(colour => colour.startsWith('rgb('));
})"""


def rgb(colour: str) -> str:
    return f"rgb({int(colour[1:3], 16)}, {int(colour[3:5], 16)}, {int(colour[5:7], 16)})"


@pytest.fixture(params=["index.html", "group.html", "failed/fails.html", "job_card.html", "day_sheet.html"])
def others(request: pytest.FixtureRequest, folder: Path) -> Path:
    """The pages that are no report: lists, a failure, the sheets that `start` leaves."""
    return folder / str(request.param)


def test_a_page_says_nothing_and_asks_for_nothing(page_file: Path, shared: Opened) -> None:
    """No console message, no error, no dialog, no request but for itself."""
    assert (shared.said, shared.asked) == ([], [page_file.as_uri()])


def test_every_chart_is_drawn(shared: Opened) -> None:
    """Each box holds plotly's drawing."""
    empty = "[...document.querySelectorAll('.plot')].filter(plot => !plot.querySelector('.main-svg')).map(plot => plot.id)"
    assert shared.page.evaluate(empty) == []


@pytest.mark.parametrize("width", WIDTHS)
def test_a_page_never_scrolls_sideways(measured: Measured, width: int) -> None:
    """Wide tables scroll in their own box."""
    assert measured[width, "scroll"] <= width


@pytest.mark.parametrize("width", WIDTHS)
def test_no_text_of_a_chart_is_cut(measured: Measured, width: int) -> None:
    """All of it lies inside its box."""
    assert measured[width, "cut"] == []


@pytest.mark.parametrize("width", WIDTHS[1:])
def test_no_two_texts_of_a_chart_stand_on_each_other(measured: Measured, width: int) -> None:
    """Labels have room."""
    assert measured[width, "overlaps"] == []


def test_text_from_the_data_is_inert(shared: Opened) -> None:
    """Order ids that look like HTML show as text; the demo holds some."""
    assert shared.page.locator(HOSTILE_TAGS).count() == 0


def test_a_hostile_name_shows_as_text(folder: Path, browser: Browser) -> None:
    """In table and chart."""
    page = browser.open(next(folder.glob("*/gallery.html"))).page
    assert page.locator("td, th").get_by_text("<img src=x onerror=alert(1)>").count() >= 1
    assert page.evaluate(
        "[...document.querySelectorAll('#fig-finish svg text')].some(text => text.textContent === '<img src=x onerror=alert(1)>')"
    )


def test_axe_finds_nothing_serious(shared: Opened, measured: Measured) -> None:
    """WCAG 2 A and AA, contrast among it."""
    assert serious(shared.page) == []


def test_axe_finds_nothing_serious_in_the_dark(folder: Path, browser: Browser) -> None:
    """The dark palette is the same on every page; the gallery shows all of it."""
    assert serious(browser.open(next(folder.glob("*/gallery.html")), dark=True).page) == []


@pytest.mark.parametrize("width", [390, 1280])
def test_axe_finds_nothing_serious_on_the_other_pages(others: Path, browser: Browser, width: int) -> None:
    """Index, overview of a group, failed report, printable sheets; none of them asks for anything or scrolls sideways."""
    opened = browser.open(others, width)
    wide = opened.page.evaluate("document.documentElement.scrollWidth") > width
    assert (serious(opened.page), opened.said, opened.asked, wide) == ([], [], [others.as_uri()], False)


@pytest.mark.parametrize("name", ["index.html", "group.html"])
def test_a_list_uses_the_width_of_a_desk(folder: Path, browser: Browser, name: str) -> None:
    """Lines of about 48 rem, as text on a report has."""
    page = browser.open(folder / name).page
    assert page.evaluate("document.querySelector('.month').getBoundingClientRect().width") > 700


def serious(page: Any) -> list[str]:
    """Return what axe calls serious or critical on a page."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is not installed: accessibility is not checked")
    found = axe.Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]}).response["violations"]
    return [f"{one['id']}: {one['nodes'][0]['html'][:120]}" for one in found if one["impact"] in ("serious", "critical")]


@pytest.mark.parametrize("width", [390, 1280])
def test_what_is_tapped_is_large_enough(measured: Measured, width: int) -> None:
    """24 px each way (WCAG 2.2, 2.5.8)."""
    assert measured[width, "small"] == []


def test_headings_descend_without_a_gap(shared: Opened) -> None:
    """One H1; no H3 without an H2."""
    levels = shared.page.evaluate(
        "[...document.querySelectorAll('h1,h2,h3,h4')].filter(one => !one.hidden).map(one => Number(one.tagName[1]))"
    )
    assert levels.count(1) == 1 and all(later - earlier <= 1 for earlier, later in zip(levels, levels[1:], strict=False))


def test_a_page_in_the_dark_has_dark_colours_alone(shared: Opened, sheets: object) -> None:
    """Every colour of a chart is the palette's dark one."""
    shared.page.emulate_media(color_scheme="dark")
    settled(shared.page, DARK_DRAWN)
    used = set(shared.page.evaluate(FILLS))
    shared.page.emulate_media(color_scheme="light")
    assert used <= {rgb(colour) for colour in DARK.values()} | {"rgb(0, 0, 0)"}


def test_a_page_without_scripts_keeps_its_tables(page_file: Path, browser: Browser) -> None:
    """Empty boxes and controls that do nothing are gone."""
    page = browser.open(page_file, scripts=False).page
    assert page.locator(".plot:visible, .control:visible, .find:visible").count() == 0
    assert page.locator("table").count() > 0


def test_the_first_sheet_holds_the_answer_and_the_first_chart(shared: Opened, sheets: Sheets) -> None:
    """Headline, key figures and the first message, or the caption of a table that comes first, are on page 1 of A4."""
    page, first = shared.page, plain(sheets["A4"][0])
    names, message = page.locator(".figures .name").all_inner_texts(), page.locator("h3:visible, caption:visible").first.inner_text()
    assert [text for text in [page.locator(".headline").inner_text(), *names, message] if plain(text) not in first] == []


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_no_sheet_ends_with_a_heading(shared: Opened, sheets: Sheets, paper: str) -> None:
    """What it heads comes with it."""
    headings = set(map(plain, shared.page.locator("h2:visible, h3:visible").all_inner_texts()))
    ends = [[plain(line) for line in sheet.splitlines() if plain(line)][-3:-1] for sheet in sheets[paper]]
    assert [line for lines in ends for line in lines if line in headings] == []


def test_each_sheet_says_whose_it_is_and_which(sheets: Sheets) -> None:
    """Date and page number at the foot."""
    known = sheets["A4"]
    assert [number for number, sheet in enumerate(known, 1) if not re.search(rf"\b{number} ?/ ?{len(known)}\b", sheet)] == []


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
