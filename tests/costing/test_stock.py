"""Metal at cost, gram by gram. Values worked by hand; no source."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.costing.stock import AverageStock, FifoStock, Worth, new_stock


def filled(stock, *lots):
    """Put lots of (grams, cost a gram) into a stock; spot is 1 below cost."""
    for grams, cost in lots:
        stock.put(grams, Worth(grams * cost, grams * (cost - 1.0)))
    return stock


@pytest.mark.parametrize(("stock", "cost"), [(AverageStock(), 120 * 91), (FifoStock(), 100 * 88 + 20 * 94)])
def test_what_is_taken_costs_the_average_or_the_oldest(stock, cost):
    """100 g at 88 and 100 g at 94: 120 g cost 10,920 by average and 10,680 by age."""
    assert filled(stock, (100, 88), (100, 94)).take(120, 0.0).cost == pytest.approx(cost)


@pytest.mark.parametrize("stock", [AverageStock(), FifoStock()])
def test_spot_at_purchase_travels_with_the_cost(stock):
    """Bought at a premium of 1 a gram, spot is 1 below cost however it is taken."""
    worth = filled(stock, (100, 88), (100, 94)).take(120, 0.0)
    assert worth.cost - worth.spot == pytest.approx(120.0)


@pytest.mark.parametrize("stock", [AverageStock(), FifoStock()])
def test_below_zero_metal_goes_out_at_the_last_cost(stock):
    """10 g at 90 in the safe, 15 taken: 5 of them at 90 as well."""
    assert filled(stock, (10, 90)).take(15, 0.0).cost == pytest.approx(1350.0)


@pytest.mark.parametrize("stock", [AverageStock(), FifoStock()])
def test_the_next_purchase_settles_what_was_short(stock):
    """5 g short at 90; 20 g bought at 95 correct 5 × 5 = 25 and leave 15 g at 95."""
    filled(stock, (10, 90)).take(15, 0.0)
    assert (stock.put(20, Worth(1900.0, 1900.0)), stock.grams, stock.cost) == pytest.approx((-25.0, 15.0, 1425.0))


@pytest.mark.parametrize("stock", [AverageStock(), FifoStock()])
def test_a_small_purchase_settles_a_part(stock):
    """5 g short at 90; 2 g bought at 95 correct 10 and leave 3 g short at 90."""
    filled(stock, (10, 90)).take(15, 0.0)
    assert (stock.put(2, Worth(190.0, 190.0)), stock.grams, stock.cost) == pytest.approx((-10.0, -3.0, -270.0))


@pytest.mark.parametrize("stock", [AverageStock(), FifoStock()])
def test_the_first_grams_out_of_an_empty_stock_cost_spot(stock):
    """Nothing was ever bought: 4 g at 80 of today."""
    assert stock.take(4, 80.0) == Worth(320.0, 320.0)


def test_grams_put_back_into_an_average_take_its_cost_and_tell_the_difference():
    """10 g that left at 88 come back when a gram costs 91: the stock gains 910, of it 30 are a correction."""
    stock = filled(AverageStock(), (100, 91))
    assert stock.put_back(10, Worth(88.0, 87.0), 0.0) == pytest.approx((910.0, 30.0))


def test_grams_put_back_into_layers_keep_the_cost_at_which_they_left():
    """By age they come back as the youngest layer, with no correction."""
    stock = filled(FifoStock(), (100, 91))
    assert stock.put_back(10, Worth(88.0, 87.0), 0.0) == pytest.approx((880.0, 0.0))


def test_an_emptied_stock_remembers_its_last_cost():
    """All taken: a gram still costs what the last one did."""
    stock = filled(AverageStock(), (10, 90))
    stock.take(10, 0.0)
    assert stock.per_g(50.0).cost == 90.0


STEPS = st.lists(st.tuples(st.booleans(), st.floats(0.01, 500), st.floats(1, 200)), max_size=30)


@pytest.mark.parametrize("method", ["average", "fifo"])
@given(steps=STEPS)
def test_money_in_is_money_out_plus_what_is_left(method, steps):
    """Over any purchases and issues: bought + corrections = taken + in stock; grams likewise."""
    stock, money, grams = new_stock(method), 0.0, 0.0
    for is_bought, amount, price in steps:
        if is_bought:
            money += amount * price + stock.put(amount, Worth(amount * price, amount * price))
            grams += amount
        else:
            money -= stock.take(amount, price).cost
            grams -= amount
    assert (stock.cost, stock.grams) == pytest.approx((money, grams), abs=1e-6)


@given(steps=STEPS)
def test_both_methods_hold_the_same_grams(steps):
    """Only money depends on the method."""
    stocks = AverageStock(), FifoStock()
    for stock in stocks:
        for is_bought, amount, price in steps:
            if is_bought:
                stock.put(amount, Worth(amount * price, amount * price))
            else:
                stock.take(amount, price)
    assert stocks[0].grams == pytest.approx(stocks[1].grams, abs=1e-6)
