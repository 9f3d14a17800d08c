"""What moves on a page: sliders, choices, sorting, filters, phone columns; the headline never does."""

from __future__ import annotations

from pathlib import Path

import pytest

from .conftest import Browser

MOVED = "(id) => [...document.querySelectorAll('#' + id + ' svg text')].map(text => text.textContent).join('|')"


@pytest.fixture
def gallery(folder: Path) -> Path:
    return next(folder.glob("*/gallery.html"))


def test_a_slider_moves_value_message_chart_reading_and_table(gallery: Path, browser: Browser) -> None:
    """All of them together, by the keyboard."""
    page = browser.open(gallery).page
    before = page.evaluate(MOVED, "fig-spot")
    page.locator("#c-spot").press("End")
    after = [
        page.locator("#o-spot").inner_text(), page.locator("h3[data-for=spot]:visible").inner_text(), page.evaluate(MOVED, "fig-spot"),
        page.locator("#fig-spot-r p:visible").inner_text(), page.locator("#t-prices tbody:visible tr td").first.inner_text(),
    ]  # fmt: skip
    assert (
        after[0].startswith("86.23")
        and after[1].startswith("12 of 12")
        and after[2] != before
        and after[3].startswith("5 lines")
        and after[4] == "43,960"
    )


def test_a_slider_says_its_new_value(gallery: Path, browser: Browser) -> None:
    """To whoever hears the page."""
    page = browser.open(gallery).page
    page.locator("#c-spot").press("Home")
    assert page.locator("#c-spot").get_attribute("aria-valuetext") == page.locator("#o-spot").inner_text()


def test_going_there_and_back_gives_the_first_drawing(gallery: Path, browser: Browser) -> None:
    """A step leaves nothing behind."""
    page = browser.open(gallery).page
    before = page.evaluate(MOVED, "fig-spot")
    for key in ("End", "Home", *["ArrowRight"] * 8):
        page.locator("#c-spot").press(key)
    assert page.evaluate(MOVED, "fig-spot") == before


@pytest.mark.parametrize("width", [390, 1280])
def test_choices_move_the_chart_at_each_width(gallery: Path, browser: Browser, width: int) -> None:
    """Written values follow, beside the rows or above them."""
    page = browser.open(gallery, width).page
    page.get_by_label("3 years").check(force=True)
    assert "+47" in page.evaluate(MOVED, "fig-gain") and page.locator("h3[data-for=horizon]:visible").inner_text().startswith(
        "Over 3 years"
    )


def test_a_choice_stands_after_the_page_turns_dark(gallery: Path, browser: Browser) -> None:
    """A redraw keeps the step."""
    page = browser.open(gallery).page
    page.get_by_label("3 years").check(force=True)
    page.emulate_media(color_scheme="dark")
    assert "+47" in page.evaluate(MOVED, "fig-gain")


def test_the_headline_never_moves(gallery: Path, browser: Browser) -> None:
    """It is the report's answer, not the control's."""
    page = browser.open(gallery).page
    before = page.locator(".headline").inner_text()
    page.locator("#c-spot").press("End")
    page.get_by_label("1 year").press("Space")
    assert page.locator(".headline").inner_text() == before


def test_printing_shows_the_chosen_value_and_hides_the_others(gallery: Path, browser: Browser) -> None:
    """No slider on paper."""
    page = browser.open(gallery).page
    page.emulate_media(media="print")
    assert page.locator("#o-spot").is_visible() and not page.locator("#c-spot").is_visible()
    assert page.locator(".choices span:visible").all_inner_texts() == ["2 years"]


def test_a_table_sorts_by_value_not_by_text(gallery: Path, browser: Browser) -> None:
    """Largest first on the first click, smallest first on the second."""
    page = browser.open(gallery).page
    heading = page.locator("#t-options .sort").nth(1)
    heading.click()
    down = page.locator("#t-options tbody tr td:nth-child(2)").all_inner_texts()
    heading.click()
    up = page.locator("#t-options tbody tr td:nth-child(2)").all_inner_texts()
    assert (down[0], down[-1], up) == ("+31,400", "−20,500", down[::-1])


def test_sorting_is_told(gallery: Path, browser: Browser) -> None:
    """aria-sort on the one heading."""
    page = browser.open(gallery).page
    page.locator("#t-options .sort").nth(1).press("Enter")
    assert page.locator("#t-options th[aria-sort]").all_inner_texts()[0].startswith("Gain, middle")
    assert page.locator("#t-options th[aria-sort]").get_attribute("aria-sort") == "descending"


def test_a_filter_leaves_the_rows_that_hold_its_words(gallery: Path, browser: Browser) -> None:
    """In any order and case."""
    page = browser.open(gallery).page
    page.locator(".find input[aria-controls=t-orders]").fill("apr FILING")
    rows = page.locator("#t-orders tbody tr:visible").all_inner_texts()
    assert len(rows) == 2 and all("Filing" in row for row in rows)


def test_a_phone_shows_fewer_columns_until_tapped(gallery: Path, browser: Browser) -> None:
    """A button shows all of them."""
    page = browser.open(gallery, 390).page
    few = page.locator("#t-options th:visible").count()
    page.locator("button[aria-controls=t-options]").click()
    assert page.locator("#t-options th:visible").count() > few


def test_the_keyboard_reaches_what_can_be_used(gallery: Path, browser: Browser) -> None:
    """Skip link, contents, choices, slider, headings, filter, table boxes, by the tab key alone."""
    page = browser.open(gallery).page
    reached = set()
    for _ in range(90):
        page.keyboard.press("Tab")
        reached.add(page.evaluate("(() => { const at = document.activeElement; return at.className + ' ' + (at.type || at.tagName); })()"))
    text = " ".join(reached)
    assert [part for part in ("skip A", "SUMMARY", "radio", "range", "sort SPAN", "search", "table DIV") if part not in text] == []


def test_the_index_finds_words_in_headlines(folder: Path, browser: Browser) -> None:
    """Others are hidden; where none is left it says so."""
    opened = browser.open(folder / "index.html")
    opened.page.locator("#find").fill("solderer leave")
    shown = opened.page.locator("section.month:visible li:visible").count()
    opened.page.locator("#find").fill("no such word")
    assert (shown, opened.page.locator("#none").is_visible(), opened.said) == (1, True, [])


def test_the_page_of_a_failed_report_is_quiet_too(folder: Path, browser: Browser) -> None:
    """It says which part failed."""
    opened = browser.open(folder / "failed/fails.html")
    assert (opened.said, opened.page.get_by_text("Not shown: The part that fails.").count()) == ([], 1)


CONTROLS = {
    "monthly_review": "compare", "margin": "group", "throughput": "stage", "lead_time": "service", "hiring": "judge",
    "price_sensitivity": "spot", "metal_balance": "metal",
}  # fmt: skip
SHOWN = "[...document.querySelectorAll('main h3, main .plot svg text, main td')].filter(one => one.checkVisibility()).map(one => one.textContent).join('|')"
COLUMN = "([table, place]) => [...table.querySelectorAll('tbody tr')].filter(row => row.checkVisibility() && !row.matches('.total')).map(row => Number(row.cells[place].dataset.v))"


@pytest.mark.parametrize("report", CONTROLS)
def test_the_control_of_each_report_moves_what_it_shows(folder: Path, browser: Browser, report: str) -> None:
    """Slider to its end, or the last choice; nothing is said on the console."""
    opened = browser.open(next(folder.glob(f"*/{report}.html")))
    page, parts = opened.page, f"input[data-control={CONTROLS[report]}]"
    before = page.evaluate(SHOWN)
    part = page.locator(parts).last
    part.press("Home") if part.get_attribute("type") == "range" else part.check(force=True)
    assert (page.evaluate(SHOWN) != before, opened.said) == (True, [])


@pytest.mark.parametrize("report", CONTROLS)
def test_a_table_of_each_report_sorts(folder: Path, browser: Browser, report: str) -> None:
    """By the first column of numbers of its first table that can be sorted: largest first."""
    page = browser.open(next(folder.glob(f"*/{report}.html"))).page
    heading = page.locator("main th.n:visible:has(.sort)").first
    heading.locator(".sort").click()
    table = heading.locator("xpath=ancestor::table")
    place = heading.evaluate("one => one.cellIndex")
    values = [one for one in page.evaluate(COLUMN, [table.element_handle(), place]) if one == one]
    assert heading.get_attribute("aria-sort") == "descending" and values == sorted(values, reverse=True)
