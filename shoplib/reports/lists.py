"""The two lists every run writes: rejected_rows.csv and doubted_rows.csv."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path

import pandas as pd

from ..errors import DataError, OutputError
from ..intake.shop import Shop
from .opening import open_shop
from .place import write

RISKY = ("=", "+", "-", "@", "\t", "\r")
NAMED = 5


def read_shop(data: Path, out: Path, workers: bool = True) -> Shop:
    """Open a shop and write its two lists into `out`, also when the shop cannot be used but its tables could be read.

    Parameters
    ----------
    data : Path
        Folder or workbook.
    out : Path
        Folder of the lists.
    workers : bool
        False leaves the workers' codes out, so that the lists may be handed on.

    Raises
    ------
    SettingsError, DataError
        The shop cannot be used.
    OutputError
        The lists cannot be written.
    """
    try:
        shop = open_shop(data)
    except DataError as error:
        if error.listing:
            rejected, doubted = error.listing
            write_lists(out, rejected, doubted, workers)
        raise
    write_lists(out, shop.rejected, shop.doubted, workers)
    return shop


def write_lists(out: Path, rejected: pd.DataFrame, doubted: pd.DataFrame, workers: bool = True) -> None:
    """Write the two lists into `out`."""
    try:
        write(out / "rejected_rows.csv", as_csv(rejected, workers))
        write(out / "doubted_rows.csv", as_csv(doubted, workers))
    except OSError as error:
        what, hint = "the output folder cannot be written", "choose another with --out"
        raise OutputError(what, where=str(out), found=error.strerror, to_do=hint) from error


def as_csv(rows: pd.DataFrame, workers: bool = True) -> str:
    """Return a list as CSV (RFC 4180); text that a spreadsheet would take for a formula gets a leading apostrophe."""
    shown = rows if workers else without_workers(rows)
    buffer = io.StringIO(newline="")
    writer = csv.writer(buffer)
    writer.writerow(shown.columns)
    for row in shown.itertuples(index=False):
        writer.writerow([_cell(value) for value in row])
    return buffer.getvalue()


def without_workers(rows: pd.DataFrame) -> pd.DataFrame:
    """Return a list in which the workers' codes are left out."""
    about = rows["column"] == "worker"
    return rows.assign(value=rows["value"].mask(about, "left out"))


def _cell(value: object) -> str:
    if value is None or (isinstance(value, float) and value != value):
        return ""
    text = str(value)
    return "'" + text if text.startswith(RISKY) else text


def spoken(shop: Shop, out: Path, workers: bool = True) -> Iterator[str]:
    """Return what a terminal shows of the rows read: a line a file, then the first rejected and doubted rows."""
    yield from (tally.line() for tally in shop.tallies)
    for rows, word in ((shop.rejected, "rejected"), (shop.doubted, "doubted")):
        yield from first_rows(rows if workers else without_workers(rows), word, str(out / f"{word}_rows.csv"))


def first_rows(rows: pd.DataFrame, word: str, file: str) -> list[str]:
    """Return the lines a terminal shows of a list: the first five with file and row, and how many more."""
    lines = [f"  {word} {row.file} row {row.row}, {row.column}: {row.what}" for row in rows.head(NAMED).itertuples(index=False)]
    more = len(rows) - NAMED
    return [*lines, f"  and {more:,} more {word} in {file}"] if more > 0 else lines
