"""A shop from which 30 g went: the same grams in headline, figure, table, charts and finding."""

import pytest

from shoplib.reports import metal_balance
from shoplib.reports.blocks import Chart, KeyFigures
from tests.known_truth.metal import LAST, kept


@pytest.fixture(scope="module")
def answer():
    shop, _ = kept(3, 0, True)
    return metal_balance.answer(shop, metal_balance.Parameters(as_of=LAST))


@pytest.fixture(scope="module")
def grams(answer):
    """The grams as the page writes them."""
    return f"{answer.figure('Missing').value:.1f}"


def test_the_headline_names_the_figure(answer, grams):
    """One number, one source."""
    assert answer.headline.startswith(f"{grams}\u00a0g")


def test_the_table_holds_the_same_number(answer):
    """Table `metals`, column missing_g."""
    assert answer.table("metals")["missing_g"].iloc[0] == answer.figure("Missing").value


def test_the_finding_names_grams_and_what_to_check_first(answer, grams):
    """Scale, fineness, scrap, filings, before anyone is asked."""
    text = next(one.text for one in answer.findings if one.code == "metal_missing")
    assert grams in text and "before anyone is asked" in text
    places = [text.index(word) for word in ("scale", "fineness", "scrap", "filings")]
    assert places == sorted(places)


def test_the_page_shows_it_instead_of_the_last_balance(answer, grams):
    """The fifth key figure is what is missing, with its range."""
    figures = metal_balance.page(answer)["figures"]
    assert isinstance(figures, KeyFigures)
    assert figures.figures[4].name == "Missing"


def test_the_charts_tell_it(answer, grams):
    """The bridge shows the balance in which it went, the counts chart names it."""
    page = metal_balance.page(answer)
    bridge, counts = page["bridge"], page["unexplained"]
    assert isinstance(bridge, Chart) and isinstance(counts, Chart)
    assert grams in bridge.reading and grams in counts.message


def test_the_alarm_stands_in_one_balance(answer):
    """Exactly one row of the test is marked: where it most likely went."""
    rows = answer.table("test")
    assert rows["alarm"].sum() == 1 and rows[rows["alarm"].astype(bool)]["unexplained"].iloc[0] > 25
