"""The invented workshop at its usual size, played once, and written once."""

from __future__ import annotations

from pathlib import Path

import pytest

from shoplib.demo import make_book, write_book
from shoplib.demo.book import Book
from shoplib.intake import load
from shoplib.intake.shop import Shop


@pytest.fixture(scope="session")
def book() -> Book:
    """The usual shop, played."""
    return make_book()


@pytest.fixture(scope="session")
def folder(book: Book, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The usual shop, written."""
    path = tmp_path_factory.mktemp("usual")
    write_book(book, path)
    return path


@pytest.fixture(scope="session")
def shop(folder: Path) -> Shop:
    """The usual shop, written and read back."""
    return load(folder)
