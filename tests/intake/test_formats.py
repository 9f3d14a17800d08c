"""Formats of a file: told by cells that leave no doubt, else asked for, never guessed."""

import pytest

from shoplib.errors import DataError
from shoplib.intake import load

from .shops import orders, said, shop, write

SLASHED = "order_id,ordered_on,style,alloy,price,quoted_weight_g"


def test_day_first_is_told_by_a_day_over_twelve(tmp_path):
    """13/04 settles 03/04 of the same column, and it is said."""
    made = shop(tmp_path, orders=orders("A1,03/04/2025,curb,18k,10,5", "A2,13/04/2025,curb,18k,10,5", headings=SLASHED))
    assert str(made["orders"]["ordered_on"][0])[:10] == "2025-04-03" and "day first" in said(made, "format")[0]


def test_month_first_is_told_by_a_month_over_twelve(tmp_path):
    """04/13 settles 03/04."""
    made = shop(tmp_path, orders=orders("A1,03/04/2025,curb,18k,10,5", "A2,04/13/2025,curb,18k,10,5", headings=SLASHED))
    assert str(made["orders"]["ordered_on"][0])[:10] == "2025-03-04"


def test_another_column_of_the_file_may_tell(tmp_path):
    """delivered_on has 20/05, so ordered_on is day first as well."""
    headings = "order_id,ordered_on,style,alloy,price,quoted_weight_g,delivered_on"
    made = shop(tmp_path, orders=orders("A1,03/04/2025,curb,18k,10,5,20/05/2025", headings=headings))
    assert str(made["orders"]["ordered_on"][0])[:10] == "2025-04-03"


@pytest.mark.parametrize(
    "days",
    [("03/04/2025", "05/04/2025"), ("13/04/2025", "04/13/2025"), ("13/04/2025", "04/13/2025", "03/04/2025")],
    ids=["none tells", "disagree", "disagree, one open"],
)
def test_dates_that_can_be_read_both_ways_are_asked_for(tmp_path, days):
    """Never guessed: the message names the column and the key of shop.toml."""
    rows = [f"A{i},{day},curb,18k,10,5" for i, day in enumerate(days)]
    with pytest.raises(DataError, match=r"orders\.csv: .*ordered_on.*date_order"):
        shop(tmp_path, orders=orders(*rows, headings=SLASHED))


@pytest.mark.parametrize(("order", "day"), [("dmy", "2025-04-03"), ("mdy", "2025-03-04")])
def test_shop_toml_answers(tmp_path, order, day):
    """formats.date_order decides."""
    made = shop(tmp_path, f'[formats]\ndate_order = "{order}"\n', orders=orders("A1,03/04/2025,curb,18k,10,5", headings=SLASHED))
    assert str(made["orders"]["ordered_on"][0])[:10] == day


def test_a_date_both_ways_the_same_asks_nothing(tmp_path):
    """04/04 is the fourth of April anyhow."""
    assert len(shop(tmp_path, orders=orders("A1,04/04/2025,curb,18k,10,5", headings=SLASHED))["orders"]) == 1


def test_a_semicolon_file_with_decimal_commas_is_read(tmp_path):
    """As many spreadsheets write it; separator and comma are said."""
    text = (
        "order_id;ordered_on;style;alloy;price;quoted_weight_g\nA1;2025-04-03;curb;18k;1.250,50;48,25\nA2;2025-04-03;curb;18k;1.250;48,5\n"
    )
    made = shop(tmp_path, orders=text)
    assert made["orders"]["price"].tolist() == [1250.5, 1250.0]


def test_the_formats_found_are_said(tmp_path):
    """Semicolons and decimal comma in the findings."""
    made = shop(tmp_path, orders="order_id;ordered_on;style;alloy;price;quoted_weight_g\nA1;2025-04-03;curb;18k;12,5;48,2\n")
    assert "semicolons" in " ".join(said(made, "format")) and "decimal comma" in " ".join(said(made, "format"))


def test_tabs_part_columns(tmp_path):
    """A file pasted from a spreadsheet."""
    made = shop(tmp_path, orders="order_id\tordered_on\tstyle\talloy\tprice\tquoted_weight_g\nA1\t2025-04-03\tcurb\t18k\t12.5\t48.2\n")
    assert made["orders"]["price"].tolist() == [12.5]


def test_a_number_that_can_be_read_both_ways_is_asked_for(tmp_path):
    """1.250 in a semicolon file that tells nothing else."""
    write(tmp_path, orders="order_id;ordered_on;style;alloy;price;quoted_weight_g\nA1;2025-04-03;curb;18k;1.250;48\n")
    with pytest.raises(DataError, match=r"price holds numbers such as 1\.250.*\[formats\] decimal"):
        load(tmp_path)


@pytest.mark.parametrize(("sign", "price"), [(",", 1250.0), (".", 1.25)])
def test_shop_toml_names_the_decimal_sign(tmp_path, sign, price):
    """formats.decimal decides."""
    text = "order_id;ordered_on;style;alloy;price;quoted_weight_g\nA1;2025-04-03;curb;18k;1.250;48\n"
    assert shop(tmp_path, f'[formats]\ndecimal = "{sign}"\n', orders=text)["orders"]["price"].tolist() == [price]


def test_null_marks_of_shop_toml_mean_nothing(tmp_path):
    """An owner's own mark for blank."""
    made = shop(tmp_path, '[formats]\nnull_marks = ["?"]\n', orders=orders("A1,2025-04-03,curb,18k,10,5,?,?"))
    assert made["orders"]["finished_weight_g"].isna().all() and not len(made.rejected)
