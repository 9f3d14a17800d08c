"""The dirt in the tables: met by intake, and not more than that."""

from __future__ import annotations

from collections.abc import Iterator

from shoplib.demo.dirt import HOSTILE_IDS, SLIPS, soil
from shoplib.intake.shop import Shop


def test_accepted_and_rejected_make_read(shop: Shop) -> None:
    """No row gets lost."""
    assert all(t.accepted + t.rejected == t.read for t in shop.tallies)


def test_a_few_rows_are_rejected(shop: Shop) -> None:
    """Some rows cannot be right, in several tables, and very few of all."""
    assert set(shop.rejected["file"]) >= {"orders.csv", "labour.csv", "quotes.csv", "metal_prices.csv"}
    assert len(shop.rejected) < 20


def test_some_rows_are_doubted(shop: Shop) -> None:
    """Doubts of at least five sorts occur."""
    assert shop.doubted["code"].nunique() >= 5


def test_ids_that_look_like_html_are_kept_as_text(shop: Shop) -> None:
    """Both stand in orders and on job cards, as written."""
    for table in ("orders", "labour"):
        assert set(HOSTILE_IDS) <= set(shop[table]["order_id"].dropna())


def test_other_spellings_are_folded(shop: Shop) -> None:
    """Five styles and four alloys are left after reading."""
    assert shop["orders"]["style"].nunique() == 5
    assert shop["orders"]["alloy"].dropna().nunique() == 4


def test_an_extra_slip_leaves_the_true_row() -> None:
    """A slip that adds a row keeps the row it was made from."""
    rows: Iterator[list[str]] = iter([["2026-01-05", "gold", "2600", "USD", "ozt"]] * 3)
    written = list(soil("metal_prices", rows, 3))
    assert [row[2] for row in written] == ["2600", "2600", "2600", "n/a"]


def test_every_slip_finds_its_place(shop: Shop) -> None:
    """As many extra rows were read as slips add: the tables hold one row more for each."""
    read = {t.file.removesuffix(".csv"): t.read for t in shop.tallies}
    extra = sum(slip.extra for slip in SLIPS["quotes"])
    numbered = shop["quotes"]["quote_id"].str.fullmatch(r"Q\d+", case=False).sum()
    assert read["quotes"] == numbered + extra
