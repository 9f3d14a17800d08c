"""What `shoplib check` says: rows read, accepted, repaired, rejected and doubted, the first of each, and every finding."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

from ..intake import as_of as last_day
from ..intake import until
from . import sentences
from .lists import read_shop, spoken


def check(data: Path, out: Path, as_of: date | None = None, workers: bool = True) -> Iterator[str]:
    """Read a shop, write the two lists into `out`, and return what there is to say, line by line.

    Parameters
    ----------
    data, out : Path
        The shop, and the folder of the lists.
    as_of : date, optional
        Last day that counts; left out: told from the tables. Rows dated after it are counted.
    workers : bool
        False leaves the workers' codes out of the lists.

    Raises
    ------
    DataError, SettingsError
        The shop cannot be read.
    OutputError
        The lists cannot be written.
    """
    shop = read_shop(data, out, workers)
    yield from spoken(shop, out, workers)
    day = as_of or last_day(shop)
    yield f"Last day that counts: {sentences.day(day)}"
    for finding in until(shop, day).findings:
        yield f"{finding.level}: {finding.text}{f' ({finding.where})' if finding.where else ''}"
