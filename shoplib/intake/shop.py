"""The shop as the owner gave it, cleaned: what every report starts from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import pandas as pd

from ..settings import Settings


@dataclass(frozen=True)
class Finding:
    """Something the reader must know: ``stop`` (not shown), ``warn`` (caution) or ``note``.

    `text` is one sentence what and one what to do; `where` is file, row and column.
    """

    level: str
    code: str
    text: str
    where: str = ""


@dataclass(frozen=True)
class Tally:
    """Rows of one table: read = accepted + rejected; repaired and doubted count cells' rows among them."""

    file: str
    read: int
    accepted: int
    rejected: int
    repaired: int
    doubted: int


@dataclass(frozen=True)
class Shop:
    """What the owner gave, cleaned.

    Attributes
    ----------
    settings : Settings
        shop.toml with stages, alloys and workers taken up from the tables.
    tables : mapping of str to DataFrame
        Every table of `columns.TABLES`, all columns present with the dtypes of `columns.DTYPES`; absent tables have
        no rows. Row index is 0 … n−1; column ``row`` is the row number as the spreadsheet shows it.
    rejected, doubted : DataFrame
        Columns file, row, column, value, code, what, what_to_do.
    tallies : tuple of Tally
        One a file read.
    findings : tuple of Finding
        What was assumed, taken up, repaired or left alone.
    fingerprint : str
        sha256 over settings and accepted tables: names the inputs.
    inputs : mapping of str to str
        File name to sha256.
    """

    settings: Settings
    tables: Mapping[str, pd.DataFrame]
    rejected: pd.DataFrame
    doubted: pd.DataFrame
    tallies: tuple[Tally, ...] = ()
    findings: tuple[Finding, ...] = ()
    fingerprint: str = ""
    inputs: Mapping[str, str] = field(default_factory=dict)

    def __getitem__(self, table: str) -> pd.DataFrame:
        """Return one table by name."""
        return self.tables[table]
