"""Doubts: rows taken as they stand and shown, one test each."""

import pytest

from .shops import ORDER_HEADINGS, ORDERS, adds_up, codes, labour, orders, shop

TIMED = "order_id,stage,worker,start,finish,hours"
WEIGHED = "order_id,stage,worker,date,hours,weight_in_g,weight_out_g,scrap_back_g,solder_g"
STAGES = '[[stages]]\nname = "cut"\ncuts = true\n[[stages]]\nname = "solder"\n'


def doubted(tmp_path, settings="", **tables):
    made = shop(tmp_path, settings, **tables)
    assert adds_up(made)
    return made


def order_codes(tmp_path, *rows, headings=ORDER_HEADINGS):
    return codes(doubted(tmp_path, orders=orders(*rows, headings=headings)).doubted, "orders.csv")


def labour_codes(tmp_path, *rows, headings="order_id,stage,worker,date,hours", settings="", **tables):
    return codes(doubted(tmp_path, settings, labour=labour(*rows, headings=headings), **tables).doubted, "labour.csv")


def test_a_clean_shop_has_no_doubts(tmp_path):
    """Nothing is doubted without cause."""
    assert not len(shop(tmp_path, labour=labour("A1,solder,EV,2026-01-07,2", "A2,solder,EV,2026-01-08,3")).doubted)


def test_delivered_before_ordered(tmp_path):
    """One of the two dates is wrong."""
    assert order_codes(tmp_path, "A1,2026-02-05,curb,18k,10,5,5,2026-02-03") == {2: {"delivered_before_ordered"}}


@pytest.mark.parametrize(
    ("finished", "code"),
    [
        ("10.1", "weight_over_twice"),
        ("2.4", "weight_under_half"),
        ("5.2", "weight_over_quote"),
        ("5.15", None),
        ("2.5", None),
        ("10", "weight_over_quote"),
    ],
)
def test_a_finished_weight_far_from_the_quoted_one(tmp_path, finished, code):
    """Over twice, under half, or more than 3 % over 5 g; 5.15 g is exactly 3 %."""
    assert order_codes(tmp_path, f"A1,2026-02-01,curb,18k,10,5,{finished},2026-02-03").get(2) == ({code} if code else None)


def test_a_delivery_without_a_weight(tmp_path):
    """The quoted weight stands in."""
    assert order_codes(tmp_path, "A1,2026-02-01,curb,18k,10,5,,2026-02-03") == {2: {"delivered_without_weight"}}


def test_delivered_and_called_off(tmp_path):
    """Only one of the two can be."""
    row = "A1,2026-02-01,curb,18k,10,5,5,2026-02-03,2026-02-02"
    assert order_codes(tmp_path, row, headings=ORDER_HEADINGS + ",cancelled_on") == {2: {"delivered_and_cancelled"}}


def test_promised_before_ordered(tmp_path):
    """A promise for a day that was over."""
    row = "A1,2026-02-01,curb,18k,10,5,,,2026-01-02"
    assert order_codes(tmp_path, row, headings=ORDER_HEADINGS + ",promised_on") == {2: {"promised_before_ordered"}}


def test_an_order_without_a_price(tmp_path):
    """A guarantee may cost nothing, an order hardly."""
    assert order_codes(tmp_path, "A1,2026-02-01,curb,18k,0,5,,") == {2: {"price_zero"}}


def test_work_after_delivery(tmp_path):
    """The order went out on 3 February."""
    assert labour_codes(tmp_path, "A1,solder,EV,2026-02-04,2", "A1,solder,EV,2026-02-03,2") == {2: {"work_after_delivery"}}


def test_work_after_delivery_on_a_guarantee_is_no_doubt(tmp_path):
    """That is what a guarantee is."""
    text = orders("A1,2026-01-05,curb,18k,0,47,48,2026-02-03,guarantee", headings=ORDER_HEADINGS + ",kind")
    assert labour_codes(tmp_path, "A1,solder,EV,2026-02-04,2", orders=text) == {}


def test_labour_for_an_unknown_order(tmp_path):
    """Also one of several in a melt."""
    assert labour_codes(tmp_path, "A7,solder,EV,2026-01-07,2", "A1; A8,melt,EV,2026-01-07,2", ",melt,EV,2026-01-07,1") == {
        2: {"unknown_order"},
        3: {"unknown_order"},
    }


def test_labour_for_an_order_whose_row_was_rejected(tmp_path):
    """The order's own row is to be mended."""
    assert labour_codes(tmp_path, "A3,solder,EV,2026-01-07,2", orders=ORDERS + "A3,soon,curb,18k,10,5,,\n") == {2: {"order_rejected"}}


@pytest.mark.parametrize("table", ["payments", "holds", "quotes", "metal_ledger"])
def test_an_unknown_order_in_another_table(tmp_path, table):
    """Every table that names an order is looked at."""
    rows = {
        "payments": "order_id,date,amount\nA7,2026-01-07,10\n", "holds": "order_id,from\nA7,2026-01-07\n",
        "quotes": "quote_id,quoted_on,style,alloy,weight_g,price,won,order_id\nQ1,2026-01-07,curb,18k,5,10,y,A7\n",
        "metal_ledger": "date,kind,metal,gross_g,order_id\n2026-01-07,customer_in,18k yellow,5,A7\n",
    }  # fmt: skip
    assert codes(shop(tmp_path, **{table: rows[table]}).doubted) == {2: {"unknown_order"}}


def test_more_than_sixteen_hours_a_day(tmp_path):
    """9 + 8 hours of one person; another person's day is not meant."""
    found = labour_codes(tmp_path, "A1,solder,EV,2026-01-07,9", "A2,solder,EV,2026-01-07,8", "A1,solder,MB,2026-01-07,16")
    assert found == {2: {"hours_over_16"}, 3: {"hours_over_16"}}


def test_one_person_spelled_twice_is_one_person(tmp_path):
    """'EV' and 'ev ' together pass sixteen hours."""
    assert set(labour_codes(tmp_path, "A1,solder,EV,2026-01-07,9", "A2,solder,ev ,2026-01-07,8")) == {2, 3}


def test_entries_of_one_person_that_overlap(tmp_path):
    """The later one is named; another person's hours are not meant."""
    rows = (
        "A1,solder,EV,2026-01-07 08:00,2026-01-07 10:00,",
        "A2,file,EV,2026-01-07 09:59,2026-01-07 11:00,",
        "A2,file,MB,2026-01-07 08:00,2026-01-07 11:00,",
        "A1,cut,EV,2026-01-07 11:00,2026-01-07 12:00,",
    )
    assert labour_codes(tmp_path, *rows, headings=TIMED) == {3: {"overlap"}}


def test_an_entry_inside_a_long_one_overlaps(tmp_path):
    """Also when a third entry stands between them."""
    rows = (
        "A1,solder,EV,2026-01-07 08:00,2026-01-07 12:00,",
        "A2,file,EV,2026-01-07 08:10,2026-01-07 08:20,",
        "A2,file,EV,2026-01-07 10:00,2026-01-07 11:00,",
    )
    assert labour_codes(tmp_path, *rows, headings=TIMED) == {3: {"overlap"}, 4: {"overlap"}}


def test_more_hours_than_the_clock_allows(tmp_path):
    """Three hours between 8 and 10."""
    assert labour_codes(tmp_path, "A1,solder,EV,2026-01-07 08:00,2026-01-07 10:00,3", headings=TIMED) == {2: {"hours_over_clock"}}


def test_an_exact_duplicate_is_kept_and_doubted(tmp_path):
    """The second of two equal rows."""
    made = shop(tmp_path, labour=labour("A1,solder,EV,2026-01-07,2", "A1,solder,EV,2026-01-07,2", "A1,solder,EV,2026-01-07,3"))
    assert codes(made.doubted) == {3: {"repeated_row"}} and len(made["labour"]) == 3


def test_weight_gained_without_solder(tmp_path):
    """Half a gram more, and 0.1 g of solder; with 0.5 g of solder all is well."""
    rows = ("A2,solder,EV,2026-01-07,2,30,30.5,,0.1", "A2,solder,EV,2026-01-08,2,30,30.5,,0.5", "A2,solder,EV,2026-01-09,2,30,30.02,,")
    assert labour_codes(tmp_path, *rows, headings=WEIGHED) == {2: {"gained_without_solder"}}


def test_weight_gained_by_findings_is_explained(tmp_path):
    """The clasp weighs half a gram."""
    text = orders("A1,2026-01-05,curb,18k,10,30,,,0.5", headings=ORDER_HEADINGS + ",findings_g")
    assert labour_codes(tmp_path, "A1,solder,EV,2026-01-07,2,30,30.5,,", headings=WEIGHED, orders=text) == {}


def test_an_unusual_drop_at_a_cutting_stage(tmp_path):
    """Twelve usual drops of 0.1 to 0.3 %, one of 12 % without scrap, one of 12 % with its scrap, one at another stage."""
    usual = [f"A2,cut,EV,2026-01-{day:02d},1,30,{30 - 0.03 * (1 + day % 3):.2f},," for day in range(7, 19)]
    odd = ["A2,cut,EV,2026-01-20,1,30,26.4,,", "A2,cut,EV,2026-01-21,1,30,26.4,3.5,", "A2,solder,EV,2026-01-22,1,30,26.4,,"]
    assert labour_codes(tmp_path, *usual, *odd, headings=WEIGHED, settings=STAGES + '[[workers]]\ncode = "EV"\n') == {
        14: {"drop_without_scrap"}
    }


def test_a_worker_or_stage_unknown_to_shop_toml(tmp_path):
    """Only when shop.toml names any; both are taken up."""
    settings = '[[stages]]\nname = "solder"\n[[workers]]\ncode = "EV"\n'
    made = shop(tmp_path, settings, labour=labour("A1,solder,EV,2026-01-07,2", "A1,gild,ZZ,2026-01-08,2"))
    assert codes(made.doubted) == {3: {"unknown_stage", "unknown_worker"}} and [worker.code for worker in made.settings.workers] == [
        "EV",
        "ZZ",
    ]


def test_work_before_a_person_started(tmp_path):
    """shop.toml says from when."""
    settings = '[[workers]]\ncode = "EV"\nstarted_on = 2026-01-08\n'
    assert labour_codes(tmp_path, "A1,solder,EV,2026-01-07,2", "A1,solder,EV,2026-01-08,2", settings=settings) == {2: {"not_employed"}}


def test_a_spot_price_far_from_the_day_before(tmp_path):
    """A slip of the pen; the return to the old price is none."""
    made = shop(
        tmp_path, metal_prices="date,metal,price\n2026-01-02,gold,92\n2026-01-05,gold,29\n2026-01-06,gold,93\n2026-01-07,gold,110\n"
    )
    assert codes(made.doubted) == {3: {"spot_jump"}}


def test_two_prices_for_one_day(tmp_path):
    """The last one stands."""
    made = shop(tmp_path, metal_prices="date,metal,price\n2026-01-02,gold,92\n2026-01-02,gold,93\n")
    assert codes(made.doubted) == {3: {"second_price"}}


def test_a_rate_that_quotes_the_other_way_round(tmp_path):
    """1 USD = 0.80 EUR is written as 1.25: gold comes out dearer by 1.25² than what the shop paid."""
    prices = "date,metal,price,currency,per\n2026-01-02,gold,100,USD,g\n2026-02-02,gold,100,USD,g\n"
    ledger = "date,kind,metal,gross_g,fineness,cost\n" + "".join(f"2026-01-0{day},bought,gold,10,1000,800\n" for day in range(3, 7))
    made = shop(tmp_path, metal_prices=prices, fx="date,currency,rate\n2026-01-01,USD,1.25\n", metal_ledger=ledger)
    assert codes(made.doubted, "fx.csv") == {2: {"rate_inverse"}}


def test_a_rate_the_right_way_round_is_no_doubt(tmp_path):
    """With inverse = true the same table is right."""
    prices = "date,metal,price,currency,per\n2026-01-02,gold,100,USD,g\n"
    ledger = "date,kind,metal,gross_g,fineness,cost\n" + "".join(f"2026-01-0{day},bought,gold,10,1000,800\n" for day in range(3, 7))
    made = shop(
        tmp_path, "[formats.fx]\ninverse = true\n", metal_prices=prices, fx="date,currency,rate\n2026-01-01,USD,1.25\n", metal_ledger=ledger
    )
    assert not len(made.doubted)


@pytest.mark.parametrize(
    ("item", "odd"),
    [("Bench wages", True), ("Löhne Werkstatt", True), ("payroll", True), ("Rent", False), ("Lohnsteuerberater", True), ("Power", False)],
)
def test_an_overhead_named_like_wages(tmp_path, item, odd):
    """Bench wages are costed by the hour and do not belong there."""
    made = shop(tmp_path, overheads=f"month,item,amount\n2026-01,{item},900\n")
    assert (len(made.doubted) == 1) == odd


def test_metal_bought_far_off_spot(tmp_path):
    """10 g of fine gold at 500 when spot is 92 a gram."""
    made = shop(tmp_path, metal_ledger="date,kind,metal,gross_g,cost\n2026-01-05,bought,gold,10,500\n2026-01-05,bought,gold,10,930\n")
    assert codes(made.doubted) == {2: {"cost_off_spot"}}


def test_a_lot_that_was_never_sent(tmp_path):
    """Back from the refiner without having left."""
    made = shop(
        tmp_path,
        metal_ledger="date,kind,metal,gross_g,lot\n2026-01-02,filings_sent,18k yellow,40,L1\n2026-01-05,refined_back,gold,10,L1\n2026-01-05,refined_back,gold,10,L2\n2026-01-05,refined_back,gold,10,\n",
    )
    assert codes(made.doubted) == {4: {"unknown_lot"}, 5: {"no_lot"}}


def test_more_came_back_than_was_given_out(tmp_path):
    """In the metal book."""
    made = shop(tmp_path, metal_book="from,to,alloy,given_g,work_back_g\n2026-01-01,2026-01-31,18k yellow,100,101\n")
    assert codes(made.doubted) == {2: {"more_back_than_given"}}


def test_a_lost_quote_with_an_order(tmp_path):
    """Lost, and yet it became A1."""
    made = shop(tmp_path, quotes="quote_id,quoted_on,style,alloy,weight_g,price,won,order_id\nQ1,2026-01-02,curb,18k,5,10,n,A1\n")
    assert codes(made.doubted) == {2: {"lost_with_order"}}


def test_a_date_years_away_from_the_others(tmp_path):
    """2062 for 2026 is inside 1990 to 2100, and still odd."""
    rows = [f"A{day},2026-01-{day:02d},curb,18k,10,5,," for day in range(1, 29)]
    assert order_codes(tmp_path, *rows, "B1,2062-01-05,curb,18k,10,5,,") == {30: {"date_far_off"}}


def test_stones_heavier_than_the_piece(tmp_path):
    """6 g of stones in a piece of 5 g."""
    assert order_codes(tmp_path, "A1,2026-02-01,curb,18k,10,5,,,6", headings=ORDER_HEADINGS + ",not_metal_g") == {2: {"no_metal_left"}}
