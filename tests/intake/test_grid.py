"""Rows and cells of a text file, against Python's own csv reader."""

import csv
import io

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from shoplib.intake.grid import cut, loose_rows
from shoplib.intake.text import PADDING, Text


def text_of(content: str) -> Text:
    data = content.encode("utf-8")
    return Text(np.frombuffer(data + bytes(PADDING + 1), dtype=np.uint8), len(data), "utf-8", (), "")


def cells(content: str, separator: str = ",", width: int = 3) -> list[list[str]] | None:
    grid = cut(text_of(content), separator)
    if grid is None:
        return None
    columns = [[column.texts()[code] for code in column.codes] for column in grid.columns(-1, width)]
    return [list(row) for row in zip(*columns, strict=True)]


def test_cells_are_cut_at_the_separator():
    """The plainest file."""
    assert cells("a,b,c\n1,2,3\n") == [["a", "b", "c"], ["1", "2", "3"]]


def test_a_quoted_cell_may_hold_separator_line_break_and_quote():
    """RFC 4180, section 2, rules 6 and 7."""
    assert cells('a,"b,\nc","say ""x"""\n1,2,3\n') == [["a", "b,\nc", 'say "x"'], ["1", "2", "3"]]


def test_windows_line_ends_leave_no_trace():
    """No return stays in the last cell."""
    assert cells("a,b,c\r\n1,2,\r\n") == [["a", "b", "c"], ["1", "2", ""]]


def test_a_short_row_lacks_its_last_cells():
    """They are blank."""
    assert cells("a,b,c\n1\n") == [["a", "b", "c"], ["1", "", ""]]


def test_a_crowded_row_is_told():
    """Only when something stands in the cells too many."""
    grid = cut(text_of("a,b\n1,2,3\n1,2,,\n1,2\n"), ",")
    assert grid is not None and grid.crowded(0, 2).tolist() == [True, False, False]


def test_a_quote_inside_an_unquoted_cell_breaks_the_rules():
    """Such a file is read line by line."""
    assert cells('a,5" chain,c\n') is None


def test_an_unclosed_quote_swallows_no_row():
    """Each line stays a row."""
    assert loose_rows(text_of('a,"b,c\n1,2,3\n'), ",") == [["a", "b", "c"], ["1", "2", "3"]]


def test_a_line_of_ten_megabytes_is_a_row():
    """Its cell is whole."""
    long = "x" * 10_000_000
    assert cells(f"a,b,c\n1,{long},3\n") == [["a", "b", "c"], ["1", long, "3"]]


_CELL = st.text(st.sampled_from('ab1.é€ ;"\n,'), max_size=90)


@settings(max_examples=300, deadline=None)
@given(st.lists(st.lists(_CELL, min_size=3, max_size=3), min_size=1, max_size=12))
def test_what_the_csv_writer_writes_is_read_back(rows):
    """Any cells at all, long ones included, quoted as the standard library quotes them."""
    buffer = io.StringIO()
    csv.writer(buffer, lineterminator="\n").writerows(rows)
    assert cells(buffer.getvalue()) == rows


def test_reading_loose_quotes_leaves_the_csv_module_as_it_was() -> None:
    """Its longest cell is a setting of the whole process."""
    before = csv.field_size_limit()
    assert (loose_rows(text_of('order_id,note\nA1,5" wide\n'), ","), csv.field_size_limit()) == ([["order_id", "note"], ["A1", '5" wide']], before)
