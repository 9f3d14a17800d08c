"""What `shoplib check` says: rows read, accepted, repaired, rejected and doubted, the first of each, and every finding."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

from .lists import first_rows, read_shop, without_workers


def check(data: Path, out: Path, as_of: date | None = None, workers: bool = True) -> Iterator[str]:
    """Read a shop, write the two lists into `out`, and return what there is to say, line by line.

    Raises
    ------
    DataError, SettingsError
        The shop cannot be read.
    OutputError
        The lists cannot be written.
    """
    shop = read_shop(data, out, workers)
    for tally in shop.tallies:
        yield tally.line()
    for rows, word in ((shop.rejected, "rejected"), (shop.doubted, "doubted")):
        yield from first_rows(rows if workers else without_workers(rows), word, str(out / f"{word}_rows.csv"))
    for finding in shop.findings:
        yield f"{finding.level}: {finding.text}{f' ({finding.where})' if finding.where else ''}"
