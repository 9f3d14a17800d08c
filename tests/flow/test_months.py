"""The shop month by month. Values worked by hand; no source."""

from datetime import date

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shoplib.flow.months import littles_law, month_table, touch_hours
from shoplib.flow.visits import history

from .shops import TOML, entry, order, shop_of

ORDERS = [
    order("1", "2026-01-05", delivered_on="2026-01-25", finished_weight_g=40.0, promised_on="2026-01-30"),
    order("2", "2026-01-12", delivered_on="2026-02-11", finished_weight_g=60.0, first_promised_on="2026-02-06", promised_on="2026-02-13"),
    order("3", "2026-02-02", promised_on="2026-02-20"),
    order("4", "2026-02-09", cancelled_on="2026-02-16", promised_on="2026-02-25"),
    order("5", "2026-02-20"),
]
CARDS = [
    entry("1", "roll", "A", "2026-01-07", 2.0), entry("1", "solder", "A", "2026-01-08", 3.0), entry("2", "roll", "A", "2026-02-03", 1.0),
    entry("3", "roll", "A", "2026-02-27", 1.0),
]  # fmt: skip


def months(as_of=date(2026, 2, 28), count=12, orders=ORDERS, labour=CARDS, toml=TOML):
    """Return the month table of a small shop, by month."""
    return month_table(history(shop_of(toml, orders=orders, labour=labour), as_of), count).set_index("month")


def cell(column, month, **shop):
    """Return one value of the month table."""
    return months(**shop).loc[pd.Timestamp(f"2026-{month:02d}-01"), column]


def test_orders_in():
    """Two in January, three in February."""
    assert months()["orders_in"].tolist() == [2, 3]


def test_orders_out():
    """One in each month."""
    assert months()["orders_out"].tolist() == [1, 1]


def test_grams_out():
    """40 and 60 g."""
    assert months()["grams_out"].tolist() == [40.0, 60.0]


def test_fine_grams_out():
    """750 per mille of them."""
    assert months()["fine_out_g"].tolist() == [30.0, 45.0]


def test_work_in_process_at_the_end():
    """Order 2 at the end of January; 3 and 5 at the end of February."""
    assert months()["wip_orders"].tolist() == [1, 2]


def test_started_orders():
    """Order 2 had no entry in January; of 3 and 5 only 3 has one."""
    assert months()["started_orders"].tolist() == [0, 1]


def test_mean_work_in_process():
    """January: 20 days of order 1 and 20 of order 2 in 31 days."""
    assert cell("wip_mean_orders", 1) == pytest.approx(40 / 31)


def test_flow_days():
    """20 and 30 calendar days."""
    assert months()["flow_days_mean"].tolist() == [20.0, 30.0]


def test_touch_hours():
    """5 h on order 1, 1 h on order 2."""
    assert months()["touch_hours_mean"].tolist() == [5.0, 1.0]


def test_touch_hours_without_a_card_are_unknown():
    """Order 5 has no card: not nought hours."""
    assert np.isnan(touch_hours(history(shop_of(orders=ORDERS, labour=CARDS), date(2026, 2, 28)))[4])


def test_promises_due():
    """In February order 2 and order 3 fell due; order 4 was called off before."""
    assert months()["n_due"].tolist() == [1, 2]


def test_on_time_by_first_promise():
    """Order 2 came five days after its first promise, order 3 is late still."""
    assert months()["on_time_share"].tolist() == [1.0, 0.0]


def test_on_time_by_last_promise():
    """Order 2 kept its second promise."""
    assert months()["on_time_last_share"].tolist() == [1.0, 0.5]


def test_a_promise_to_come_is_not_due():
    """On 10 February the promise of the 20th has not fallen due."""
    assert cell("n_due", 2, as_of=date(2026, 2, 10)) == 1


def test_a_month_without_delivery_has_no_flow():
    """Nothing delivered: unknown, not nought."""
    assert np.isnan(cell("flow_days_mean", 2, as_of=date(2026, 2, 10)))


def test_a_running_month_is_partial():
    """On 10 February the month runs."""
    assert months(date(2026, 2, 10))["partial"].tolist() == [False, True]


def test_a_month_without_working_days_to_come_is_whole():
    """Friday 27 February is its last working day."""
    assert months(date(2026, 2, 27))["partial"].tolist() == [False, False]


def test_a_closure_to_the_end_of_the_month_makes_it_whole():
    """Shut from the 21st on."""
    toml = TOML.replace('day_end = "16:00"', 'day_end = "16:00"\nclosures = [["2026-02-21", "2026-03-01"]]')
    assert not months(date(2026, 2, 20), toml=toml)["partial"].any()


def test_the_running_month_comes_on_top_of_whole_ones():
    """One whole month and the running one."""
    assert len(months(date(2026, 2, 10), count=1)) == 2


def test_one_month_only():
    """A shop of one month has one row."""
    assert len(months(date(2026, 1, 31))) == 1


def test_no_order_yet():
    """A shop without orders has its running month, all nought."""
    assert months(orders=[], labour=[])["orders_in"].tolist() == [0]


def test_a_delivery_before_the_order_gives_no_flow():
    """A doubted row does not pull the mean below nought."""
    orders = [order("1", "2026-02-10", delivered_on="2026-02-01")]
    found = months(orders=orders, labour=[])
    assert np.isnan(found["flow_days_mean"].iloc[-1]) and found["wip_orders"].iloc[-1] == 0


def test_littles_law_on_a_shop_that_is_empty_at_both_ends():
    """With every order begun and ended inside, the law is exact."""
    orders = [order(str(n), f"2026-01-{n + 4:02d}", delivered_on=f"2026-02-{2 * n + 1:02d}") for n in range(8)]
    law = littles_law(history(shop_of(orders=orders), date(2026, 2, 28)), date(2026, 1, 1), date(2026, 2, 28))
    assert law.gap_days == pytest.approx(0.0, abs=1e-9)


def test_littles_law_without_a_delivery():
    """No output: no flow by the law."""
    law = littles_law(history(shop_of(orders=[order("1", "2026-01-05")]), date(2026, 1, 31)), date(2026, 1, 1), date(2026, 1, 31))
    assert np.isnan(law.flow_by_law_days) and law.wip_mean == pytest.approx(27 / 31)


STAYS = st.lists(st.tuples(st.integers(0, 120), st.integers(0, 60), st.sampled_from(["delivered_on", "cancelled_on", None])), min_size=1, max_size=25)


@settings(max_examples=25, deadline=None)
@given(STAYS)
def test_nothing_is_lost_between_months(stays):
    """Work in process = that of the month before + in − out − called off."""
    start = date(2026, 1, 1)
    day = lambda n: str(np.datetime64(start, "D") + n)  # noqa: E731
    orders = [order(str(k), day(a), **({how: day(a + b)} if how else {})) for k, (a, b, how) in enumerate(stays)]
    found = month_table(history(shop_of(orders=orders), date(2026, 7, 31)), None)
    change = found["orders_in"] - found["orders_out"] - found["cancelled"]
    assert found["wip_orders"].tolist() == change.cumsum().tolist()


@settings(max_examples=25, deadline=None)
@given(STAYS)
def test_mean_work_in_process_is_the_mean_of_its_days(stays):
    """The closed sum agrees with counting every day."""
    base = np.datetime64("2026-01-01", "D")
    orders = [order(str(k), str(base + a), **({how: str(base + a + b)} if how else {})) for k, (a, b, how) in enumerate(stays)]
    found = month_table(history(shop_of(orders=orders), date(2026, 7, 31)), None)
    counts = [sum(a <= d and (how is None or d < a + b) for a, b, how in stays) for d in range(212)]
    by_month = pd.Series(counts).groupby((base + np.arange(212)).astype("datetime64[M]").astype(int)).mean()
    assert found["wip_mean_orders"].tolist() == pytest.approx(by_month.tolist()[-len(found):])
