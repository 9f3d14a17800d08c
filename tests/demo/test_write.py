"""What `shoplib demo` writes: the tables, the same each time, at any size."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from shoplib.demo import make_book, write_demo
from shoplib.demo.tables import WRITERS
from shoplib.errors import OutputError, UsageError
from shoplib.intake import load
from shoplib.intake.columns import TABLES
from shoplib.intake.shop import Shop

DEMO = Path(__file__).parents[2] / "data_demo"


def files(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def test_every_heading_is_the_tools_own(folder: Path) -> None:
    """Every table and column written is known to intake."""
    for name in WRITERS:
        with (folder / f"{name}.csv").open(encoding="utf-8", newline="") as file:
            assert set(next(csv.reader(file))) <= set(TABLES[name].by_name)


def test_the_same_seed_writes_the_same_files(tmp_path: Path) -> None:
    """Two small shops of one seed are equal to the byte."""
    write_demo(tmp_path / "a", orders=60, months=2)
    write_demo(tmp_path / "b", orders=60, months=2)
    assert files(tmp_path / "a") == files(tmp_path / "b")


def test_another_seed_writes_another_shop(tmp_path: Path) -> None:
    """Another seed changes the orders."""
    write_demo(tmp_path / "a", orders=60, months=2, seed=1)
    write_demo(tmp_path / "b", orders=60, months=2, seed=3)
    assert files(tmp_path / "a")["orders.csv"] != files(tmp_path / "b")["orders.csv"]


def test_the_committed_shop_is_what_the_command_writes(folder: Path) -> None:
    """data_demo holds the files of the usual size, to the byte."""
    written = files(folder)
    assert written == {name: data for name, data in files(DEMO).items() if name in written}


@pytest.mark.parametrize(("orders", "months"), [(60, 30), (60, 3), (400, 2), (20, 1), (1, 1)])
def test_small_shops_can_be_read(tmp_path: Path, orders: int, months: int) -> None:
    """A small shop is written whole and read without an error."""
    write_demo(tmp_path, orders=orders, months=months)
    assert len(load(tmp_path)["orders"]) >= 1


def test_a_larger_shop_keeps_load_and_grams() -> None:
    """Three times the orders are a third of the size: grams and hours of the whole stay within 15 percent."""
    usual, large = make_book(2600 * 6 // 30, 6), make_book(3 * 2600 * 6 // 30, 6)
    assert large.world.shrink == pytest.approx(1 / 3)
    for grams in ("issued", "lost"):
        assert total(getattr(large.shop.flows, grams)) == pytest.approx(total(getattr(usual.shop.flows, grams)), rel=0.15)
    assert sum(large.shop.cards.hours) == pytest.approx(sum(usual.shop.cards.hours), rel=0.15)


def total(grams: list[list[float]]) -> float:
    return sum(map(sum, grams))


def test_a_shrunk_shop_says_so(tmp_path: Path) -> None:
    """The name on every page tells that pieces are small; truth.json tells how small."""
    write_demo(tmp_path, orders=350, months=1)
    assert "percent of the usual size" in load(tmp_path).settings.shop.name
    assert json.loads((tmp_path / "truth.json").read_text(encoding="utf-8"))["size"]["shrink"] == pytest.approx(86.667 / 350, rel=1e-3)


def test_the_shop_says_it_is_invented(shop: Shop) -> None:
    """The shop's name, which stands on every page, says invented."""
    assert "invented" in shop.settings.shop.name


def test_no_orders_is_refused(tmp_path: Path) -> None:
    """A shop of no orders is a usage error that names the numbers."""
    with pytest.raises(UsageError, match="0 orders, 30 months"):
        write_demo(tmp_path, orders=0)


def test_a_file_in_the_way_is_told(tmp_path: Path) -> None:
    """A folder that cannot be made is an output error."""
    (tmp_path / "here").write_text("a file", encoding="utf-8")
    with pytest.raises(OutputError, match="another folder"):
        write_demo(tmp_path / "here", orders=5, months=1)
