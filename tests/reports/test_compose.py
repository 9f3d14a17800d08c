"""Answer and page put together: inputs and findings told, key figures with range or basis, cells by kind."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pandas as pd
import pytest

from shoplib.intake import load
from shoplib.intake.shop import Shop
from shoplib.reports.answer import Answer, Figure, Found, Parameters, TableColumn, table
from shoplib.reports.blocks import Findings, Footer, Headline, KeyFigures, Notes, Text
from shoplib.reports.compose import KINDS, Show, compose, key_figure, page_of, table_of
from shoplib.reports.sentences import Writing

from .runs import small_shop

PERIOD = (date(2025, 4, 1), date(2026, 3, 31))


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    return load(small_shop(tmp_path_factory.mktemp("shop")))


def answer_with(shop: Shop, *figures: Figure, findings: tuple[Found, ...] = ()) -> Answer:
    return compose(shop, "margin", Parameters(), PERIOD, "h", figures, {}, findings)


def test_an_answer_names_its_inputs(shop: Shop) -> None:
    """Every file that was read, by its sha256."""
    assert set(answer_with(shop).inputs) == {"orders.csv", "metal_prices.csv", "shop.toml"}


def test_rows_read_are_a_table_of_every_answer(shop: Shop) -> None:
    """Accepted and rejected make what was read."""
    files = answer_with(shop).table("files")
    assert (files["accepted"] + files["rejected"] == files["read"]).all()


def test_the_shops_own_findings_come_after_the_reports(shop: Shop) -> None:
    """What the report says stands first."""
    own = Found(level="note", code="own", text="t")
    assert answer_with(shop, findings=(own,)).findings[0] == own


def test_a_path_among_the_parameters_is_told_by_its_name(shop: Shop) -> None:
    """No folder of the machine reaches the answer."""

    class WithFile(Parameters):
        previous: Path | None = None

    answer = compose(shop, "margin", WithFile(previous=Path("/somewhere/monthly_review.json")), PERIOD, "h")
    assert answer.parameters["previous"] == "monthly_review.json"


def test_a_page_begins_with_the_answer_and_ends_with_its_sources(shop: Shop) -> None:
    """Headline, figures and cautions come first, notes and footer last."""
    page = page_of(answer_with(shop), "stake", [], [Text("a", ("p",))])
    kinds = [type(block) for block in page.blocks.values()]
    assert kinds == [Headline, KeyFigures, Findings, Text, Notes, Footer]


def test_two_blocks_of_one_name_are_refused(shop: Shop) -> None:
    """One would be lost."""
    with pytest.raises(ValueError, match="two blocks are named a"):
        page_of(answer_with(shop), "", [], [Text("a", ("p",)), Text("a", ("q",))])


def test_at_most_five_cautions_are_shown_what_is_not_shown_first(shop: Shop) -> None:
    """The others are counted."""
    found = [Found(level="warn", code=str(at), text="t") for at in range(7)] + [Found(level="stop", code="s", text="t")]
    cautions = page_of(answer_with(shop, findings=tuple(found)), "", [], [])["cautions"]
    assert isinstance(cautions, Findings)
    warned = sum(one.level != "note" for one in answer_with(shop, findings=tuple(found)).findings)
    assert (len(cautions.items), cautions.items[0].code, cautions.more) == (5, "s", warned - 5)


def test_the_footer_says_that_an_invented_shop_is_invented(shop: Shop) -> None:
    """By its name."""
    footer = page_of(answer_with(shop), "", [], [])["footer"]
    assert isinstance(footer, Footer) and footer.invented


@pytest.mark.parametrize(
    ("figure", "texts"),
    [
        (Figure(name="f", value=31_412.0, low=-3_600, high=66_400, level=0.8, unit="EUR"), ("31,000", "EUR", "−4,000 to 66,000")),
        (Figure(name="f", value=12.0, unit="orders"), ("12", "orders", "counted")),
        (Figure(name="f", value=2_601.0, unit="orders", basis="counted"), ("2,601", "orders", "counted")),
        (Figure(name="f", value=0.713, low=0.64, high=0.78, level=0.8, unit="share of orders"), ("71%", "of orders", "64% to 78%")),
        (Figure(name="f", value=30.0, low=-5.0, high=60.0, level=0.95, unit="g fine"), ("30", "g fine", "−5 to 60 (19 in 20)")),
        (Figure(name="f", value=12.34, unit="g fine", basis="measured"), ("12.3", "g fine", "measured")),
        (Figure(name="f", value=61.5, unit="EUR/h", basis="measured"), ("61.5", "EUR/h", "measured")),
        (Figure(name="f", value=None, unit="EUR", basis="no order"), ("–", "EUR", "no order")),
    ],
)
def test_a_key_figure_has_a_unit_and_a_range_or_its_basis(shop: Shop, figure: Figure, texts: tuple[str, str, str]) -> None:
    """Value, low and high are rounded alike, to two digits of the width."""
    shown = key_figure(answer_with(shop, figure), "f")
    assert (shown.value, shown.unit, shown.range) == texts


def test_what_ranges_hold_is_said_once_and_only_where_there_are_any(shop: Shop) -> None:
    """Counted figures need no such line."""
    figures = page_of(answer_with(shop, Figure(name="f", value=1.0)), "", [], [])["figures"]
    assert isinstance(figures, KeyFigures) and figures.note == ""


@pytest.mark.parametrize(
    ("kind", "cell", "text"),
    [
        ("text", None, "–"), ("yes_no", True, "yes"), ("number", 1234.5, "1,235"), ("change", -3.0, "−3"), ("money", 12.4, "12"),
        ("money_change", 12.4, "+12"), ("grams", 3.14, "3.1"), ("share", 0.083, "8.3%"), ("odds", 0.97, "over 19\u00a0in\u00a020"),
        ("day", "2026-03-01", "1\u00a0Mar\u00a02026"), ("month", "2026-03-01", "Mar\u00a026"), ("day", None, "–"), ("number", None, "–"),
    ],
)  # fmt: skip
def test_a_cell_is_written_by_its_kind(kind: str, cell: object, text: str) -> None:
    """One way for each."""
    assert KINDS[kind](Writing(), cell) == text  # type: ignore[arg-type]


def test_a_table_with_no_rows_keeps_its_columns(shop: Shop) -> None:
    """Every listed table is present."""
    answer = compose(shop, "margin", Parameters(), PERIOD, "h", (), {"t": table(pd.DataFrame({"a": []}), [TableColumn(name="a")])})
    block = table_of(answer, "t", "c", [Show("a", "A", "money")])
    assert (block.rows, block.columns[0].unit) == ((), "EUR")


def test_the_shops_way_of_writing_reaches_the_cells(shop: Shop) -> None:
    """A decimal comma in the settings is one on the page."""
    page = shop.settings.page.model_copy(update={"decimal": ",", "thousands": "."})
    other = replace(shop, settings=shop.settings.model_copy(update={"page": page}))
    answer = compose(other, "margin", Parameters(), PERIOD, "h", (), {"t": table(pd.DataFrame({"a": [1234.5]}), [TableColumn(name="a")])})
    assert table_of(answer, "t", "c", [Show("a", "A", "number1")]).rows[0][0].text == "1.234,5"
