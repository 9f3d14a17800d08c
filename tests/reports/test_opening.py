"""Opening a shop: read once, read anew when a file changes, found from the notebooks' folder too."""

from __future__ import annotations

from pathlib import Path

import pytest

from shoplib.reports import opening
from shoplib.reports.opening import fingerprints, located, open_shop

from .runs import ORDERS, small_shop


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[Path]:
    """Count how often a shop is read."""
    read: list[Path] = []
    load = opening.load
    monkeypatch.setenv("SHOPLIB_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr(opening, "load", lambda path: (read.append(path), load(path))[1])
    return read


def test_a_shop_is_read_once(counted: list[Path], tmp_path: Path) -> None:
    """The second call takes it from the cache, the same."""
    shop = small_shop(tmp_path / "shop")
    first, second = open_shop(shop), open_shop(shop)
    assert (len(counted), first.fingerprint, len(first["orders"])) == (1, second.fingerprint, len(second["orders"]))


def test_a_changed_file_is_read_anew(counted: list[Path], tmp_path: Path) -> None:
    """One sign is enough."""
    shop = small_shop(tmp_path / "shop")
    open_shop(shop)
    (shop / "orders.csv").write_text(ORDERS.replace("9000", "9001"))
    assert (float(open_shop(shop)["orders"]["price"].iloc[0]), len(counted)) == (9001.0, 2)


def test_a_folder_of_another_place_with_the_same_files_is_the_same_shop(counted: list[Path], tmp_path: Path) -> None:
    """What it says does not depend on where it lies."""
    assert fingerprints(small_shop(tmp_path / "a")) == fingerprints(small_shop(tmp_path / "b"))


def test_a_relative_folder_is_found_beside_the_working_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A notebook opened by hand runs in notebooks/."""
    small_shop(tmp_path / "shop")
    (tmp_path / "notebooks").mkdir()
    monkeypatch.chdir(tmp_path / "notebooks")
    assert located(Path("shop")).resolve() == tmp_path / "shop"


def test_a_folder_that_is_nowhere_stays_as_given() -> None:
    """The error names it."""
    assert located(Path("nowhere")) == Path("nowhere")
