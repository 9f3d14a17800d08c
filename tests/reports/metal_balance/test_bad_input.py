"""Bad input is said, never a crash: each with its finding, and a page that can be drawn."""

import pytest

from shoplib.intake import load
from shoplib.reports import metal_balance
from shoplib.reports.blocks import Absent
from tests.metal.shops import AS_OF, PRICES, TOML, piece, row, shop, weighed

ORDERS = [piece("one", 46.0, "2026-02-20"), piece("two", None)]
CARDS = [
    weighed("one", "melt", "2026-02-02", 50.0, 49.8),
    weighed("one", "polish", "2026-02-10", 49.8, 46.2),
    weighed("two", "melt", "2026-03-02", 50.0, 49.9),
]
COUNTS = [row(f"2026-0{month}-{day}", "stock_count", grams) for month, day, grams in ((1, 31, 1000), (2, 28, 962.5), (3, 31, 925))]
FEW = metal_balance.Parameters(as_of=AS_OF)


def told(orders=ORDERS, labour=CARDS, ledger=COUNTS, **more):
    answer = metal_balance.answer(shop(orders, labour, ledger, **more), FEW)
    metal_balance.page(answer)
    return answer


def codes(answer, level=None):
    return [one.code for one in answer.findings if level in (None, one.level)]


def test_no_ledger():
    """Grams by the job cards stand; what cannot be told is said with what to write."""
    answer = told(ledger=[])
    assert "there is no metal ledger" in answer.headline
    assert "cannot_tell_no_ledger" in codes(answer, "stop")


def test_no_ledger_leaves_a_dashed_box_where_the_bridge_would_be():
    """No empty axis."""
    answer = metal_balance.answer(shop(ORDERS, CARDS), FEW)
    page = metal_balance.page(answer)
    assert isinstance(page["bridge"], Absent) and isinstance(page["unexplained"], Absent)


def test_no_count():
    """Purchases alone give no balance."""
    assert "cannot_tell_no_count" in codes(told(ledger=[row("2026-02-01", "bought", 100.0)]), "stop")


def test_one_count():
    """The second count closes the first balance."""
    assert "counted once, on 31" in told(ledger=COUNTS[:1]).headline.replace("\u00a0", " ")


def test_no_weighings():
    """Losses are assumed: nothing is called missing, and the headline says why."""
    bare = [{**card, "weight_in_g": None, "weight_out_g": None} for card in CARDS]
    answer = told(labour=bare)
    assert "was assumed, not weighed" in answer.headline and "cannot_tell_assumed" in codes(answer, "stop")


def test_no_job_cards():
    """Without labour nobody knows when metal left the safe."""
    assert "no job card says when metal left the safe" in told(labour=[]).headline


def test_weights_gained():
    """A card on which metal grows is left aside with a caution; the balance goes on."""
    wrong = [weighed("one", "melt", "2026-02-02", 40.0, 50.0), *CARDS[1:]]
    answer = told(labour=wrong)
    assert "weighings_contradict" in codes(answer, "warn")


def test_a_count_that_contradicts_the_ledger():
    """200 g counted where 960 g should lie: look for a row, a slip, a wrong fineness."""
    answer = told(ledger=[COUNTS[0], row("2026-02-28", "stock_count", 200.0)])
    assert "count_contradicts" in codes(answer, "warn")


def test_a_metal_that_was_never_priced():
    """Silver has no price: grams without money, no crash."""
    toml = TOML.replace("[[solders]]", '[[alloys]]\ncode = "925"\nmetal = "silver"\nfineness = 925\n[[solders]]')
    silver = [piece("ring", 20.0, "2026-02-20", alloy="925")]
    cards = [weighed("ring", "melt", "2026-02-02", 21.0, 20.0)]
    answer = told(orders=[*ORDERS, *silver], labour=[*CARDS, *cards], toml=toml)
    assert "metal_without_price" in codes(answer, "warn")
    assert answer.table("places").query("metal == 'silver'")["money"].isna().all()


def test_fineness_above_1000(tmp_path):
    """The row is rejected with its reason, and the report says that metal may be in it."""
    (tmp_path / "shop.toml").write_text(TOML)
    (tmp_path / "orders.csv").write_text("order_id,ordered_on,style,alloy,price,quoted_weight_g\none,2026-01-05,curb,18k,900,40\n")
    (tmp_path / "metal_prices.csv").write_text("date,metal,price,per\n2026-01-01,gold,100,g\n")
    (tmp_path / "metal_ledger.csv").write_text(
        "date,kind,metal,gross_g,fineness\n2026-01-31,stock_count,gold,100,1001\n2026-02-28,stock_count,gold,100,1000\n"
    )
    found = load(tmp_path)
    answer = metal_balance.answer(found, FEW)
    assert found.rejected["column"].tolist() == ["fineness"]
    assert "rejected_rows" in codes(answer, "warn")


def test_a_ledger_that_begins_mid_life():
    """First count after the first orders: what is on the benches then is the opening, and the balance closes."""
    answer = told(ledger=[row("2026-02-05", "stock_count", 1000.0), row("2026-02-28", "stock_count", 1000.0)])
    first = answer.table("balance").iloc[0]
    assert first["in_process_opening"] == pytest.approx(0.75 * 49.8) and first["unexplained"] == pytest.approx(0.0, abs=1e-6)


def test_more_sold_than_the_safe_held():
    """Below zero by the ledger: the costing's caution stands on this page too."""
    assert "pool_below_zero" in codes(told(ledger=[*COUNTS, row("2026-03-31", "sold", 3000.0)]), "warn")


def test_nothing_delivered_nothing_open():
    """A shop on its first day."""
    answer = told(orders=[piece("new", None)], labour=[], ledger=[])
    assert answer.headline.startswith("No metal was worked") and answer.figures == ()


def test_a_solder_below_the_mark_is_cautioned():
    """Solder of 300 ‰ draws the article below its mark: the law's part is named."""
    toml = TOML.replace("fineness = 700", "fineness = 300")
    cards = [*CARDS[:1], weighed("one", "polish", "2026-02-10", 49.8, 46.2, solder="hard", solder_g=2.0), CARDS[2]]
    answer = told(labour=cards, toml=toml)
    assert "solder_below_mark" in codes(answer, "warn")


def test_more_in_the_house_than_insured():
    """Above the sum insured in February and March."""
    answer = told(toml=TOML + "[policy]\ninsured_metal = 50000\n")
    assert "above_insured" in codes(answer, "warn")


def test_customers_metal_that_was_never_written_down():
    """An order in the customer's metal without customer_in."""
    orders = [piece("one", 46.0, "2026-02-20", metal_terms="customer_metal"), ORDERS[1]]
    assert "customer_in_missing" in codes(told(orders=orders), "warn")


def test_hostile_names_stay_text():
    """An order and a lot that look like HTML come back as they are."""
    name = "<img src=x onerror=alert(1)>"
    ledger = [*COUNTS, row("2026-03-01", "filings_sent", 2.0, lot=name), row("2026-03-01", "customer_in", 5.0, order_id=name)]
    orders = [*ORDERS, piece(name, 40.0, "2026-03-20", metal_terms="customer_metal")]
    answer = told(orders=orders, ledger=ledger)
    assert name in answer.table("filings")["lot"].tolist() and name in answer.table("customer_metal")["order_id"].tolist()


def test_prices_are_there():
    """The shops of these tests have a gold price, so that what is missing above is missing on purpose."""
    assert {price["metal"] for price in PRICES} == {"gold"}
