"""The last day that counts, and the shop as it was known on a day."""

from datetime import date

import pytest

from shoplib.intake import as_of, load, until

from .shops import ORDERS, labour, orders, said, shop

TWO = ("A1,solder,EV,2026-01-07,2", "A1,solder,MB,2026-01-07,2")


@pytest.mark.parametrize(
    ("rows", "day"),
    [
        (TWO, "2026-01-07"),
        ((*TWO, "A1,solder,EV,2026-01-09,2"), "2026-01-07"),
        ((*TWO, *["A1,solder,EV,2026-01-09,2"] * 3), "2026-01-09"),
        ((*TWO, "A1,solder,EV,2026-02-09,2", "A1,solder,MB,2026-02-09,2"), "2026-01-07"),
        ((*TWO, "A1,solder,EV,2026-02-07,2", "A1,solder,MB,2026-02-07,2"), "2026-02-07"),
        (("A1,solder,EV,2026-01-07,2", "A1,solder,EV,2026-01-08,2"), "2026-01-08"),
    ],
    ids=["two people", "one entry is not enough", "three entries", "33 days later", "31 days later", "one person, one entry a day"],
)
def test_the_last_day_that_counts_in_labour(tmp_path, rows, day):
    """Two people or three entries, within 31 days of the day before."""
    assert as_of(shop(tmp_path, labour=labour(*rows))) == date.fromisoformat(day)


def test_without_labour_the_last_delivery(tmp_path):
    """3 February."""
    assert as_of(shop(tmp_path)) == date(2026, 2, 3)


def test_without_labour_and_deliveries_the_last_order(tmp_path):
    """6 January; an order half a year later is taken for a typing error."""
    text = orders("A1,2026-01-05,curb,18k,10,5,,", "A2,2026-01-06,curb,18k,10,5,,", "A3,2026-07-06,curb,18k,10,5,,")
    assert as_of(shop(tmp_path, orders=text)) == date(2026, 1, 6)


def test_what_was_delivered_later_is_open(tmp_path):
    """Its weight is unknown as well."""
    row = until(shop(tmp_path), date(2026, 1, 31))["orders"].iloc[0]
    assert row[["delivered_on", "finished_weight_g"]].isna().all()


def test_orders_and_labour_exist_from_their_own_day(tmp_path):
    """Labour from its finish, orders from ordered_on."""
    made = shop(
        tmp_path,
        labour=labour(
            "A1,solder,EV,2026-01-05 08:00,2026-01-05 09:00",
            "A1,solder,EV,2026-01-05 23:00,2026-01-06 01:00",
            headings="order_id,stage,worker,start,finish",
        ),
    )
    known = until(made, date(2026, 1, 5))
    assert (len(known["orders"]), len(known["labour"]), len(known["metal_prices"])) == (1, 1, 2)


def test_rows_left_out_are_counted(tmp_path):
    """One order and one price lie after 4 January."""
    known = until(shop(tmp_path), date(2026, 1, 5))
    assert said(known, "rows_after") == ["1 row of orders dated after 2026-01-05 left out."]


def test_the_index_is_whole_again(tmp_path):
    """0 … n − 1."""
    known = until(shop(tmp_path, labour=labour(*TWO)), date(2026, 1, 5))
    assert known["orders"].index.tolist() == [0]


def test_nothing_later_moves_what_was_known(tmp_path):
    """Later rows and cells changed at will, the past stays the same."""
    quotes = "quote_id,quoted_on,style,alloy,weight_g,price,won,order_id\nQ1,2026-01-02,curb,18k,5,10,{},{}\n"
    headings = "order_id,ordered_on,style,alloy,price,quoted_weight_g,finished_weight_g,delivered_on,first_promised_on,promised_on"
    early = "A1,2026-01-02,curb,18k,10,5,{},{},2026-02-01,{}"
    first = shop(
        tmp_path / "a",
        orders=orders(early.format("5.0", "2026-02-03", "2026-02-02"), "A2,2026-02-01,curb,18k,10,5,5,2026-02-05,,", headings=headings),
        quotes=quotes.format("y", "A2"),
    )
    second = shop(
        tmp_path / "b",
        orders=orders(early.format("5.1", "2026-02-04", "2026-03-02"), "A9,2026-02-02,rope,18k,11,6,6,2026-02-05,,", headings=headings),
        quotes=quotes.format("n", ""),
    )
    day = date(2026, 1, 10)
    for name in ("orders", "quotes"):
        assert until(first, day)[name].drop(columns="row").equals(until(second, day)[name].drop(columns="row"))


def test_at_the_shops_own_day_the_present_promise_stands(tmp_path):
    """Nothing is taken back to the first promise."""
    headings = "order_id,ordered_on,style,alloy,price,quoted_weight_g,first_promised_on,promised_on"
    made = shop(tmp_path, orders=orders("A1,2026-01-02,curb,18k,10,5,2026-02-01,2026-02-09", headings=headings))
    assert str(until(made, as_of(made))["orders"]["promised_on"][0])[:10] == "2026-02-09"


def test_an_unplanned_absence_to_come_is_unknown(tmp_path):
    """One that lasts is known up to the day; a planned one is known beforehand."""
    text = "worker,from,to,planned\nEV,2026-01-05,2026-01-20,n\nEV,2026-03-05,2026-03-20,n\nEV,2026-03-05,2026-03-20,y\n"
    known = until(shop(tmp_path, absences=text), date(2026, 2, 3))
    assert known["absences"]["planned"].tolist() == [False, True] and str(known["absences"]["to"][0])[:10] == "2026-01-20"


def test_a_hold_that_lasts_has_no_end_yet(tmp_path):
    """It ended later."""
    known = until(shop(tmp_path, holds="order_id,from,to\nA1,2026-01-05,2026-01-20\n"), date(2026, 1, 10))
    assert known["holds"]["to"].isna().all()


def test_the_fingerprint_tells_the_day(tmp_path):
    """The same shop on two days has two names."""
    made = shop(tmp_path)
    assert len({made.fingerprint, until(made, date(2026, 1, 5)).fingerprint, until(made, date(2026, 1, 6)).fingerprint}) == 3


def test_a_shop_without_a_date_is_still_read(tmp_path):
    """Orders always have one."""
    assert as_of(load(shop_folder(tmp_path))) == date(2026, 2, 3)


def shop_folder(tmp_path):
    shop(tmp_path, orders=ORDERS)
    return tmp_path
