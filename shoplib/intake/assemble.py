"""All tables read, then judged together: what rows and tables say of each other, the tallies and the lists."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from ..errors import DataError, shown
from ..settings import Settings
from .checks import doubts
from .checks.base import Book
from .columns import DTYPES, TABLES, Table
from .files import Source, Sources
from .findings import Finding, Flag, Tally, empty_listing, listing
from .formats import tell_formats
from .headings import check_mappings, known_headings
from .price_findings import check_rates, price_findings
from .repairs import repair_findings
from .rows import Reading, blank_marks, read_rows
from .sheet import read_source
from .take_up import take_up
from .text import sha256_of
from .wide import lay_out
from .words import Spellings

LEFT_ALONE = ("sheet_left_alone", "file_left_alone")


@dataclass(frozen=True)
class Parts:
    """What a Shop is made of; the fields are those of Shop."""

    settings: Settings
    tables: Mapping[str, pd.DataFrame]
    rejected: pd.DataFrame
    doubted: pd.DataFrame
    tallies: tuple[Tally, ...]
    findings: tuple[Finding, ...]
    inputs: dict[str, str]


def assemble(sources: Sources, given: Settings) -> Parts:
    """Read and judge all tables.

    Raises
    ------
    DataError
        As `load` says; every table is read first, so that all of their errors stand in one message.
    """
    check_mappings(given, sources.settings.read_text(encoding="utf-8-sig"))
    readings, errors = _read_all(sources, given)
    names = {source.table: source.name for source in sources.tables}
    tables = {name: readings[name].book.frame if name in readings else empty_table(table) for name, table in TABLES.items()}
    books = {name: readings[name].book if name in readings else Book(tables[name]) for name in TABLES}
    settings, taken_up = take_up(given, books)
    doubted = doubts(books, given, settings)
    lists = _lists(readings, names, doubted)
    errors += _lacking(sources, readings, tables, settings)
    if errors:
        error = DataError.together(errors)
        error.listing = lists
        raise error
    findings = [*sources.findings, *(one for reading in readings.values() for one in reading.remarks.findings)]
    findings += [one for name, reading in readings.items() for one in repair_findings(names[name], reading.remarks.repaired, reading.rows)]
    tallies = tuple(_tally(names[name], reading, doubted[name]) for name, reading in readings.items())
    inputs = _hashes(sources, readings)
    return Parts(settings, tables, *lists, tallies, (*findings, *taken_up, *price_findings(tables, settings)), inputs)


def _read_all(sources: Sources, settings: Settings) -> tuple[dict[str, Reading], list[DataError]]:
    spellings = _spellings(settings)
    readings, errors = dict[str, Reading](), list[DataError]()
    for source in sources.tables:
        try:
            readings[source.table] = _read(source, settings, spellings)
        except DataError as error:
            errors.append(error)
    return readings, errors


def _spellings(settings: Settings) -> Spellings:
    spellings = Spellings()
    spellings.learn("alloy", [alloy.code for alloy in settings.alloys])
    spellings.learn("stage", [stage.name for stage in settings.stages])
    spellings.learn("worker", [worker.code for worker in settings.workers])
    spellings.learn("solder", [solder.code for solder in settings.solders])
    spellings.learn("currency", [settings.shop.currency])
    for domain, pairs in settings.aliases.items():
        spellings.alias(domain, pairs)
    return spellings


def _read(source: Source, settings: Settings, spellings: Spellings) -> Reading:
    table = TABLES[source.table]
    series = settings.formats.metal_prices.series if table.name == "metal_prices" else ()
    known = known_headings(table, settings.headings.get(table.name, {}), [one.heading for one in series])
    sheet = read_source(source, table, known)
    if series:
        sheet = lay_out(sheet, series, blank_marks(settings))
    reading = read_rows(sheet, tell_formats(sheet, settings.formats), settings, spellings)
    if not len(sheet) and not table.need:
        text = f"{sheet.name} has headings only and counts as absent."
        reading.remarks.findings.append(Finding("note", "empty_table", text, sheet.name))
    return reading


def _lacking(sources: Sources, readings: Mapping[str, Reading], tables: Mapping[str, pd.DataFrame], settings: Settings) -> list[DataError]:
    """Return an error for each needed table that is missing, has no rows or none accepted."""
    errors = []
    given = {source.table: source.name for source in sources.tables}
    left = ", ".join(one.text.partition(": ")[2].rstrip(".") for one in sources.findings if one.code in LEFT_ALONE)
    for name in (name for name, table in TABLES.items() if table.need):
        if name not in given:
            errors.append(
                DataError(
                    f"the needed table {name} is missing", where=sources.settings.parent.name, to_do=f"add {name}.csv, or a sheet {name}"
                )
            )
        elif name in readings and not len(readings[name].rows):
            hint = f"fill it, or call the file or sheet that holds it {name} (left alone here: {left})" if left else "fill it"
            errors.append(DataError("a needed table has no rows below its headings", where=given[name], to_do=hint))
        elif name in readings and not len(tables[name]):
            errors.append(
                DataError("no row could be accepted", where=given[name], to_do="see rejected_rows.csv for each row and what to do")
            )
    if not errors and "metal_prices" in readings:
        try:
            check_rates(tables, settings)
        except DataError as error:
            errors.append(error)
    return errors


def _lists(
    readings: Mapping[str, Reading], names: Mapping[str, str], doubted: Mapping[str, list[Flag]]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    refused = [
        one_line_a_row(listing(names[name], one.rows, one.remarks.rejected)) for name, one in readings.items() if one.remarks.rejected
    ]
    odd = [listing(names[name], one.rows[one.kept], doubted[name]) for name, one in readings.items() if doubted[name]]
    return _joined(refused), _joined(odd)


def one_line_a_row(rejected: pd.DataFrame) -> pd.DataFrame:
    """Return the list with one line a row: the first cell that cannot be taken, the others named in its sentence."""
    again = rejected["row"].duplicated().to_numpy()
    if not again.any():
        return rejected
    other = rejected["column"].where(rejected["column"] != "", "the row") + ": " + rejected["what"]
    also = other[again].groupby(rejected["row"][again]).agg("; also ".join)
    first = rejected[~again].reset_index(drop=True)
    more = first["row"].map(also)
    return first.assign(what=first["what"].where(more.isna().to_numpy(), first["what"] + "; also " + more.fillna("").astype(object)))


def _joined(parts: list[pd.DataFrame]) -> pd.DataFrame:
    filled = [part for part in parts if len(part)]
    return pd.concat(filled, ignore_index=True) if filled else empty_listing()


def _tally(name: str, reading: Reading, doubted: list[Flag]) -> Tally:
    accepted = int(np.count_nonzero(reading.kept))
    odd = np.zeros(accepted, dtype=np.bool_)
    for flag in doubted:
        odd[flag.at] = True
    return Tally(name, len(reading.kept), accepted, len(reading.kept) - accepted, reading.repaired, int(odd.sum()))


def _hashes(sources: Sources, readings: Mapping[str, Reading]) -> dict[str, str]:
    known = {source.path: readings[source.table].sha256 for source in sources.tables}
    hashes = {shown(path): sha256 or sha256_of(path) for path, sha256 in known.items()}
    hashes[sources.settings.name] = sha256_of(sources.settings)
    return dict(sorted(hashes.items()))


def fingerprint(settings: Settings, inputs: Mapping[str, str]) -> str:
    """Return the name of these inputs: sha256 over the settings and the files' own hashes."""
    return hashlib.sha256((settings.model_dump_json() + repr(sorted(inputs.items()))).encode()).hexdigest()


def empty_table(table: Table) -> pd.DataFrame:
    """Return `table` without rows, all columns with their dtypes."""
    kinds = {one.name: "float64" if one.kind == "yes_no" and one.default is None else DTYPES[one.kind] for one in table.columns}
    return pd.DataFrame({name: np.empty(0, dtype=dtype) for name, dtype in kinds.items()} | {"row": np.empty(0, dtype=np.int64)})
