"""Numbers in cells: each way of writing one gives its value, or a reason."""

import numpy as np
import pytest

from shoplib.intake.columns import Column
from shoplib.intake.distinct import distinct_objects
from shoplib.intake.numbers import Style, evidence, read_numbers
from shoplib.intake.parsed import BLANK, PLAIN, REJECTED, REPAIRED

GRAMS = Column("quoted_weight_g", "number", "", "g gross", above_zero=True)
MONEY = Column("price", "number", "", "money")
HOURS = Column("hours", "number", "", "h", high=24.0)
ANY = Column("amount", "number", "", "money", low=float("-inf"))
POINT, COMMA = Style(".", "EUR", {"", "-", "n/a"}), Style(",", "EUR", {"", "-", "n/a"})


def one(text, column=MONEY, style=POINT):
    parsed = read_numbers(distinct_objects([text]), column, style)
    return float(parsed.values[0]), int(parsed.state[0]), parsed.reasons.get(0)


@pytest.mark.parametrize(
    ("text", "column", "style", "value"),
    [
        ("1,25", HOURS, POINT, 1.25), ("4.250,00", MONEY, POINT, 4250.0), ("4,250.00", MONEY, POINT, 4250.0), ("4 250,50", MONEY, POINT, 4250.5),
        ("4\u00a0250,50", MONEY, COMMA, 4250.5), ("4'250.50", MONEY, POINT, 4250.5), ("1.234.567", MONEY, POINT, 1234567.0), ("1.250", MONEY, COMMA, 1250.0),
        ("1,250", MONEY, POINT, 1250.0), ("1,250", MONEY, COMMA, 1.25), (" 12.5 ", MONEY, POINT, 12.5), ("48.2 g", GRAMS, POINT, 48.2), ("0.12 kg", GRAMS, POINT, 120.0),
        ("€ 1200", MONEY, POINT, 1200.0), ("1200 EUR", MONEY, POINT, 1200.0), ("7985 eur", MONEY, POINT, 7985.0), ("2:30", HOURS, POINT, 2.5), ("1h30", HOURS, POINT, 1.5),
        ("90 min", HOURS, POINT, 1.5), ("(12.50)", ANY, POINT, -12.5), ("12.50-", ANY, POINT, -12.5), ("−12.5", ANY, POINT, -12.5), ("１２．５", MONEY, POINT, 12.5),
        ("12.", MONEY, POINT, 12.0), ("1 dwt", GRAMS, POINT, 1.55517384),
    ],
)  # fmt: skip
def test_a_number_written_otherwise_is_repaired(text, column, style, value):
    """Its value is the one meant, and the repair is counted (worked by hand; 1 dwt = 31.1034768 ÷ 20 g)."""
    found, state, reason = one(text, column, style)
    assert (found, state, reason is not None) == (pytest.approx(value), REPAIRED, True)


@pytest.mark.parametrize(("text", "value"), [("0", 0.0), ("12", 12.0), ("12.50", 12.5), ("0012.50", 12.5), ("0.125", 0.125), (".5", 0.5)])
def test_a_plain_number_is_taken_as_it_stands(text, value):
    """Nothing is repaired in a plain number."""
    assert one(text)[:2] == (value, PLAIN)


@pytest.mark.parametrize("text", ["", "-", "N/A", "  ", " n/a "])
def test_a_blank_or_a_null_mark_is_missing(text):
    """Blank, with no repair to count."""
    value, state, _ = one(text)
    assert np.isnan(value) and state == BLANK


@pytest.mark.parametrize(
    ("text", "column", "code"),
    [
        ("ask Eva", MONEY, "not_a_number"), ("1.5.2", HOURS, "not_a_number"), ("-5", MONEY, "too_small"), ("0", GRAMS, "too_small"), ("25", HOURS, "too_large"),
        ("12 oz", GRAMS, "words_in_number"), ("12 USD", MONEY, "other_currency"), ("$12", MONEY, "other_currency"), ("#REF!", MONEY, "spreadsheet_error"), ("1e5", MONEY, None),
        ("nan", MONEY, "not_a_number"), ("inf", MONEY, "not_a_number"), ("1,2,3", MONEY, "not_a_number"), ("99999999999999999999", MONEY, "too_large"),
        ("=1+1", MONEY, None), ("12 13", MONEY, "not_a_number"), ("5%", MONEY, None),
    ],
)  # fmt: skip
def test_what_is_no_number_is_rejected_with_a_reason(text, column, code):
    """Rejected, never guessed, with what to do."""
    value, state, reason = one(text, column)
    assert state == REJECTED and reason.to_do and (code is None or reason.code == code)


def test_a_count_is_whole():
    """Two and a half pieces are refused."""
    parsed = read_numbers(distinct_objects(["2.5", "2"]), Column("pieces", "count", ""), POINT)
    assert parsed.state.tolist() == [REJECTED, PLAIN]


def test_a_number_out_of_bounds_says_the_bounds():
    """Hours of 25 say that 24 is the most."""
    assert "at most 24" in one("25", HOURS)[2].what


def test_evidence_counts_what_each_cell_can_mean():
    """12.50 has a point, 12,5 a comma, 1.250 either; 0.125 can only be a fraction."""
    found = evidence(distinct_objects(["12.50", "12,5", "1.250", "0.125", "7", "1,250.00"]))
    assert (found.point, found.comma, found.either) == (3, 1, 1)
