"""The intake against bare readers of the same files."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pandas as pd
from python_calamine import CalamineWorkbook

from shoplib.intake import load

from .large_shop import write_large_shop
from .measure import Measure, interleaved, median, peak_mb, ratio

ROUNDS = 5
WORKBOOK_ROWS = 100_000


def csv_files() -> list[Measure]:
    """Time reading and checking every cell of a large shop against bare pandas.read_csv, and take its peak memory."""
    with tempfile.TemporaryDirectory() as home:
        folder = Path(home)
        write_large_shop(folder)
        ours, theirs = interleaved([lambda: load(folder), lambda: _bare_csv(folder)], ROUNDS)
        peaks = [peak_mb("import sys\nfrom shoplib.intake import load\nload(sys.argv[1])", home) for _ in range(3)]
    what = "reading and checking every cell of 100,000 orders and 1,000,000 labour rows ÷ bare pandas.read_csv"
    return [
        ratio("intake_time_over_read_csv", ours, theirs, what),
        median("intake_seconds", ours, "s", "the same, absolute"),
        median("intake_peak_mb", peaks, "MB", "peak memory of a fresh process that reads them"),
    ]


def _bare_csv(folder: Path) -> None:
    for name in ("orders.csv", "labour.csv", "metal_prices.csv"):
        pd.read_csv(folder / name)


def workbook() -> list[Measure]:
    """Time reading and checking a workbook of 100,000 rows against bare calamine."""
    with tempfile.TemporaryDirectory() as home:
        folder, path = Path(home), Path(home) / "shop.xlsx"
        write_large_shop(folder, WORKBOOK_ROWS // 10, WORKBOOK_ROWS - WORKBOOK_ROWS // 10)
        with pd.ExcelWriter(path, engine="xlsxwriter") as writer:
            for name in ("orders", "labour", "metal_prices"):
                _typed(pd.read_csv(folder / f"{name}.csv", dtype=object)).to_excel(writer, sheet_name=name, index=False)
        ours, theirs = interleaved([lambda: load(path), lambda: _bare_calamine(path)], ROUNDS)
    what = f"reading and checking a workbook of {WORKBOOK_ROWS:,} rows ÷ bare calamine"
    return [ratio("workbook_time_over_calamine", ours, theirs, what), median("workbook_seconds", ours, "s", "the same, absolute")]


def _typed(frame: pd.DataFrame) -> pd.DataFrame:
    """Return the text cells of a table as a spreadsheet would keep them: numbers as numbers, dates as dates."""
    for name in frame.columns:
        cells = frame[name]
        number = pd.to_numeric(cells, errors="coerce")
        day = pd.to_datetime(cells, errors="coerce", format="ISO8601") if number.isna().all() else pd.Series(pd.NaT, index=cells.index)
        frame[name] = cells.astype(object).mask(number.notna(), number).mask(day.notna(), day)
    return frame


def _bare_calamine(path: Path) -> None:
    book = CalamineWorkbook.from_path(str(path))
    for name in book.sheet_names:
        book.get_sheet_by_name(name).to_python()


BENCHES = {
    "intake_time_over_read_csv": csv_files,
    "intake_seconds": csv_files,
    "intake_peak_mb": csv_files,
    "workbook_time_over_calamine": workbook,
    "workbook_seconds": workbook,
}
