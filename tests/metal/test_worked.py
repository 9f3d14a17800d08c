"""The balance of one month worked by hand, figure by figure. Worked by hand; no outside source."""

import pytest

from shoplib.metal.balance import unexplained_g
from shoplib.metal.filings import account
from shoplib.reports.metal_balance import Parameters, answer

from .shops import AS_OF, metals, piece, row, shop, weighed

MONTH = {
    "opening": 620.0, "in_process_opening": 410.0, "bought": 1500.0, "customer_in": 60.0, "borrowed": 0.0, "refined_back": 22.0,
    "sold": 0.0, "delivered": 1650.0, "customer_out": 6.0, "returned": 0.0, "refining_sent": 0.0, "recorded_loss": 66.0,
    "in_process": 395.0, "closing": 486.4,
}  # fmt: skip
ORDERS = [
    piece("begun", 530.0, "2026-03-20"),
    piece("new", 1606.0, "2026-03-27"),
    piece("theirs", 64.0, "2026-03-25", metal_terms="customer_metal"),
    piece("open", None, quoted_weight_g=390.0),
    piece("just given out", None, quoted_weight_g=120.0),
]
CARDS = [
    weighed("begun", "melt", "2026-02-20", 410 / 0.75, 410 / 0.75),
    weighed("begun", "polish", "2026-03-19", 410 / 0.75, 530.0),
    weighed("new", "melt", "2026-03-05", 1606 + 88 - 2 - (410 / 0.75 - 530), 1606.0),
    weighed("theirs", "melt", "2026-03-06", 66.0, 64.0),
    weighed("open", "melt", "2026-03-09", 400.0, 400.0),
    weighed("just given out", "melt", "2026-03-30", 95 / 0.75),
]


def the_shop(closing=486.4):
    ledger = [
        row("2026-02-28", "stock_count", 620.0), row("2026-03-02", "bought", 1500.0, cost=150_000.0),
        row("2026-03-03", "customer_in", 60.0, order_id="theirs"), row("2026-03-10", "refined_back", 22.0, lot="F1"),
        row("2026-03-26", "customer_out", 6.0, order_id="theirs"), row("2026-03-31", "stock_count", closing),
    ]  # fmt: skip
    return shop(ORDERS, CARDS, ledger)


@pytest.fixture(scope="module")
def balance():
    """The month as the program balances it."""
    return metals(the_shop()).metals[0].balance


@pytest.mark.parametrize(("figure", "value"), MONTH.items())
def test_each_figure_of_the_month(balance, figure, value):
    """The column of both sides."""
    assert balance.rows[figure].iloc[0] == pytest.approx(value, abs=1e-9)


def test_the_customers_part_of_what_was_delivered(balance):
    """48.000 g of the 1,650.000 delivered are customers'."""
    assert balance.rows["delivered_customers"].iloc[0] == pytest.approx(48.0)


def test_unexplained_by_the_sums_alone():
    """2,612.000 − 2,603.400 = 8.600 g."""
    assert unexplained_g(MONTH) == pytest.approx(8.6, abs=1e-9)


def test_unexplained_of_the_shop(balance):
    """8.600 g, above zero: missing."""
    assert balance.rows["unexplained"].iloc[0] == pytest.approx(8.6, abs=1e-9)


def test_range_of_the_shop(balance):
    """5.309 to 11.891 with 520 weighings; this shop has a dozen, which moves the ends by 0.002."""
    ends = balance.rows[["unexplained_low", "unexplained_high"]].iloc[0]
    assert list(ends) == pytest.approx([5.309, 11.891], abs=0.003)


def test_fineness_and_metal_not_weighed_as_on_the_page(balance):
    """1.270171 g for ±1 ‰ on 2,200 g gross, 1.096966 g for ±2 % of the 95 g not weighed."""
    tolerance = balance.tolerances[0]
    assert (tolerance.fineness, tolerance.in_process) == (pytest.approx(1.270171, abs=5e-7), pytest.approx(1.096966, abs=5e-7))


def test_above_zero_is_said():
    """The headline names 8.6 g and the range, which lies above zero."""
    text = answer(the_shop(), Parameters(as_of=AS_OF)).headline
    assert "8.6" in text and "5.3" in text and "11.9" in text


def test_around_zero_the_sentence_names_what_could_be_missing():
    """Counted 493.000: 2.000 g with −1.291 to 5.291; the sentence names 5.3 g, not 2.0."""
    text = answer(the_shop(493.0), Parameters(as_of=AS_OF)).headline
    assert "5.3" in text and "2.0" not in text


ACCOUNT = {
    "opening": 48.0,
    "added": 59.4,
    "settled_as_expected": 23.5,
    "came_back": 22.0,
    "kept_or_short": 1.5,
    "closing": 83.9,
    "beyond_recovery": 6.6,
}


@pytest.mark.parametrize(("figure", "value"), ACCOUNT.items())
def test_the_second_account(figure, value):
    """48.000 + 66.000 × 0.90 − 23.500 = 83.900; 6.600 beyond recovery."""
    assert getattr(account(48.0, 66.0, 0.90, 23.5, 22.0), figure) == pytest.approx(value)
