"""The price that earns most against published worked examples."""

import pytest

from shoplib.errors import UsageError
from shoplib.pricing.response import lerner_price


@pytest.mark.parametrize(("elasticity", "ratio"), [(-10, 1.111), (-5, 1.25), (-3, 1.5), (-4, 1.333)])
def test_price_over_cost(elasticity, ratio):
    """Pindyck and Rubinfeld, Microeconomics, example 10.2 "Markup pricing": price ÷ marginal cost by elasticity."""
    assert lerner_price(1.0, elasticity) == pytest.approx(ratio, abs=5e-4)


def test_jeans():
    """The same example: cost 18, elasticity −4 to −3: price 24 to 27."""
    assert [lerner_price(18.0, e) for e in (-4.0, -3.0)] == pytest.approx([24.0, 27.0])


def test_cost_25():
    """Managerial economics exercise (rhayden.us, Hirschey type): cost 25, elasticity −1.5: price 75."""
    assert lerner_price(25.0, -1.5) == pytest.approx(75.0)


def test_margin_of_cost_25():
    """The same exercise: two thirds (66.7 %) of that price are above cost."""
    price = lerner_price(25.0, -1.5)
    assert (price - 25.0) / price == pytest.approx(0.667, abs=5e-4)


def test_customers_who_hardly_answer_have_no_best_price():
    """At an elasticity of −1 or above every rise earns more."""
    with pytest.raises(UsageError):
        lerner_price(25.0, -0.9)
