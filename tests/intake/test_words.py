"""Codes, choices, yes and no."""

import numpy as np
import pytest

from shoplib.intake.columns import ORDERS, Column
from shoplib.intake.distinct import distinct_objects
from shoplib.intake.parsed import BLANK, PLAIN, REJECTED, REPAIRED
from shoplib.intake.words import Spellings, read_choices, read_codes, read_yes_no

BLANKS = frozenset({"", "-"})


def codes(cells, name="style", table="orders", spellings=None, kind="code"):
    column = distinct_objects(cells)
    parsed = read_codes(column, Column(name, kind, ""), table, spellings or Spellings(), BLANKS)
    return [parsed.values[code] for code in column.codes], [int(parsed.state[code]) for code in column.codes]


def test_ids_that_differ_by_case_or_space_are_one():
    """A 12, a12 and A12 are the same order."""
    assert codes(["A12", "a12", "A 12", "A12 "], "order_id")[0] == ["A12"] * 4


def test_leading_zeros_are_kept():
    """0012 is not 12."""
    assert codes(["0012", "12"], "order_id")[0] == ["0012", "12"]


def test_the_usual_spelling_stands():
    """Two of three write rope."""
    assert codes(["Rope", "rope", "rope"]) == (["rope"] * 3, [REPAIRED, PLAIN, PLAIN])


def test_the_spelling_of_the_settings_stands():
    """shop.toml's own spelling wins over the rows'."""
    spellings = Spellings()
    spellings.learn("alloy", ["18k Yellow"])
    assert codes(["18K yellow", "18k yellow"], "alloy", spellings=spellings)[0] == ["18k Yellow"] * 2


def test_an_alias_is_read_as_what_it_means():
    """Cable is anchor here."""
    spellings = Spellings()
    spellings.alias("style", {"cable": "anchor"})
    assert codes(["Cable", "anchor"], spellings=spellings) == (["anchor", "anchor"], [REPAIRED, PLAIN])


def test_several_orders_of_one_melt_are_parted():
    """Each id is folded like one alone."""
    spellings = Spellings()
    spellings.learn("order", ["A12", "A13"])
    assert codes(["a12;A13", "A12; A13"], "order_id", "labour", spellings, "codes")[0] == ["A12; A13"] * 2


def test_an_alloy_whose_name_tells_nothing_is_rejected():
    """Neither metal nor fineness can be read from a nickname."""
    assert codes(["18k yellow", "house gold"], "alloy")[1] == [PLAIN, REJECTED]


def test_a_blank_word_is_missing():
    """Blank and null marks are None."""
    assert codes(["", "-", "rope"]) == ([None, None, "rope"], [BLANK, BLANK, PLAIN])


@pytest.mark.parametrize(
    ("cell", "value", "state"),
    [("at_delivery", "at_delivery", PLAIN), ("At delivery", "at_delivery", REPAIRED), ("customer metal", "customer_metal", REPAIRED)],
)
def test_a_choice_is_folded_to_its_word(cell, value, state):
    """Case, spaces and dashes make no difference."""
    parsed = read_choices(distinct_objects([cell]), ORDERS.by_name["metal_terms"], {}, BLANKS)
    assert (parsed.values[0], parsed.state[0]) == (value, state)


def test_an_unknown_choice_names_the_nearest():
    """'fixd' is answered with fixed."""
    parsed = read_choices(distinct_objects(["fixd"]), ORDERS.by_name["metal_terms"], {}, BLANKS)
    assert "fixed" in parsed.reasons[0].to_do


@pytest.mark.parametrize(("cell", "value"), [("y", 1.0), ("No", 0.0), ("ja", 1.0), ("TRUE", 1.0), ("0", 0.0), (True, 1.0)])
def test_yes_and_no_are_read(cell, value):
    """In the words and languages people use."""
    assert read_yes_no(distinct_objects([cell]), BLANKS).values[0] == value


def test_maybe_is_neither_yes_nor_no():
    """Rejected; a blank is missing."""
    parsed = read_yes_no(distinct_objects(["maybe", ""]), BLANKS)
    assert parsed.state.tolist() == [REJECTED, BLANK] and np.isnan(parsed.values).all()
