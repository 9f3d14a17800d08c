"""Filings and sweeps: lots, what was expected of them, and the second account."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.metal.filings import account, held_g, recovery_by_lot

from .shops import AS_OF, TOML, metals, piece, row, shop, weighed

POLICY = TOML + "[policy]\nfilings_recovery_percent = 90\n"
ORDERS = [piece(f"o{month}", 40.0, f"2026-0{month}-20") for month in (1, 2, 3)]
CARDS = [weighed(f"o{month}", "melt", f"2026-0{month}-10", 44.0, 40.0) for month in (1, 2, 3)]
SENT = [
    row("2026-01-31", "filings_sent", 6, "gold", 450.0, lot="F1"),
    row("2026-02-28", "filings_sent", 6, "gold", 450.0, lot="F2", due_on="2026-03-15"),
]


def lots(*more, toml=POLICY, sent=SENT):
    return metals(shop(ORDERS, CARDS, [row("2026-01-02", "stock_count", 500), *sent, *more], toml)).metals[0]


def test_a_lot_takes_what_was_lost_since_the_lot_before():
    """4 g of 18k lost in February are 3 g fine; 90 % of it are 2.7 g (worked by hand)."""
    found = lots().lots.set_index("lot")
    assert (found.loc["F2", "recorded_g"], found.loc["F2", "expected_g"]) == (pytest.approx(3.0), pytest.approx(2.7))


def test_nothing_is_expected_of_the_first_lot():
    """It holds filings of an unknown time before the records."""
    assert np.isnan(lots().lots.set_index("lot").loc["F1", "expected_g"])


def test_days_overdue_run_from_the_day_it_was_due():
    """Due 15 March, still out on the 31st: 16 days."""
    assert lots().lots.set_index("lot").loc["F2", "overdue_days"] == 16


def test_a_settled_lot_is_not_overdue():
    """Back on 20 March, late: settled is settled."""
    found = lots(row("2026-03-20", "refined_back", 2.6, lot="F2")).lots.set_index("lot")
    assert (found.loc["F2", "overdue_days"], found.loc["F2", "settled_g"]) == (0, 2.6)


def test_parts_of_a_return_add_up():
    """Two returns of one lot: their sum, settled with the last."""
    found = lots(row("2026-03-10", "refined_back", 2.0, lot="F2"), row("2026-03-12", "refined_back", 0.5, lot="F2")).lots.set_index("lot")
    assert (found.loc["F2", "settled_g"], found.loc["F2", "settled_on"].day) == (2.5, 12)


def test_a_return_without_a_lot_settles_the_oldest_that_is_out():
    """The first lot came back first."""
    found = lots(row("2026-02-25", "refined_back", 2.0)).lots.set_index("lot")
    assert (found.loc["F1", "settled_g"], bool(np.isnan(found.loc["F2", "settled_g"]))) == (2.0, True)


def test_a_return_of_an_unknown_lot_is_told_apart():
    """Never sent by the ledger: not told, nothing expected."""
    found = lots(row("2026-03-10", "refined_back", 2.0, lot="X")).lots.set_index("lot")
    assert found.loc["X", "sent"] == "not told"


def test_scrap_is_expected_as_it_was_sent():
    """10 g of 18k sent as scrap: 7.5 g fine."""
    found = lots(row("2026-03-01", "refining_sent", 10, "18k", None, lot="S")).lots.set_index("lot")
    assert (found.loc["S", "sent"], found.loc["S", "expected_g"]) == ("scrap", pytest.approx(7.5))


def test_without_a_due_day_the_longest_time_so_far_counts():
    """Two lots took 20 and 30 days; the third, sent on 1 March, is due on the 31st and not late yet."""
    sent = [
        row("2026-01-05", "filings_sent", 5, lot="A"),
        row("2026-01-20", "filings_sent", 5, lot="B"),
        row("2026-02-27", "filings_sent", 5, lot="C"),
    ]
    found = lots(row("2026-01-25", "refined_back", 2, lot="A"), row("2026-02-19", "refined_back", 2, lot="B"), sent=sent).lots.set_index(
        "lot"
    )
    assert (found.loc["C", "overdue_days"], str(found.loc["C", "due_on"].date())) == (2, "2026-03-29")


def test_palladium_that_comes_back_in_a_gold_lot_is_expected_of_it():
    """Filings are sent as gold; their palladium comes back under the same number."""
    toml = POLICY.replace("fineness = 750", "fineness = 750\nparts = { palladium = 100 }")
    ledger = [row("2026-01-02", "stock_count", 500, "palladium"), *SENT, row("2026-03-10", "refined_back", 0.3, "palladium", lot="F2")]
    palladium = metals(shop(ORDERS, CARDS, ledger, toml)).metals[-1]
    assert palladium.lots.set_index("lot").loc["F2", "expected_g"] == pytest.approx(0.36)


def test_what_is_held_is_in_the_house_or_at_the_refiner():
    """Closing of the account = filings in the house + lots at the refiner, as expected."""
    one = lots(row("2026-03-20", "refined_back", 2.6, lot="F2"))
    found = shop(ORDERS, CARDS, toml=POLICY)
    house, away = held_g(one.balance, metals(found).bench, one.lots, found.settings, np.array([AS_OF], dtype="datetime64[D]"))
    assert one.accounts["closing"].iloc[-1] == pytest.approx(float(house[0] + away[0]))


def test_recovery_of_the_settled_lots():
    """2.6 g of 3 g recorded: 867 ‰; one lot has no range."""
    share, low, _, n = recovery_by_lot(lots(row("2026-03-20", "refined_back", 2.6, lot="F2")).lots)
    assert (share, bool(np.isnan(low)), n) == (pytest.approx(2.6 / 3), True, 1)


@given(st.floats(0, 500), st.floats(0, 500), st.floats(0, 1), st.floats(0, 500), st.floats(0, 500))
def test_the_account_closes(opening, recorded, share, expected, back):
    """Opening and what was added = what was settled, what is still held; recorded loss = added and beyond recovery."""
    made = account(opening, recorded, share, expected, back)
    assert made.opening + made.added == pytest.approx(made.settled_as_expected + made.closing, abs=1e-9)
    assert made.added + made.beyond_recovery == pytest.approx(recorded)
