"""The shop as the owner gave it, cleaned: what every report starts from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from ..settings import Settings, load_settings
from .assemble import assemble, empty_table, fingerprint
from .files import find_sources
from .findings import Finding, Tally

__all__ = ["Finding", "Shop", "Tally", "empty_table", "load"]


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
        sha256 over settings and files: names the inputs.
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


def load(path: Path | str) -> Shop:
    """Read the owner's folder or workbook.

    Parameters
    ----------
    path : Path or str
        A folder of CSV files with shop.toml, or one workbook with shop.toml beside it.

    Raises
    ------
    SettingsError
        shop.toml cannot be read, or a key or value in it is wrong.
    DataError
        A needed table, column or row is missing, or a file cannot be read. Its `listing` holds the rejected and
        doubted rows of the tables that could be read.
    """
    sources = find_sources(Path(path))
    given = load_settings(sources.settings)
    parts = assemble(sources, given)
    return Shop(
        settings=parts.settings, tables=parts.tables, rejected=parts.rejected, doubted=parts.doubted, tallies=parts.tallies,
        findings=parts.findings, inputs=parts.inputs, fingerprint=fingerprint(parts.settings, parts.inputs),
    )  # fmt: skip
