"""Gross and net loss of an order by each record there is. Values worked by hand; no source."""

from datetime import date

import pytest

from shoplib.costing import cost
from tests.flow.shops import entry, order, shop_of

TOML = """
[shop]
name = "Losses (invented)"
currency = "EUR"
[[alloys]]
code = "18k"
metal = "gold"
fineness = 750
melted_fineness = 760
[[alloys]]
code = "925"
metal = "silver"
fineness = 925
[[solders]]
code = "hard"
fineness = 700
cost_per_g = 2
[[solders]]
code = "silver solder"
metal = "silver"
fineness = 600
[[stages]]
name = "melt"
takes_metal = true
loss_fine_share_percent = 50
[[stages]]
name = "cut"
cuts = true
[[stages]]
name = "polish"
recovery_percent = 50
[policy]
loss_percent = 4
filings_recovery_percent = 90
refining_charge_percent = 0
"""
PRICES = [{"date": "2026-01-01", "metal": metal, "price": price, "per": "g", "currency": "EUR"} for metal, price in (("gold", 100.0), ("silver", 1.0))]


def costing_of(orders, labour=(), toml=TOML, **tables):
    shop = shop_of(toml, orders=orders, labour=labour, metal_prices=PRICES, **tables)
    return cost(shop, date(2026, 6, 30))


def one(labour=(), toml=TOML, tables=None, **cells):
    """Return the costed order "x": 48 g gross, delivered on 20 March, with the cells and cards given."""
    usual = {"finished_weight_g": 48.0, "quoted_weight_g": 48.0, "delivered_on": "2026-03-20"}
    return costing_of([order("x", **usual | cells)], labour, toml, **(tables or {})).orders.iloc[0]


WEIGHED = [
    entry("x", "melt", "A", "2026-03-03", 1.0, weight_in_g=56.0, weight_out_g=55.0),
    entry("x", "cut", "A", "2026-03-04", 1.0, weight_in_g=55.0, weight_out_g=50.0, scrap_back_g=4.0),
    entry("x", "polish", "A", "2026-03-05", 1.0, weight_in_g=50.0, weight_out_g=48.0),
]


def test_gross_loss_by_weighings_leaves_clean_scrap_out():
    """56 in − 4 scrap − 48 finished = 4."""
    assert (one(WEIGHED)["gross_loss_g"], one(WEIGHED)["loss_basis"]) == (pytest.approx(4.0), "weighings")


def test_each_stage_loses_its_own_drop():
    """1 g at melting, 1 at cutting, 2 at polishing, nothing between."""
    costing = costing_of([order("x", finished_weight_g=48.0, delivered_on="2026-03-20")], WEIGHED)
    assert costing.stage_share.tolist() == [pytest.approx([0.25, 0.25, 0.5, 0.0])]


def test_loss_between_the_stages_is_told_apart():
    """A gram missing between cutting and polishing is of no stage."""
    cards = [*WEIGHED[:2], WEIGHED[2] | {"weight_in_g": 49.0}]
    costing = costing_of([order("x", finished_weight_g=48.0, delivered_on="2026-03-20")], cards)
    assert costing.stage_share.tolist() == [pytest.approx([0.25, 0.25, 0.25, 0.25])]


def test_net_loss_takes_each_stages_recovery():
    """(1 + 1) × (1 − 0.9) + 2 × (1 − 0.5) = 1.2 g gross."""
    assert one(WEIGHED)["net_loss_g"] == pytest.approx(1.2)


def test_base_metal_burnt_off_is_no_fine_loss():
    """Half of the gram lost at melting is alloy: φ 0.760 × (0.5 + 1 + 2) gross and 0.760 × (0.05 + 0.1 + 1) net."""
    found = one(WEIGHED)
    assert (found["gross_loss_fine_g"], found["net_fine_g"]) == pytest.approx((0.76 * 3.5, 0.76 * 1.15))


def test_a_rich_melt_is_paid_in_full():
    """In the piece 0.760 × 48 g fine, though the mark says 750."""
    assert one(WEIGHED)["metal_at_fix"] == pytest.approx(0.76 * 48 * 100)


def test_metal_is_billed_by_the_mark():
    """at_delivery bills 0.750 × 48 g, the rich melt is the shop's."""
    assert one(WEIGHED, metal_terms="at_delivery")["metal_billed"] == pytest.approx(0.75 * 48 * 100)


def test_findings_and_stones_are_not_melted():
    """5 g of clasp and 3 g of stones inside 48 g: 40 g of alloy, and 8 g more came in than the first weight."""
    cards = [WEIGHED[0] | {"weight_in_g": 44.0, "weight_out_g": 43.0}]
    found = one(cards, findings_g=5.0, not_metal_g=3.0, findings_cost=70.0)
    assert found[["own_fine_g", "gross_loss_g", "findings"]].tolist() == pytest.approx([0.76 * 40, 4.0, 70.0])


def test_solder_brings_its_own_fineness():
    """2 g of 700 solder in 48 g: 0.760 × 46 + 1.4 g fine, 4 money of cost; 54 + 2 − 4 − 48 = 4 lost."""
    cards = [WEIGHED[0] | {"weight_in_g": 54.0}, *WEIGHED[1:2], WEIGHED[2] | {"solder": "hard", "solder_g": 2.0}]
    found = one(cards)
    assert found[["own_fine_g", "gross_loss_g", "other_metals"]].tolist() == pytest.approx([0.76 * 46 + 1.4, 4.0, 4.0])


def test_solder_of_another_metal_is_not_fine():
    """Silver solder on gold adds no gold."""
    cards = [WEIGHED[0] | {"solder": "silver solder", "solder_g": 2.0}, *WEIGHED[1:]]
    assert one(cards)["own_fine_g"] == pytest.approx(0.76 * 46)


def test_solder_unknown_to_the_settings_counts_as_the_alloy():
    """Nobody told its fineness: that of the alloy."""
    cards = [WEIGHED[0] | {"solder": "left over", "solder_g": 2.0}, *WEIGHED[1:]]
    assert one(cards)["own_fine_g"] == pytest.approx(0.76 * 48)


def test_without_any_record_policy_tells():
    """p = 4 %: 0.04 × 48 ÷ 0.96 = 2 g gross."""
    assert (one()["gross_loss_g"], one()["loss_basis"]) == (pytest.approx(2.0), "policy")


def test_a_card_weighed_only_late_does_not_tell_the_whole_loss():
    """First weighed before polishing, after a visit to melting: policy stands."""
    assert one([entry("x", "melt", "A", "2026-03-03", 1.0), WEIGHED[2]])["loss_basis"] == "policy"


def test_without_a_stage_that_takes_metal_the_first_visit_counts():
    """Where no stage takes metal, weights from the first visit on are the whole loss."""
    assert one(WEIGHED, TOML.replace("takes_metal = true", ""))["loss_basis"] == "weighings"


def test_a_gain_is_left_aside_and_told():
    """40 g given out cannot finish as 48: policy, and a finding."""
    costing = costing_of(
        [order("x", finished_weight_g=48.0, delivered_on="2026-03-20")], [WEIGHED[0] | {"weight_in_g": 40.0, "weight_out_g": 40.0}]
    )
    assert (costing.orders["loss_basis"].tolist(), [f.code for f in costing.findings if f.code == "weighings_contradict"]) == (
        ["policy"],
        ["weighings_contradict"],
    )


def test_a_scale_readings_gain_is_no_loss():
    """0.02 g gained is the scale: a loss of 0, by weighings."""
    assert one([WEIGHED[0] | {"weight_in_g": 47.98, "weight_out_g": 48.0}])[["gross_loss_g", "loss_basis"]].tolist() == [0.0, "weighings"]


BOOK = {"stage": None, "alloy": "18k", "given_g": 1000.0, "work_back_g": 950.0, "scrap_back_g": 12.0, "filings_back_g": 20.0}


def book(first, last, **cells):
    return BOOK | {"from": first, "to": last} | cells


def test_the_metal_book_counts_filings_as_lost():
    """1000 − 950 − 12 = 38 on 950 g finished: 48 × 38 ÷ 950 = 1.92."""
    found = one(tables={"metal_book": [book("2026-03-01", "2026-03-31")]})
    assert (found["gross_loss_g"], found["loss_basis"]) == (pytest.approx(1.92), "metal_book")


def test_the_metal_books_stages_multiply_along_the_route():
    """2 % at melting and 1 % at polishing: 48 × (1.02 × 1.01 − 1) = 1.4496."""
    rows = [
        book("2026-03-01", "2026-03-31", stage="melt", given_g=1020.0, work_back_g=1000.0, scrap_back_g=0.0),
        book("2026-03-01", "2026-03-31", stage="polish", given_g=1010.0, work_back_g=1000.0, scrap_back_g=0.0),
    ]
    assert one(tables={"metal_book": rows})["gross_loss_g"] == pytest.approx(48 * (1.02 * 1.01 - 1))


def test_a_metal_book_closed_after_the_month_does_not_tell_it():
    """A book of the whole half year was not yet known in March: the one of February tells."""
    rows = [book("2026-01-01", "2026-06-30"), book("2026-02-01", "2026-02-28", work_back_g=969.0)]
    assert one(tables={"metal_book": rows})["gross_loss_g"] == pytest.approx(48 * 19 / 969)


def test_weighings_win_over_the_metal_book():
    """An order weighed whole tells its own loss."""
    assert one(WEIGHED, tables={"metal_book": [book("2026-03-01", "2026-03-31")]})["loss_basis"] == "weighings"


def row(day, kind, grams, **cells):
    return {"date": day, "kind": kind, "metal": "gold", "gross_g": grams, "fineness": 1000.0} | cells


def test_the_ledger_tells_the_loss_between_two_counts():
    """1000 bought, 500 counted after 760 × 0.6 = 456 delivered: 44 lost of 500 worked, 8.8 %; the next order loses at that rate."""
    ledger = [row("2026-01-01", "stock_count", 0.0), row("2026-01-02", "bought", 1000.0), row("2026-02-15", "stock_count", 500.0)]
    early = order("first", ordered_on="2026-01-05", finished_weight_g=600.0, quoted_weight_g=600.0, delivered_on="2026-02-10")
    late = order("x", finished_weight_g=48.0, quoted_weight_g=48.0, delivered_on="2026-03-20")
    found = costing_of([early, late], metal_ledger=ledger).orders.set_index("order_id")
    assert found["loss_basis"].to_dict() == {"first": "policy", "x": "ledger"}
    assert found.loc["x", "gross_loss_g"] == pytest.approx(48 * 44 / 456)


def lot(name, sent, back, grams):
    return [row(sent, "filings_sent", 5.0, lot=name), row(back, "refined_back", grams, lot=name)]


def test_settled_lots_measure_recovery_as_one_number():
    """Between the lots 3.5 × 0.76 = 2.66 g fine were recorded as lost and 2.128 came back: 80 %, whatever the stages say."""
    orders = [
        order("x", finished_weight_g=48.0, delivered_on="2026-03-20"),
        order("y", finished_weight_g=48.0, delivered_on="2026-05-20"),
    ]
    cards = [*WEIGHED, *(line | {"order_id": "y", "date": "2026-05-02"} for line in WEIGHED)]
    ledger = [row("2026-01-01", "stock_count", 900.0), *lot("L1", "2026-02-01", "2026-03-01", 9.0), *lot("L2", "2026-04-01", "2026-05-01", 2.128)]
    found = costing_of(orders, cards, metal_ledger=ledger).orders.set_index("order_id")
    assert found["recovery_basis"].to_dict() == {"x": "stages", "y": "lots"}
    assert found.loc["y", "net_loss_g"] == pytest.approx(4.0 * 0.2)


def test_lots_do_not_measure_recovery_of_a_loss_that_was_only_assumed():
    """Without weighings the loss between the lots is policy: recovery stays an assumption."""
    orders = [order("x", finished_weight_g=48.0, delivered_on="2026-03-20"), order("y", finished_weight_g=48.0, delivered_on="2026-05-20")]
    ledger = [row("2026-01-01", "stock_count", 900.0), *lot("L1", "2026-02-01", "2026-03-01", 9.0), *lot("L2", "2026-04-01", "2026-05-01", 1.0)]
    costing = costing_of(orders, metal_ledger=ledger)
    assert set(costing.orders["recovery_basis"]) == {"stages"}


def test_an_unusual_drop_at_a_cutting_stage_is_taken_as_scrap():
    """Twenty orders lose 1 g of 55 at cutting; one drops 20 g with no scrap noted: left out of its loss, and told."""
    orders, cards = [], []
    for number in range(21):
        name, drop = f"o{number}", 20.0 if number == 20 else 1.0
        orders.append(order(name, finished_weight_g=55.0 - drop, quoted_weight_g=55.0 - drop, delivered_on="2026-03-20"))
        cards.append(entry(name, "melt", "A", "2026-03-03", 1.0, weight_in_g=55.0, weight_out_g=55.0))
        cards.append(entry(name, "cut", "A", "2026-03-04", 1.0, weight_in_g=55.0, weight_out_g=55.0 - drop))
    costing = costing_of(orders, cards)
    assert costing.orders.set_index("order_id")["gross_loss_g"].to_dict() == pytest.approx({o["order_id"]: 1.0 for o in orders} | {"o20": 0.0})
    assert "unusual_drop" in [found.code for found in costing.findings]


def test_a_repair_without_metal_given_out_loses_none():
    """The piece is the customer's: no metal at the fix, no loss."""
    found = one([entry("x", "polish", "A", "2026-03-05", 1.0)], kind="repair")
    assert found[["metal_at_fix", "gross_loss_g", "loss_basis"]].tolist() == [0.0, 0.0, "none"]


def test_a_guarantee_made_anew_takes_metal():
    """Metal was given out on the card: it is the shop's."""
    assert one(WEIGHED, kind="guarantee")["metal_at_fix"] == pytest.approx(0.76 * 48 * 100)


def test_a_metal_without_prices_stops_its_orders_only():
    """Silver has no price: its order has no margin and no place in a sum, the gold order has."""
    orders = [order("x", finished_weight_g=48.0, delivered_on="2026-03-20"), order("s", alloy="925", finished_weight_g=48.0, delivered_on="2026-03-20")]
    shop = shop_of(TOML, orders=orders, metal_prices=PRICES[:1])
    costing = cost(shop, date(2026, 6, 30))
    margins = costing.orders.set_index("order_id")["making_margin"]
    assert margins.isna().to_dict() == {"x": False, "s": True}
    assert [found.level for found in costing.findings if found.code == "metal_unpriced"] == ["stop"]
    assert costing.months["making_margin"].sum() == pytest.approx(margins["x"])


def test_loss_counts_for_the_lot_that_left_after_the_work():
    """Filed before the second lot left, delivered after it: its 2.66 g fine are in that lot's sweeps, not in the next."""
    early = order("x", finished_weight_g=48.0, delivered_on="2026-04-20")
    late = order("y", finished_weight_g=48.0, delivered_on="2026-05-20")
    cards = [*WEIGHED, *(line | {"order_id": "y", "date": "2026-05-02"} for line in WEIGHED)]
    ledger = [row("2026-01-01", "stock_count", 900.0), *lot("L1", "2026-02-01", "2026-03-01", 9.0), *lot("L2", "2026-04-01", "2026-05-01", 2.128)]
    found = costing_of([early, late], cards, metal_ledger=ledger).orders.set_index("order_id")
    assert found.loc["y", "net_loss_g"] == pytest.approx(4.0 * 0.2)
