"""The same pages in Firefox, where it is installed: quiet, drawn, whole at a desk and on a phone, and moved by the keyboard."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from .conftest import AT_WIDTH, DRAWN, MEASURES
from .firefox import Firefox, firefox

WIDTHS = (390, 1280)
MOVED = "[...document.querySelectorAll('#fig-spot svg text')].map(text => text.textContent).join('|')"
CHARGES = "[...document.querySelectorAll('#t-options tbody tr td:nth-child(2)')].map(cell => cell.textContent)"


@pytest.fixture(scope="session")
def fox(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Firefox]:
    """One Firefox for all of these tests."""
    with firefox(tmp_path_factory.mktemp("firefox")) as started:
        yield started


@pytest.fixture
def gallery(folder: Path) -> Path:
    return next(folder.glob("*/gallery.html"))


@pytest.mark.parametrize("width", WIDTHS)
def test_a_page_is_quiet_drawn_and_whole(page_file: Path, fox: Firefox, width: int) -> None:
    """No message, no request, every chart drawn and none of its text cut, no sideways scroll."""
    fox.open(page_file, width)
    fox.settled(DRAWN)
    fox.settled(AT_WIDTH)
    too_wide = fox.evaluate(MEASURES["scroll"]) > width
    assert (fox.said, fox.asked, too_wide, fox.evaluate(MEASURES["cut"])) == ([], [], False, [])


def test_a_slider_moves_its_chart(gallery: Path, fox: Firefox) -> None:
    """By the keyboard; its value follows."""
    fox.open(gallery)
    fox.settled(DRAWN)
    before = fox.evaluate(MOVED)
    fox.press("#c-spot", "End")
    fox.settled("document.querySelector('#o-spot').textContent.startsWith('86.23')")
    assert fox.evaluate(MOVED) != before


def test_a_table_sorts_by_value(gallery: Path, fox: Firefox) -> None:
    """Largest first."""
    fox.open(gallery)
    fox.press("#t-options th:nth-child(2) .sort", "Enter")
    column = fox.evaluate(CHARGES)
    assert (column[0], column[-1]) == ("+31,400", "−20,500")


def test_the_index_is_quiet_too(folder: Path, fox: Firefox) -> None:
    """It has a script of its own."""
    fox.open(folder / "index.html")
    assert (fox.said, fox.asked) == ([], [])


def test_a_request_would_be_seen(tmp_path: Path, fox: Firefox) -> None:
    """A page that asks for a picture elsewhere is caught, so that the silence of the others means something."""
    page, elsewhere = tmp_path / "asks.html", "http://127.0.0.1:54321/picture.png"
    page.write_text(f"<!DOCTYPE html><title>asks</title><img src='{elsewhere}'>")
    fox.open(page)
    fox.settled("document.images[0].complete")
    assert fox.asked == [elsewhere]
