"""Headings: where they stand and what they mean."""

import pytest

from shoplib.errors import DataError, SettingsError

from .shops import ORDERS, orders, said, shop


def test_a_heading_row_below_a_title_is_found(tmp_path):
    """Rows keep the numbers a spreadsheet shows, and it is said."""
    made = shop(tmp_path, orders="Our orders,,,,,,,\n,,,,,,,\n" + ORDERS)
    assert made["orders"]["row"].tolist() == [4, 5] and "row 3" in said(made, "heading_row")[0]


def test_own_headings_are_mapped(tmp_path):
    """[headings.orders] names the shop's own."""
    text = ORDERS.replace("order_id", "Job No.")
    assert shop(tmp_path, '[headings.orders]\norder_id = "Job No."\n', orders=text)["orders"]["order_id"].tolist() == ["A1", "A2"]


def test_case_and_spaces_of_a_heading_make_no_difference(tmp_path):
    """'Order ID' is order_id."""
    assert len(shop(tmp_path, orders=ORDERS.replace("order_id", " Order ID "))["orders"]) == 2


def test_an_unknown_column_is_named_once_and_left_alone(tmp_path):
    """It is not in the table."""
    made = shop(
        tmp_path,
        orders=orders("A1,2026-01-05,curb,18k,10,5,hello", headings="order_id,ordered_on,style,alloy,price,quoted_weight_g,my notes"),
    )
    assert said(made, "column_left_alone") and "my notes" in said(made, "column_left_alone")[0] and "my notes" not in made["orders"]


def test_a_missing_column_stops(tmp_path):
    """With its name and two ways out."""
    with pytest.raises(DataError, match=r"orders\.csv: needed column missing: price.*\[headings\.orders\]"):
        shop(tmp_path, orders="order_id,ordered_on,style,alloy\nA1,2026-01-05,curb,18k\n")


def test_no_heading_row_stops(tmp_path):
    """The first row is shown."""
    with pytest.raises(DataError, match="no heading row"):
        shop(tmp_path, orders="1,2,3\n4,5,6\n")


def test_two_columns_with_one_heading_stop(tmp_path):
    """Which one is meant cannot be told."""
    with pytest.raises(DataError, match="two columns have this heading"):
        shop(
            tmp_path, orders=orders("A1,2026-01-05,curb,18k,10,5,6", headings="order_id,ordered_on,style,alloy,price,quoted_weight_g,Price")
        )


@pytest.mark.parametrize(
    ("settings", "message"),
    [
        (
            '[headings.ordrs]\norder_id = "x"\n',
            r"line 4, headings\.ordrs.*did you mean orders|line 4, headings\.ordrs.*Did you mean orders",
        ),
        ('[headings.orders]\nordr_id = "x"\n', r"headings\.orders\.ordr_id.*Did you mean order_id"),
        ('[aliases.styl]\na = "b"\n', r"aliases\.styl.*Did you mean style"),
    ],
)
def test_a_mapping_of_nothing_is_a_settings_error(tmp_path, settings, message):
    """With the nearest name."""
    with pytest.raises(SettingsError, match=message):
        shop(tmp_path, settings)
