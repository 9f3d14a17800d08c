"""What `shoplib check` says: rows read, accepted, repaired, rejected and doubted, the first of each, and every finding."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

from .lists import read_shop, spoken


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
    yield from spoken(shop, out, workers)
    for finding in shop.findings:
        yield f"{finding.level}: {finding.text}{f' ({finding.where})' if finding.where else ''}"
