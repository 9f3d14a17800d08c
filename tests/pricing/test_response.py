"""What the answer to price makes of a price; its fit is tested in tests/workshop, its ranges in tests/known_truth."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.pricing.response import COLUMNS, customers_response, elasticity, lerner_price, response_table, why_untold

from .shops import TODAY, tiny


def quotes(outcomes, alloy="18k"):
    cells = {"quoted_on": "2026-02-02", "style": "curb", "alloy": alloy, "weight_g": 40.0, "price": 3000.0}
    return [{"quote_id": f"Q{k}", "won": won, **cells} for k, won in enumerate(outcomes)]


def test_slope_of_a_logit():
    """−2.4 × (1 − 0.45) = −1.32 % of quotes won for 1 % on the price (worked by hand)."""
    assert elasticity(-2.4, 0.45) == pytest.approx(-1.32)


@given(st.floats(-20, -1.05), st.floats(1, 1e4))
def test_the_margin_is_one_over_the_elasticity(own, cost):
    """(price − cost) ÷ price = −1 ÷ e, Lerner's rule."""
    price = lerner_price(cost, own)
    assert (price - cost) / price == pytest.approx(-1.0 / own)


def test_without_a_fit_no_row():
    """The columns stay, for whoever reads the file."""
    table = response_table(None)
    assert table.empty and tuple(table.columns) == COLUMNS


@pytest.mark.parametrize("outcomes", [[1.0, 0.0] * 10, [1.0] * 40, [0.0] * 40])
def test_too_few_or_all_alike_tell_nothing(outcomes):
    """20 quotes, 40 won, 40 lost: no fit, and the reason has its own words."""
    shop = tiny(quotes=quotes(outcomes))
    assert customers_response(shop, TODAY, 1) is None and str(len(outcomes)) in why_untold(shop, TODAY)


def test_quotes_of_a_metal_without_prices_tell_nothing_of_price():
    """Price ÷ metal is not known for one of them."""
    shop = tiny(quotes=quotes([1.0, 0.0] * 40, "925"))
    assert customers_response(shop, TODAY, 1) is None and "no price" in why_untold(shop, TODAY)


def test_mixed_outcomes_are_fitted():
    """80 quotes half won, all at one price: the answer stays the owner's own range, −4 to −1 by default."""
    found = customers_response(tiny(quotes=quotes([1.0, 0.0] * 40)), TODAY, 1)
    assert (found.price.low, found.price.high) == pytest.approx((-4.0, -1.0), abs=0.01)
