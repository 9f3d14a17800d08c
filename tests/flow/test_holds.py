"""Time on hold. Values worked by hand; no source."""

from datetime import date

from shoplib.flow.holds import hold_stretches, holds_by_reason

from .shops import order, table_of

ORDERS = table_of("orders", [order("1"), order("2")])


def hold(order_id, begin, end=None, why="part"):
    """Return a hold."""
    return {"order_id": order_id, "from": begin, "to": end, "why": why}


def stretches(*holds):
    """Return the stretches of the holds as first day and midnight after the last."""
    found = hold_stretches(table_of("holds", holds), ORDERS, date(2026, 3, 31))
    return [(begin.day, end.day) for begin, end in zip(found["begin"], found["end"], strict=True)]


def test_both_days_count():
    """From the 3rd to the 4th ends at the midnight of the 5th."""
    assert stretches(hold("1", "2026-03-03", "2026-03-04")) == [(3, 5)]


def test_overlapping_holds_are_one():
    """The 3rd to 6th and the 5th to 9th."""
    assert stretches(hold("1", "2026-03-03", "2026-03-06"), hold("1", "2026-03-05", "2026-03-09")) == [(3, 10)]


def test_a_hold_within_another_adds_nothing():
    """The long one reaches further."""
    assert stretches(hold("1", "2026-03-03", "2026-03-20"), hold("1", "2026-03-05", "2026-03-06"), hold("1", "2026-03-10", "2026-03-11")) == [(3, 21)]


def test_holds_of_two_orders_stay_apart():
    """Each order has its own."""
    assert stretches(hold("1", "2026-03-03", "2026-03-06"), hold("2", "2026-03-05", "2026-03-09")) == [(3, 7), (5, 10)]


def test_a_hold_without_end_lasts():
    """Until the last day seen."""
    assert stretches(hold("1", "2026-03-29")) == [(29, 1)]


def test_an_end_before_the_begin_is_no_hold():
    """Dates the wrong way round hold nothing."""
    assert stretches(hold("1", "2026-03-09", "2026-03-03")) == []


def test_an_unknown_order_is_passed_over():
    """No such order."""
    assert stretches(hold("9", "2026-03-03", "2026-03-04")) == []


def test_reasons_are_summed_inside_the_period():
    """Of the 30th of March to the 2nd of April, two days lie in April."""
    holds = table_of("holds", [hold("1", "2026-03-30", "2026-04-02"), hold("2", "2026-04-05", "2026-04-05", "assay")])
    found = holds_by_reason(holds, ORDERS, date(2026, 4, 1), date(2026, 4, 30)).set_index("why")
    assert found["days"].to_dict() == {"part": 2.0, "assay": 1.0}


def test_no_holds_no_reasons():
    """An empty table keeps its columns."""
    assert list(holds_by_reason(table_of("holds", []), ORDERS, date(2026, 4, 1), date(2026, 4, 30)).columns) == ["why", "holds", "orders", "days", "open"]
