"""Hostile cells and spoilt folders: every row is accepted or listed, and no error is a surprise.

10,000 random cells go through every reader; 500 small folders are spoilt at random and read.
"""

import csv
import io
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd
from hypothesis import HealthCheck, event, example, given, settings
from hypothesis import strategies as st

from shoplib.errors import ShoplibError
from shoplib.intake import load
from shoplib.intake.columns import LABOUR, METAL_PRICES, ORDERS, OVERHEADS
from shoplib.intake.dates import DateStyle, read_dates
from shoplib.intake.distinct import distinct_objects
from shoplib.intake.numbers import Style, evidence, read_numbers
from shoplib.intake.parsed import BLANK, PLAIN, REJECTED, REPAIRED, tidy
from shoplib.intake.words import Spellings, read_choices, read_codes, read_text, read_yes_no

from .shops import SETTINGS, adds_up

CELLS, EXAMPLES, FOLDERS = 25, 400, 500
BLANKS = frozenset({"", "-", "n/a"})

LIKELY = st.sampled_from(
    [
        "", " ", "-", "0", "1", "12,5", "1.250", "1,250.00", "1e5", "inf", "nan", "€ 5", "48.2 g", "2:30", "2026-01-07", "07/01/2026", "1/13/26", "45750", "1900-01-00", "2260-01-01",
        "31.02.2026", "18K Yellow", "y", "nein", "=1+1", "<b>x</b>", "{{x}}", "Total", "#REF!", "A1", "a 1", "A1; A2", "\x00", "\x1a", "x" * 300, "\u200b", "１２", "٣", "½", "²", "−5", "(5)",
        "5-", "'", '"', '5" chain', "2026-01-07 08:00", "08:00", "25:61", "\t5", "5\n6", "00:00", "9999-99-99", "1.2.3.4", ",", ".", ";", "0x10", "1_000", "+5", "--5", "5e", "١٢٣",
    ]
)  # fmt: skip
ANY_CELL = st.one_of(
    LIKELY,
    st.text(max_size=12),
    st.text(st.sampled_from("0123456789.,-/: eE€gkh'"), max_size=14),
    st.text(st.characters(codec="utf-8"), max_size=70),
).map(lambda text: text.replace("\r", "\n"))
"""A bare return, which the csv writer leaves unquoted, would be a line break to any reader; a line feed is quoted."""


def readings(cells):
    """Return the cells read in every way there is."""
    dmy, mdy = DateStyle("dmy", BLANKS), DateStyle("mdy", BLANKS)
    for column, decimal in (("price", "."), ("price", ","), ("quoted_weight_g", "."), ("pieces", ",")):
        yield read_numbers(cells, ORDERS.by_name[column], Style(decimal, "EUR", BLANKS))
    yield read_numbers(cells, LABOUR.by_name["hours"], Style(".", "EUR", BLANKS))
    for kind, style in (("date", dmy), ("date", mdy), ("timestamp", dmy), ("month", mdy), ("metal_prices", dmy)):
        yield read_dates(cells, style, kind)
    for table, column in (("orders", ORDERS.by_name["alloy"]), ("orders", ORDERS.by_name["style"]), ("labour", LABOUR.by_name["order_id"])):
        yield read_codes(cells, column, table, Spellings(), BLANKS)
    yield read_choices(cells, METAL_PRICES.by_name["metal"], {}, BLANKS)
    yield read_yes_no(cells, BLANKS)
    yield read_text(cells, BLANKS)


@settings(max_examples=EXAMPLES, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(st.lists(ANY_CELL, min_size=CELLS, max_size=CELLS))
@example(["\x00"] * CELLS)
def test_any_cell_gives_a_value_or_a_reason(texts):
    """Plain and repaired cells have a value, blank ones none, repaired and rejected ones a reason."""
    cells = distinct_objects(texts)
    evidence(cells)
    for parsed in readings(cells):
        valued = np.isin(parsed.state, (PLAIN, REPAIRED))
        assert (~pd.isna(parsed.values[valued])).all() and pd.isna(parsed.values[parsed.state == BLANK]).all()
        assert set(parsed.reasons) >= set(np.flatnonzero(np.isin(parsed.state, (REPAIRED, REJECTED))).tolist())


CLEAN = {
    "orders": [
        ["order_id", "ordered_on", "style", "alloy", "price", "kind", "quoted_weight_g", "finished_weight_g", "delivered_on", "rush"],
        ["A1", "2026-01-05", "curb", "18k yellow", "4250.00", "order", "47", "48.0", "2026-02-13", "n"],
        ["A2", "2026-01-06", "rope", "18k white", "3000.50", "order", "30", "", "", "y"],
        ["A3", "2026-01-16", "rope", "925", "300", "repair", "", "", "", ""],
        ["A4", "2026-01-20", "wheat", "18k yellow", "1250.00", "order", "12.125", "12.2", "2026-02-20", "n"],
    ],
    "labour": [
        ["order_id", "stage", "worker", "date", "hours", "start", "finish", "rework", "weight_in_g", "weight_out_g"],
        ["A1", "melt", "EV", "2026-01-07", "2.5", "2026-01-07 08:00", "2026-01-07 10:30", "n", "50", "49.5"],
        ["A1; A2", "cut", "MB", "2026-01-08", "1.25", "", "", "n", "49.5", "49.1"],
        ["A2", "solder", "EV", "2026-01-13", "3", "", "", "y", "", ""],
        ["", "", "MB", "2026-01-14", "1", "", "", "", "", ""],
    ],
    "metal_prices": [["date", "metal", "price"], ["2026-01-02", "gold", "92.10"], ["2026-01-05", "gold", "93"], ["2026-01-05", "silver", "1.05"]],
    "overheads": [[column.name for column in OVERHEADS.columns], ["2026-01", "", "", "rent", "900"], ["", "2026-01", "2026-12", "power", "80.5"]],
    "payments": [["order_id", "date", "amount"], ["A1", "2026-01-05", "1500"], ["A2", "2026-01-06", "-20"]],
}  # fmt: skip


@dataclass
class Spoilt:
    """A folder to be: rows of each table, and how they are written."""

    tables: dict[str, list[list[str]]] = field(default_factory=lambda: {name: [list(row) for row in rows] for name, rows in CLEAN.items()})
    encoding: str = "utf-8"
    separator: str = ","
    line_end: str = "\n"
    settings: str = SETTINGS
    raw: dict[str, bytes] = field(default_factory=dict)

    def write(self, folder: Path) -> dict[str, int]:
        """Write the folder; return how many rows below its headings each table has, where that can be told."""
        (folder / "shop.toml").write_text(self.settings, encoding="utf-8")
        for name, rows in self.tables.items():
            buffer = io.StringIO()
            csv.writer(buffer, delimiter=self.separator, lineterminator=self.line_end).writerows(rows)
            (folder / f"{name}.csv").write_bytes(buffer.getvalue().encode(self.encoding, errors="replace") + self.raw.get(name, b""))
        return {f"{name}.csv": sum(map(self.filled, rows[1:])) for name, rows in self.tables.items() if name not in self.raw}

    def filled(self, row: list[str]) -> bool:
        """Tell whether anything but spaces and control signs stands in a row as it is written."""
        return any(tidy(cell.encode(self.encoding, errors="replace").decode(self.encoding)) for cell in row)


@st.composite
def spoilt(draw) -> Spoilt:
    """Draw a spoilt folder: one to six things done to the clean one."""
    made = Spoilt()
    for _ in range(draw(st.integers(1, 6))):
        rows = made.tables[draw(st.sampled_from(sorted(made.tables)))]
        row = draw(st.integers(1, len(rows) - 1))
        if not rows[row] or not rows[0]:
            continue
        what = draw(
            st.sampled_from(
                ["cell", "cell", "cell", "cell", "row", "short", "long", "column", "written", "settings", "heading", "gone", "tail"]
            )
        )
        if what == "cell":
            rows[row][draw(st.integers(0, len(rows[row]) - 1))] = draw(ANY_CELL.filter(str.strip))
        elif what == "row":
            rows.insert(row, list(rows[row]))
        elif what == "short":
            rows[row] = rows[row][: draw(st.integers(1, len(rows[row])))] if rows[row][0].strip() else rows[row]
        elif what == "long":
            rows[row] = [*rows[row], "", draw(ANY_CELL)]
        elif what == "column":
            place = draw(st.integers(0, len(rows[0]) - 1))
            rows[:] = [one[:place] + one[place + 1 :] for one in rows] if len(rows[0]) > 1 else rows
        elif what == "written":
            made.encoding = draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252", "utf-16-be"]))
            made.separator = draw(st.sampled_from([",", ";", "\t"]))
            made.line_end = draw(st.sampled_from(["\n", "\r\n"]))
        elif what == "settings":
            made.settings = SETTINGS + draw(
                st.sampled_from(
                    [
                        '[formats]\ndate_order = "mdy"\n',
                        '[formats]\ndecimal = ","\n',
                        '[[stages]]\nname = "melt"\ncuts = true\n',
                        "[polcy]\n",
                        "[",
                        '[aliases.style]\nrope = "curb"\n',
                        '[headings.orders]\nprice = "x"\n',
                    ]
                )
            )
        elif what == "heading":
            rows[0][draw(st.integers(0, len(rows[0]) - 1))] = draw(ANY_CELL)
        elif what == "gone" and len(made.tables) > 1:
            made.tables.pop(draw(st.sampled_from(sorted(made.tables))))
        elif what == "tail":
            made.raw[draw(st.sampled_from(sorted(made.tables)))] = draw(
                st.sampled_from([b'"', b'x,"y\n', b"\x00\x00\n", b"\xff\xfe", b"\r\r", b",,,,,,,,,,,,,,,,,,,,x\n", b"A9", b"\n\n\n"])
            )
    return made


@settings(max_examples=FOLDERS, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(spoilt())
def test_a_spoilt_folder_loses_no_row_and_raises_no_surprise(case):
    """accepted + rejected = read = the rows that lie there, or an error in the one message form."""
    with tempfile.TemporaryDirectory() as home:
        rows = case.write(Path(home))
        try:
            made = load(Path(home))
        except ShoplibError as error:
            event("refused")
            assert str(error).strip() and "Traceback" not in str(error)
            return
    event("read")
    assert adds_up(made)
    assert {tally.file: tally.read for tally in made.tallies if tally.file in rows} == {
        name: rows[name] for name in rows if name in made.inputs
    }
