"""The shop as the owner gave it, cleaned: what every report starts from."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd

from ..errors import DataError
from ..settings import Settings, load_settings
from .columns import DTYPES, TABLES, Table
from .files import Source, find_sources
from .findings import Finding, Tally, empty_listing, listing
from .formats import tell_formats
from .headings import known_headings
from .rows import Reading, read_rows
from .sheet import read_source
from .take_up import take_up
from .words import Spellings

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
    settings = load_settings(sources.settings)
    spellings = _spellings(settings)
    readings = {source.table: _read(source, settings, spellings) for source in sources.tables}
    tables = {name: readings[name].frame if name in readings else empty_table(table) for name, table in TABLES.items()}
    names = {source.table: source.name for source in sources.tables}
    settings, taken_up = take_up(settings, tables)
    rejected = _listed([listing(names[name], reading.rows, reading.remarks.rejected) for name, reading in readings.items()])
    inputs = _hashes(sources.settings, sources.tables)
    return Shop(
        settings=settings, tables=tables, rejected=rejected, doubted=empty_listing(),
        tallies=tuple(_tally(names[name], reading) for name, reading in readings.items()),
        findings=(*sources.findings, *(finding for reading in readings.values() for finding in reading.remarks.findings), *taken_up),
        fingerprint=hashlib.sha256((settings.model_dump_json() + repr(sorted(inputs.items()))).encode()).hexdigest(), inputs=inputs,
    )  # fmt: skip


def _spellings(settings: Settings) -> Spellings:
    spellings = Spellings()
    spellings.learn("alloy", [alloy.code for alloy in settings.alloys])
    spellings.learn("stage", [stage.name for stage in settings.stages])
    spellings.learn("worker", [worker.code for worker in settings.workers])
    spellings.learn("solder", [solder.code for solder in settings.solders])
    for domain, pairs in settings.aliases.items():
        spellings.alias(domain, pairs)
    return spellings


def _read(source: Source, settings: Settings, spellings: Spellings) -> Reading:
    table = TABLES[source.table]
    sheet = read_source(source, table, known_headings(table, settings.headings.get(table.name, {})))
    if not len(sheet) and table.need:
        raise DataError("the table has a heading row and nothing below it", where=sheet.name, to_do="fill it")
    return read_rows(sheet, tell_formats(sheet, settings.formats), settings, spellings)


def _tally(name: str, reading: Reading) -> Tally:
    accepted = int(np.count_nonzero(reading.kept))
    return Tally(name, len(reading.kept), accepted, len(reading.kept) - accepted, reading.repaired, 0)


def _listed(parts: list[pd.DataFrame]) -> pd.DataFrame:
    filled = [part for part in parts if len(part)]
    return pd.concat(filled, ignore_index=True) if filled else empty_listing()


def _hashes(settings: Path, sources: tuple[Source, ...]) -> dict[str, str]:
    files = sorted({source.path for source in sources} | {settings})
    return {file.name: hashlib.sha256(file.read_bytes()).hexdigest() for file in files}


def empty_table(table: Table) -> pd.DataFrame:
    """Return `table` without rows, all columns with their dtypes."""
    kinds = {column.name: "float64" if column.kind == "yes_no" and column.default is None else DTYPES[column.kind] for column in table.columns}
    return pd.DataFrame({name: pd.Series(dtype=dtype) for name, dtype in kinds.items()} | {"row": pd.Series(dtype="int64")})
