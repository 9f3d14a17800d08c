"""Random small shops: every metal term, kind of order, record of loss and kind of ledger row may occur."""

from datetime import date, timedelta

import numpy as np

from tests.flow.shops import entry, order, shop_of

FIRST, AS_OF = date(2026, 1, 1), date(2026, 6, 30)
STAGES = ("melt", "solder", "polish")
TOML = """
[shop]
name = "Random bench (invented)"
currency = "EUR"
[calendar]
holidays = "AT"
[[alloys]]
code = "18k"
metal = "gold"
fineness = 750
melted_fineness = 753
parts = {{ palladium = 100 }}
other_metals_per_g = 0.05
[[alloys]]
code = "925"
metal = "silver"
fineness = 925
[[solders]]
code = "hard"
fineness = 700
cost_per_g = 0.4
[[stages]]
name = "melt"
takes_metal = true
fixed_hours = 1
[[stages]]
name = "solder"
cuts = true
hours_per_g = 0.1
loss_fine_share_percent = 80
[[stages]]
name = "polish"
fixed_hours = 0.5
recovery_percent = 60
[[workers]]
code = "A"
skills = ["melt", "solder"]
wage_per_hour = 20
on_costs_percent = 20
pay = [{{ from = 2025-01-01, wage_per_hour = 19 }}, {{ from = 2026-03-01, wage_per_hour = 20 }}]
[[workers]]
code = "B"
skills = ["polish"]
wage_per_hour = 25
owner = true
[policy]
metal_cost = "{metal_cost}"
customer_filings = "{filings}"
consumables_per_hour = 0.3
"""


def random_shop(seed):
    """Return a shop of up to 24 orders over half a year, the same for the same seed."""
    luck = np.random.default_rng(seed)
    toml = TOML.format(metal_cost=luck.choice(["average", "fifo"]), filings=luck.choice(["customer", "shop"]))
    orders = [_order(luck, number) for number in range(int(luck.integers(0, 24)))]
    labour = [row for one in orders if luck.random() < 0.85 for row in _card(luck, one)]
    labour += [entry(None, None, "A", _day(luck), _hours(luck)) for _ in range(int(luck.integers(0, 6)))]
    tables = {"metal_ledger": _ledger(luck), "metal_book": _book(luck), "overheads": [{"month": FIRST, "item": "rent", "amount": 900.0}]}
    payments = [{"order_id": one["order_id"], "date": _day(luck), "amount": 100.0} for one in orders if luck.random() < 0.2]
    return shop_of(toml, orders=orders, labour=labour, metal_prices=_prices(luck), payments=payments, **tables)


def _day(luck, after=FIRST, days=180):
    return (after + timedelta(days=int(luck.integers(0, days)))).isoformat()


def _hours(luck):
    return round(float(luck.uniform(0, 9)), 2)


def _order(luck, number):
    ordered = FIRST + timedelta(days=int(luck.integers(0, 150)))
    kind = luck.choice(["order", "order", "order", "stock", "repair", "guarantee"])
    closed = _day(luck, ordered + timedelta(days=1), 60)
    fate = luck.choice(["delivered_on", "delivered_on", "delivered_on", "cancelled_on", "open"])
    weight = round(float(luck.uniform(5, 120)), 2)
    cells = {"kind": str(kind), "style": str(luck.choice(["curb", "rope"])), "alloy": str(luck.choice(["18k", "925"])), "quoted_weight_g": weight}
    if kind in ("repair", "guarantee") and luck.random() < 0.7:
        cells |= {"alloy": None, "quoted_weight_g": None}
    else:
        cells |= {"metal_terms": str(luck.choice(["fixed", "fixed", "at_delivery", "customer_metal"]))}
        cells |= {"finished_weight_g": round(weight * luck.uniform(0.95, 1.05), 2)} if luck.random() < 0.9 else {}
        cells |= {"findings_g": 1.0, "findings_cost": 30.0, "not_metal_g": 0.5} if luck.random() < 0.3 else {}
    cells |= {} if fate == "open" else {str(fate): closed}
    cells |= {"deposit": 200.0} if luck.random() < 0.4 else {}
    return order(f"O{number}", ordered.isoformat(), price=round(float(luck.uniform(0, 5000)), 2), **cells)


def _card(luck, one):
    start = date.fromisoformat(one["ordered_on"])
    grams = (one.get("finished_weight_g") or one["quoted_weight_g"] or 0) * 1.06
    weighed = grams > 0 and luck.random() < 0.6
    rows = []
    for number, stage in enumerate(STAGES[: int(luck.integers(1, 4))]):
        after = round(grams * luck.uniform(0.985, 1.0), 2)
        weights = {"weight_in_g": round(grams, 2), "weight_out_g": after} if weighed else {}
        weights |= {"solder": "hard", "solder_g": 0.3} if stage == "solder" and grams else {}
        weights |= {"scrap_back_g": round(grams * 0.02, 2)} if stage == "solder" and weighed and luck.random() < 0.7 else {}
        hours = None if luck.random() < 0.1 else _hours(luck)
        day = (start + timedelta(days=number + 1)).isoformat()
        rows.append(entry(one["order_id"], stage, str(luck.choice(["A", "B"])), day, hours, rework=bool(luck.random() < 0.1), **weights))
        grams = after
    return rows


def _prices(luck):
    days = [FIRST + timedelta(days=7 * week) for week in range(27)]
    base = {"gold": 80.0, "silver": 0.9, "palladium": 30.0}
    return [
        {"date": day, "metal": metal, "price": round(price * luck.uniform(0.9, 1.1), 4), "currency": "EUR", "per": "g"}
        for metal, price in base.items()
        for day in days
    ]


def _ledger(luck):
    kinds = ["bought", "bought", "sold", "borrowed", "returned", "priced", "refining_sent", "filings_sent", "refined_back", "stock_count"]
    kinds += ["refining_charge", "customer_in", "customer_out", "bought_forward"]
    rows = []
    for _ in range(int(luck.choice([0, 12, 30]))):
        metal = str(luck.choice(["gold", "gold", "silver", "palladium", "18k"]))
        grams = round(float(luck.uniform(1, 300)), 2)
        row = {"date": _day(luck), "kind": str(luck.choice(kinds)), "metal": metal, "gross_g": grams, "lot": str(luck.choice(["L1", "L2", ""])) or None}
        rows.append(row | ({"cost": round(grams * 70, 2)} if luck.random() < 0.6 else {}))
    return rows


def _book(luck):
    if luck.random() < 0.6:
        return []
    return [
        {"from": f"2026-{m:02}-01", "to": f"2026-{m:02}-28", "stage": None, "alloy": "18k", "given_g": 1000.0, "work_back_g": 960.0, "scrap_back_g": 15.0}
        for m in range(1, 6)
    ]
