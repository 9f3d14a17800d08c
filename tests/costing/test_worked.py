"""Orders, a bridge and a metal pool worked by hand, figure by figure. Worked by hand; no outside source."""

from datetime import date

import pandas as pd
import pytest

from shoplib.costing import bridge, cost
from tests.flow.shops import entry, order, shop_of

TOML = """
[shop]
name = "Worked by hand (invented)"
currency = "EUR"
[[alloys]]
code = "18k"
metal = "gold"
fineness = 750
other_metals_per_g = 0.02
[[stages]]
name = "melt"
takes_metal = true
[[stages]]
name = "solder"
[[workers]]
code = "A"
skills = ["melt", "solder"]
hours = { tue = 11.5 }
wage_per_hour = 28
on_costs_percent = 22
[[workers]]
code = "S"
hours = { mon = 6 }
wage_per_hour = 36
[policy]
filings_recovery_percent = 90
refining_charge_percent = 2
"""
PRICES = [
    {"date": day, "metal": "gold", "price": price, "per": "g", "currency": "EUR"}
    for day, price in (("2026-03-02", 92.0), ("2026-03-10", 93.5), ("2026-04-07", 96.0))
]
LEDGER = [{"date": "2026-03-09", "kind": "stock_count", "metal": "gold", "gross_g": 5000.0, "fineness": 1000.0, "cost": 442_000.0}]
CARD = [
    entry("one", "melt", "A", "2026-03-10", 7.0, weight_in_g=50.0, weight_out_g=49.5),
    entry("one", "solder", "A", "2026-03-11", 4.0, weight_in_g=49.5, weight_out_g=48.0),
    entry("one", "solder", "A", "2026-03-12", 1.5, rework=True),
    entry("rest", "melt", "S", "2026-03-09", 1.0, weight_in_g=2350.0, weight_out_g=2350.0),
    entry(None, None, "S", "2026-03-09", 5.0),
]


def costing_of(policy: str = "", **cells):
    """Return the costing of the one order under study, beside a large one that shares the shared work."""
    studied = {"price": 4250.0, "quoted_weight_g": 47.0, "finished_weight_g": 48.0, "outwork_cost": 38.0, "deposit": 1500.0}
    orders = [
        order("one", delivered_on="2026-04-07", **studied | cells),
        order("rest", ordered_on="2026-03-09", delivered_on="2026-04-07", finished_weight_g=2350.0, quoted_weight_g=2350.0),
    ]
    shop = shop_of(TOML + policy, orders=orders, labour=CARD, metal_prices=PRICES, metal_ledger=LEDGER)
    return cost(shop, date(2026, 4, 30), "solder")


def the_order(**cells):
    found = costing_of(**cells).orders.set_index("order_id")
    return found.loc["one"]


FIXED = {
    "gross_loss_g": 2.0, "net_loss_g": 0.236, "own_fine_g": 36.0, "net_fine_g": 0.177, "book_fine_g": 36.177, "cost_per_g": 88.40,
    "overtime_premium": 17.08, "shared_labour": 3.75, "labour": 396.59, "rework_labour": 51.24, "other_metals": 0.96472,
    "outwork": 38.0, "stones": 0.0, "book_metal": 3198.0468, "price": 4250.0, "metal_billed": 0.0, "metal_at_fix": 3312.0,
    "metal_lost": 16.284, "making_margin": 434.92128, "metal_result": 130.2372, "book_margin": 565.15848,
    "making_charge": 938.0, "weight_over_quote_money": 69.0, "hours": 12.5, "limiting_hours": 5.5, "contribution": 865.67128,
}  # fmt: skip


@pytest.mark.parametrize(("figure", "value"), FIXED.items())
def test_metal_fixed_at_the_order(figure, value):
    """Page (a), the column `fixed`; the making charge is price − metal at the fix."""
    assert the_order()[figure] == pytest.approx(value, abs=1e-9)


def test_contribution_per_limiting_hour():
    """865.67128 ÷ 5.5 ≈ 157.3948: regular wages are not in it, the overtime premium is."""
    assert the_order()["contribution_per_limiting_hour"] == pytest.approx(157.3948, abs=5e-5)


AT_DELIVERY = {
    "price": 940.0, "metal_billed": 3456.0, "making_charge": 940.0, "metal_at_fix": 3456.0, "metal_lost": 16.992,
    "other_metals": 0.96472, "labour": 396.59, "rework_labour": 51.24, "making_margin": 436.21328, "book_metal": 3198.0468,
    "metal_result": 274.9452, "book_margin": 711.15848, "weight_over_quote_money": 0.0,
}  # fmt: skip


@pytest.mark.parametrize(("figure", "value"), AT_DELIVERY.items())
def test_metal_priced_at_delivery(figure, value):
    """Page (a), the column `at_delivery`: the same order with a making charge of 940."""
    assert the_order(metal_terms="at_delivery", price=940.0)[figure] == pytest.approx(value, abs=1e-9)


CUSTOMERS = {
    "": {"net_fine_g": 0.0, "metal_lost": 0.0, "making_margin": 504.17, "book_metal": 0.0, "metal_result": 0.0, "book_margin": 504.17},
    "customer_metal_allowance_percent = 0.3": {
        "net_fine_g": 0.069, "metal_lost": 6.4515, "making_margin": 497.7185, "book_metal": 6.0996, "metal_result": 0.3519,
        "book_margin": 498.0704,
    },
    'customer_filings = "shop"': {
        "net_fine_g": -0.903, "metal_lost": -84.4305, "making_margin": 588.6005, "book_metal": -79.8252, "metal_result": -4.6053,
        "book_margin": 583.9952,
    },
}  # fmt: skip


@pytest.mark.parametrize(("policy", "figure", "value"), [(p, *pair) for p, figures in CUSTOMERS.items() for pair in figures.items()])
def test_the_customers_own_metal(policy, figure, value):
    """Page (a), customer_metal with price 990: filings the customer's at 3 % and 0.3 % allowance, then the shop's at 3 %."""
    found = the_order(policy=policy, metal_terms="customer_metal", price=990.0)
    assert found[figure] == pytest.approx(value, abs=1e-9)


def test_a_customers_alloy_brings_its_own_other_metals():
    """The line other metals is 0 for customer_metal."""
    assert the_order(metal_terms="customer_metal", price=990.0)["other_metals"] == 0.0


@pytest.mark.parametrize("terms", ["fixed", "at_delivery", "customer_metal"])
def test_the_pools_own_entries_give_the_book_metal(terms):
    """What the pool charged to the order, movement by movement, is its book metal: 3,198.0468 for the shop's metal."""
    costing = costing_of('customer_filings = "shop"', metal_terms=terms)
    charged = costing.pool.loc[costing.pool["order_id"] == "one", "orders"].sum()
    assert charged == pytest.approx({"customer_metal": -79.8252}.get(terms, 3198.0468), abs=1e-9)


def test_capital_in_process():
    """28 days × (37.500 g × the mean spot − 1,500) × 8 % ÷ 365; spot stands at 93.50 on all 28 days: 37.5 × 93.5 = 3,506.25."""
    assert the_order()["capital_cost"] == pytest.approx((3506.25 - 1500.0) * 0.08 * 28 / 365, abs=1e-9)


# (b): month, style, price over metal, net loss g fine, spot, hours, rate, rework labour, other costs
FEBRUARY_AND_MARCH = [
    ("2026-02-10", "curb", 800, 0.20, 90, 10, 34.00, 34, 20),
    ("2026-02-12", "rope", 1200, 0.30, 90, 16, 35.00, 70, 25),
    ("2026-03-10", "curb", 820, 0.22, 99, 9.5, 34.50, 0, 20),
    ("2026-03-11", "rope", 1150, 0.28, 99, 17, 36.00, 108, 25),
    ("2026-03-12", "rope", 1210, 0.34, 99, 14, 36.00, 0, 30),
]
WHEAT = ("2026-03-13", "wheat", 900, 0.20, 99, 12, 36.00, 0, 20)


def orders_of(rows):
    """Return costed orders of the columns the bridge reads."""
    names = ["delivered_on", "style", "price", "net_fine_g", "spot", "first_hours", "rate", "rework_labour", "other_metals"]
    table = pd.DataFrame(rows, columns=names)
    table["delivered_on"] = table["delivered_on"].astype("datetime64[s]")
    table["metal_lost"], table["labour"] = table["net_fine_g"] * table["spot"], table["first_hours"] * table["rate"]
    none = dict.fromkeys(("metal_billed", "metal_at_fix", "stones", "findings", "outwork"), 0.0)
    margin = table["price"] - table[["metal_lost", "labour", "rework_labour", "other_metals"]].sum(axis=1)
    return table.assign(alloy="18k", making_margin=margin, **none)


def amounts(rows):
    return bridge(orders_of(rows), "2026-03", "2026-02").set_index("cause")["amount"].to_dict()


def test_margins_of_the_bridges_orders():
    """Page (b), column m."""
    assert orders_of(FEBRUARY_AND_MARCH)["making_margin"].tolist() == pytest.approx([388.0, 518.0, 450.47, 377.28, 642.34])


EIGHT = {
    "volume": 453.0, "mix": 65.0, "price": -20.0, "metal_loss": -3.60, "labour_rate": -35.75, "labour_efficiency": 52.0,
    "rework": 66.0, "other": -12.56,
}  # fmt: skip


@pytest.mark.parametrize(("cause", "amount"), EIGHT.items())
def test_causes_of_the_bridge(cause, amount):
    """Page (b), the table of causes, to the cent."""
    assert amounts(FEBRUARY_AND_MARCH)[cause] == amount


def test_the_bridge_has_no_residual():
    """1,470.09 − 906.00 = 564.09, in whole cents."""
    assert sum(round(100 * amount) for amount in amounts(FEBRUARY_AND_MARCH).values()) == 56409


@pytest.mark.parametrize(("cause", "amount"), (EIGHT | {"volume": 906.0, "mix": 40.20}).items())
def test_a_style_never_made_before_is_mix(cause, amount):
    """Page (b), the example with one wheat chain: only volume and mix change."""
    assert amounts([*FEBRUARY_AND_MARCH, WHEAT])[cause] == amount


def test_a_cell_not_made_in_the_base_month_takes_the_year_before_it():
    """A wheat chain of last June with price over metal 880 and all else equal: 20 of the 900 are price, 408.20 are mix."""
    found = amounts([*FEBRUARY_AND_MARCH, WHEAT, ("2025-06-10", "wheat", 880, *WHEAT[3:])])
    assert (found["mix"], found["price"]) == (20.20, 0.0)


def test_an_order_older_than_the_year_before_does_not_tell():
    """The same wheat chain a month earlier than that year leaves all of it in mix."""
    assert amounts([*FEBRUARY_AND_MARCH, WHEAT, ("2025-01-31", "wheat", 880, *WHEAT[3:])])["mix"] == 40.20


POOL_TOML = TOML.replace("fineness = 750\nother_metals_per_g = 0.02", "fineness = 1000")


def pool_costing(method):
    """Return the costing of page (c): one order of 114 g finished and 6 g lost, alloy of 1000 per mille."""

    def row(day, kind, grams=None, money=None):
        return {"date": f"2026-03-{day:02}", "kind": kind, "metal": "gold", "gross_g": grams, "fineness": 1000.0, "cost": money}

    ledger = [
        row(1, "stock_count", 100.0, 8800.0), row(2, "bought", 100.0, 9400.0), row(3, "customer_in", 40.0),
        row(6, "bought", 60.0, 5880.0), row(7, "refined_back", 5.0), row(7, "refining_charge", None, 12.0),
    ]  # fmt: skip
    orders = [order("one", ordered_on="2026-03-01", finished_weight_g=114.0, quoted_weight_g=114.0, delivered_on="2026-03-05")]
    labour = [entry("one", "melt", "A", "2026-03-04", 5.0, weight_in_g=120.0)]
    toml = POOL_TOML + f'metal_cost = "{method}"'
    return cost(shop_of(toml, orders=orders, labour=labour, metal_prices=PRICES, metal_ledger=ledger), date(2026, 3, 31))


MOVEMENTS = {  # kind and place among its like: pool g and cost after it, by average and by FIFO
    ("stock_count", 0): ((100.0, 8800.0), (100.0, 8800.0)),
    ("bought", 0): ((200.0, 18200.0), (200.0, 18200.0)),
    ("customer_in", 0): ((200.0, 18200.0), (200.0, 18200.0)),
    ("issue", 0): ((80.0, 7280.0), (80.0, 7520.0)),
    ("bought", 1): ((140.0, 13160.0), (140.0, 13400.0)),
    ("refined_back", 0): ((145.0, 13615.0), (145.0, 13845.0)),
}


@pytest.mark.parametrize("method", ["average", "fifo"])
@pytest.mark.parametrize(("movement", "expected"), MOVEMENTS.items())
def test_the_pool_after_each_movement(method, movement, expected):
    """Page (c), the table of movements: grams and cost in the safe."""
    pool = pool_costing(method).pool
    row = pool[pool["kind"] == movement[0]].iloc[movement[1]]
    assert (row["pool_g"], row["pool_cost"]) == pytest.approx(expected[method == "fifo"])


@pytest.mark.parametrize(("method", "each"), [("average", 91.0), ("fifo", 89.0)])
def test_the_cost_of_a_gram_at_issue(method, each):
    """120 g cost 10,920 by average (91 a gram) and 10,680 by FIFO (89 a gram)."""
    assert pool_costing(method).orders["cost_per_g"].tolist() == pytest.approx([each])


@pytest.mark.parametrize(("method", "book"), [("average", 10_438.428), ("fifo", 10_209.012)])
def test_book_metal_of_the_orders(method, book):
    """114.708 g at the cost of issue."""
    assert pool_costing(method).orders["book_metal"].tolist() == pytest.approx([book])


@pytest.mark.parametrize(("method", "correction"), [("average", -38.572), ("fifo", -37.988)])
def test_the_refiners_settlement_corrects_its_month(method, correction):
    """(5.000 − 5.292) × the cost at which it left − the invoice of 12.00."""
    assert pool_costing(method).months["corrections"].tolist() == pytest.approx([correction])


@pytest.mark.parametrize(("method", "expected"), [("average", 481.572), ("fifo", 470.988)])
def test_filings_are_expected_at_the_cost_at_which_they_left(method, expected):
    """5.292 g × 91 by average, × 89 by FIFO."""
    pool = pool_costing(method).pool
    assert pool.loc[pool["kind"] == "true_up", "filings"].tolist() == pytest.approx([expected])


@pytest.mark.parametrize("method", ["average", "fifo"])
def test_all_money_spent_is_in_orders_pool_and_corrections(method):
    """24,092.00 = orders + pool at the end − corrections."""
    costing = pool_costing(method)
    kept = costing.orders["book_metal"].sum() + costing.pool["pool_cost"].iloc[-1] - costing.corrections["amount"].sum()
    assert (kept, costing.pool["paid"].sum()) == pytest.approx((24_092.0, 24_092.0))


def test_customers_metal_never_changes_the_cost():
    """40.000 g stand apart, before and after the shop's own movements."""
    pool = pool_costing("average").pool
    assert pool["customers_g"].iloc[-1] == 40.0
