"""Movements of the metal pool, kind by kind, and what each leaves as a correction. Values worked by hand; no source."""

from datetime import date

import pytest

from shoplib.costing import cost
from tests.flow.shops import entry, order, shop_of

TOML = """
[shop]
name = "Pool (invented)"
currency = "EUR"
[[alloys]]
code = "fine"
metal = "gold"
fineness = 1000
[[alloys]]
code = "white"
metal = "gold"
fineness = 750
parts = { palladium = 100 }
[[stages]]
name = "melt"
takes_metal = true
[[stages]]
name = "cut"
[policy]
loss_percent = 0
filings_recovery_percent = 50
refining_charge_percent = 0
"""
PRICES = [
    {"date": day, "metal": metal, "price": price, "per": "g", "currency": "EUR"}
    for day, metal, price in (("2026-03-01", "gold", 90.0), ("2026-03-10", "gold", 100.0), ("2026-03-01", "palladium", 30.0), ("2026-03-10", "palladium", 40.0))
]


def row(day, kind, grams=None, money=None, **cells):
    return {"date": f"2026-03-{day:02}", "kind": kind, "metal": "gold", "gross_g": grams, "fineness": 1000.0, "cost": money} | cells


OPENING = row(1, "stock_count", 100.0, 8000.0)


def costing_of(*ledger, orders=(), labour=(), policy="", as_of=date(2026, 3, 31)):
    shop = shop_of(TOML + policy, orders=orders, labour=labour, metal_prices=PRICES, metal_ledger=ledger)
    return cost(shop, as_of)


def corrections(*ledger, **tables):
    """Return the corrections by kind."""
    return costing_of(*ledger, **tables).corrections.groupby("kind")["amount"].sum().to_dict()


def chain(weight=20.0, **cells):
    usual = {"alloy": "fine", "ordered_on": "2026-03-02", "finished_weight_g": weight, "quoted_weight_g": 20.0, "delivered_on": "2026-03-12"}
    return order("x", **usual | cells)


CARD = [entry("x", "melt", "A", "2026-03-05", 1.0)]


def test_the_first_count_opens_the_pool_at_its_cost():
    """100 g for 8,000: issued at 80."""
    assert costing_of(OPENING, orders=[chain()], labour=CARD).orders["cost_per_g"].tolist() == [80.0]


def test_a_count_without_a_cost_opens_at_spot_and_says_so():
    """Spot 90 on the day of the count."""
    costing = costing_of(row(1, "stock_count", 100.0), orders=[chain()], labour=CARD)
    assert (costing.orders["cost_per_g"].tolist(), "opening_at_spot" in {f.code for f in costing.findings}) == ([90.0], True)


def test_rows_of_a_count_without_a_cost_take_spot_the_others_theirs():
    """100 g for 8,000 and 50 g at spot 90: (8,000 + 4,500) ÷ 150."""
    costing = costing_of(OPENING, row(1, "stock_count", 50.0), orders=[chain()], labour=CARD)
    assert costing.orders["cost_per_g"].tolist() == pytest.approx([12_500 / 150])


def test_without_a_ledger_metal_costs_spot_of_the_day_of_issue():
    """Spot 90 on 5 March, and no correction."""
    costing = costing_of(orders=[chain()], labour=CARD)
    assert (costing.orders["cost_per_g"].tolist(), len(costing.corrections)) == ([90.0], 0)


def test_metal_issued_before_the_pool_opens_costs_spot():
    """The first count is on 8 March: the issue of 5 March does not touch it."""
    costing = costing_of(row(8, "stock_count", 100.0, 8000.0), orders=[chain()], labour=CARD)
    assert (costing.orders["cost_per_g"].tolist(), costing.pool["pool_g"].iloc[-1]) == ([90.0], 100.0)


def test_a_ledger_without_any_count_opens_empty_with_its_first_row():
    """50 g bought at 85 are all there is."""
    costing = costing_of(row(2, "bought", 50.0, 4250.0), orders=[chain()], labour=CARD)
    assert (costing.orders["cost_per_g"].tolist(), costing.pool["pool_g"].iloc[-1]) == ([85.0], 30.0)


def test_a_purchase_without_a_cost_is_worth_spot():
    """100 g at 80 and 100 g at spot 90."""
    assert costing_of(OPENING, row(2, "bought", 100.0), orders=[chain()], labour=CARD).orders["cost_per_g"].tolist() == [85.0]


def test_in_stands_before_out_within_a_day():
    """Bought and issued on 5 March: the issue takes the mean of both."""
    assert costing_of(OPENING, row(5, "bought", 100.0, 10_000.0), orders=[chain()], labour=CARD).orders["cost_per_g"].tolist() == [90.0]


def test_a_true_up_moves_the_pool_at_the_cost_of_the_day():
    """22 g finished of 20 issued at 80; a gram costs (80 × 80 + 80 × 100) ÷ 160 = 90 on delivery: 2 × (90 − 80) = 20 of correction."""
    ledger = OPENING, row(11, "bought", 80.0, 8000.0)
    costing = costing_of(*ledger, orders=[chain(22.0)], labour=CARD)
    assert costing.corrections["amount"].tolist() == pytest.approx([-20.0])
    assert costing.orders["book_metal"].tolist() == pytest.approx([22 * 80.0])


def test_metal_given_back_at_delivery_corrects_the_other_way():
    """18 g finished of 20 issued at 80, a gram costs 90: the pool gains 2 × 10."""
    assert corrections(OPENING, row(11, "bought", 80.0, 8000.0), orders=[chain(18.0)], labour=CARD) == pytest.approx({"true_up": 20.0})


def test_clean_scrap_is_back_in_the_safe_on_the_day_it_was_cut():
    """25 g given out, 5 g of scrap back on 6 March: 80 g in the safe at the count of that evening, nothing to correct."""
    cards = [CARD[0] | {"weight_in_g": 25.0}, entry("x", "cut", "A", "2026-03-06", 1.0, scrap_back_g=5.0)]
    assert corrections(OPENING, row(6, "stock_count", 80.0), orders=[chain()], labour=cards) == {}


def test_an_order_without_a_card_takes_its_metal_on_delivery():
    """No entry: 20 g leave on 12 March, no true-up."""
    pool = costing_of(OPENING, orders=[chain()]).pool
    assert pool.loc[pool["kind"] == "issue", ["date", "fine_g"]].astype(str).to_numpy().tolist() == [["2026-03-12", "-20.0"]]


def test_metal_of_an_order_called_off_comes_back():
    """20 g issued, called off on 12 March with no loss recorded but policy 0: all of it is back."""
    cancelled = chain(delivered_on=None, finished_weight_g=None, cancelled_on="2026-03-12")
    costing = costing_of(OPENING, orders=[cancelled], labour=CARD)
    assert (costing.pool["pool_g"].iloc[-1], costing.cancelled["book_metal"].tolist()) == (100.0, [0.0])


def test_what_was_paid_is_kept_when_an_order_is_called_off():
    """A deposit of 300 of which 100 were paid back: 200 less an hour at 0."""
    cancelled = chain(delivered_on=None, finished_weight_g=None, cancelled_on="2026-03-12", deposit=300.0)
    paid = [{"order_id": "x", "date": f"2026-03-{day:02}", "amount": money} for day, money in ((2, 300.0), (13, -100.0))]
    shop = shop_of(TOML, orders=[cancelled], labour=CARD, metal_prices=PRICES, payments=paid)
    assert cost(shop, date(2026, 3, 31)).cancelled["making_margin"].tolist() == [200.0]


def test_a_sale_of_metal_is_a_correction_not_a_margin():
    """10 g that cost 800 sold for 950."""
    assert corrections(OPENING, row(5, "sold", 10.0, 950.0)) == {"sold": 150.0}


def test_borrowed_metal_enters_at_spot_and_is_corrected_when_priced():
    """10 g borrowed at spot 90, priced at 970: 70 more than they were taken in at."""
    assert corrections(OPENING, row(5, "borrowed", 10.0), row(12, "priced", 10.0, 970.0)) == {"priced": -70.0}


def test_borrowed_metal_returned_leaves_at_the_pools_cost():
    """100 g at 80 and 10 at 90: 8,900 ÷ 110 a gram; 10 g owed at 90 go back."""
    assert corrections(OPENING, row(5, "borrowed", 10.0), row(6, "returned", 10.0)) == pytest.approx({"returned": 900 - 8900 / 11})


def test_metal_bought_forward_is_not_in_the_safe():
    """A purchase to come moves nothing."""
    assert costing_of(OPENING, row(5, "bought_forward", 50.0, 4500.0)).pool["pool_g"].tolist() == [100.0]


def test_a_count_sets_the_grams_at_the_pools_cost():
    """97 counted of 100 at 80: 240 are a correction, the cost of a gram stays."""
    pool = costing_of(OPENING, row(9, "stock_count", 97.0, 9999.0)).pool
    assert pool[["pool_g", "c_per_g", "correction"]].iloc[-1].tolist() == pytest.approx([97.0, 80.0, -240.0])


def test_customers_metal_in_a_count_is_not_the_shops():
    """140 counted of which 40 are a customer's."""
    assert corrections(OPENING, row(5, "customer_in", 40.0), row(9, "stock_count", 140.0)) == {}


def test_scrap_sent_to_the_refiner_waits_at_its_cost():
    """20 g of scrap at 80 sent, 19 g back under the same lot: 80 are a correction, the invoice another."""
    ledger = OPENING, row(5, "refining_sent", 20.0, lot="S1"), row(15, "refined_back", 19.0, lot="S1"), row(16, "refining_charge", None, 30.0)
    assert corrections(*ledger) == pytest.approx({"refined_back": -80.0, "refining_charge": -30.0})


def test_a_lot_of_filings_settles_what_was_expected_when_it_was_sent():
    """20 g finished of 24 given out: 4 g lost, 2 expected; sent, then 1.5 g come back: 0.5 × 80 are missing."""
    cards = [CARD[0] | {"weight_in_g": 24.0}]
    ledger = OPENING, row(13, "filings_sent", 30.0, lot="F1"), row(20, "refined_back", 1.5, lot="F1")
    assert corrections(*ledger, orders=[chain()], labour=cards) == pytest.approx({"refined_back": -40.0})


def test_filings_that_arise_after_a_lot_was_sent_are_not_settled_with_it():
    """The lot left before the order was delivered: nothing was expected of it, 1.5 g are a gain; 2 g are still expected."""
    cards = [CARD[0] | {"weight_in_g": 24.0}]
    costing = costing_of(
        OPENING, row(11, "filings_sent", 30.0, lot="F1"), row(20, "refined_back", 1.5, lot="F1"), orders=[chain()], labour=cards
    )
    assert (costing.corrections["amount"].tolist(), costing.pool["filings_g"].iloc[-1]) == (pytest.approx([120.0]), pytest.approx(2.0))


def test_a_second_return_of_a_settled_lot_is_a_gain():
    """A later gram of the same lot comes in at the cost at which the lot had left."""
    ledger = OPENING, row(5, "refining_sent", 20.0, lot="S1"), row(15, "refined_back", 19.0, lot="S1"), row(18, "refined_back", 1.0, lot="S1")
    assert costing_of(*ledger).corrections["amount"].tolist() == pytest.approx([-80.0, 80.0])


def test_below_zero_is_told_and_settled_by_the_next_purchase():
    """20 g taken of 10: told; 50 g at 90 settle 10 g taken at 80: 100 of correction."""
    costing = costing_of(row(1, "stock_count", 10.0, 800.0), row(8, "bought", 50.0, 4500.0), orders=[chain()], labour=CARD)
    assert costing.corrections["amount"].tolist() == pytest.approx([-100.0])
    assert "pool_below_zero" in {found.code for found in costing.findings}


def test_other_parts_of_an_alloy_leave_their_own_pool():
    """10 % palladium in 20 g of white gold: 2 g leave its pool of 20 g; no gold is touched by it."""
    palladium = row(1, "stock_count", 20.0, 500.0, metal="palladium")
    pool = costing_of(OPENING, palladium, orders=[chain(alloy="white")], labour=CARD).pool
    assert pool.loc[pool["metal"] == "palladium", "pool_g"].iloc[-1] == pytest.approx(18.0)


def test_parts_are_charged_at_spot_and_the_difference_to_their_cost_is_a_correction():
    """2 g of palladium at spot 30 when struck, bought at 25: 60 in the order, 10 gained."""
    palladium = row(1, "stock_count", 20.0, 500.0, metal="palladium")
    costing = costing_of(OPENING, palladium, orders=[chain(alloy="white")], labour=CARD)
    assert costing.orders["other_metals"].tolist() == pytest.approx([60.0])
    assert costing.corrections["amount"].tolist() == pytest.approx([10.0])


def test_a_part_without_a_ledger_of_its_own_has_no_pool():
    """Only gold is in the ledger: palladium costs spot and no more is said."""
    assert set(costing_of(OPENING, orders=[chain(alloy="white")], labour=CARD).pool["metal"]) == {"gold"}


def test_capital_in_borrowed_metal_costs_the_lenders_rate():
    """Half of the safe is borrowed: 20 g × 90 for 5 days and × 100 for 2, at (8 % + 4 %) ÷ 2."""
    costing = costing_of(OPENING, row(2, "borrowed", 50.0), row(3, "sold", 50.0), orders=[chain()], labour=CARD)
    assert costing.orders["capital_cost"].tolist() == pytest.approx([20 * (5 * 90 + 2 * 100) * 0.06 / 365])
