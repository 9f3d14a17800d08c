"""A column as distinct cells and codes."""

from datetime import date, datetime, time, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.intake.distinct import as_text, codes_of, distinct_objects


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (1001.0, "1001"), (12.5, "12.5"), (True, "yes"), (None, ""), ("0012", "0012"), (date(2026, 3, 9), "2026-03-09"), (datetime(2026, 3, 9), "2026-03-09"),
        (datetime(2026, 3, 9, 8, 15), "2026-03-09 08:15:00"), (time(8, 15), "08:15:00"), (timedelta(hours=2, minutes=30), "02:30:00"), (0.1 + 0.2, "0.30000000000000004"),
    ],
)  # fmt: skip
def test_a_workbook_cell_becomes_the_text_a_spreadsheet_shows(value, text):
    """Dates as ISO, whole numbers without a point, every other number to its last digit."""
    assert as_text(value) == text


@given(st.lists(st.one_of(st.text(max_size=100), st.floats(allow_nan=False), st.integers(-5, 5)), max_size=40))
def test_codes_lead_back_to_the_cells(values):
    """Each row's code names its own text (NUL aside, which no cell can hold)."""
    cells = distinct_objects(values)
    texts = cells.texts()
    assert [texts[code] for code in cells.codes] == [as_text(value).replace("\0", "\x1a") for value in values]


@given(st.lists(st.tuples(st.integers(0, 3), st.integers(0, 2**64 - 1)), min_size=1, max_size=60))
def test_rows_share_a_code_exactly_when_all_keys_agree(rows):
    """Mixing keys into one number never joins two different rows."""
    keys = [np.array([row[i] for row in rows], dtype=np.uint64) for i in range(2)]
    met: dict[tuple[int, int], int] = {}
    assert codes_of(keys)[0].tolist() == [met.setdefault(row, len(met)) for row in rows]
