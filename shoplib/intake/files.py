"""The owner's files found and opened: a folder of CSV files, or of workbooks whose sheets or files are named like tables."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from python_calamine import CalamineWorkbook

from ..errors import DataError, shown
from .columns import TABLES
from .findings import Finding
from .headings import fold_heading
from .sheets import open_workbook

TEXT_ENDINGS = (".csv", ".tsv", ".txt", ".tab")
WORKBOOK_ENDINGS = (".xlsx", ".xlsm", ".xlsb", ".xls", ".ods")


@dataclass(frozen=True)
class Source:
    """Where one table lies: a text file, or a sheet of an open workbook."""

    table: str
    name: str
    path: Path
    sheet: str = ""
    book: CalamineWorkbook | None = field(default=None, compare=False, repr=False)


@dataclass(frozen=True)
class Sources:
    """All tables found, the settings file, and what was left alone."""

    tables: tuple[Source, ...]
    settings: Path
    findings: tuple[Finding, ...] = ()


def find_sources(path: Path) -> Sources:
    """Return where each table of the shop at `path` (a folder or a workbook) lies.

    Raises
    ------
    DataError
        Nothing there, nothing named like a table, or two files or sheets for one table.
    """
    if not path.exists():
        raise DataError("there is no such folder or workbook", where=str(path), to_do="give the folder that holds the tables with --data")
    if path.is_dir():
        return _folder(path)
    if path.suffix.lower() not in WORKBOOK_ENDINGS:
        raise DataError("this is neither a folder nor a workbook", where=shown(path), allowed="a folder, " + ", ".join(WORKBOOK_ENDINGS))
    return _workbooks([path], path.parent / "shop.toml", ())


def _folder(folder: Path) -> Sources:
    try:
        files = sorted(file for file in folder.iterdir() if file.is_file() and not file.name.startswith(("~$", ".")))
    except OSError as error:
        raise DataError("the folder cannot be opened", where=folder.name, found=error.strerror) from error
    texts = [file for file in files if file.suffix.lower() in TEXT_ENDINGS]
    books = [file for file in files if file.suffix.lower() in WORKBOOK_ENDINGS]
    tables = _named(texts)
    if books and not any(has_rows(source.path) for source in tables):
        return _workbooks(books, folder / "shop.toml", _left_alone([shown(file) for file in texts]))
    if not tables:
        raise DataError(
            "no table was found", where=folder.name, allowed="orders.csv, metal_prices.csv and others, or one workbook",
            to_do="`shoplib start DIR` writes empty tables",
        )  # fmt: skip
    others = [shown(file) for file in texts if file not in [source.path for source in tables]] + [shown(book) for book in books]
    return Sources(tables, folder / "shop.toml", _left_alone(others))


def has_rows(path: Path) -> bool:
    """Tell whether a text file holds more than a heading row."""
    try:
        if path.stat().st_size > 10_000:
            return True
        return sum(bool(line.strip(b"\0 ,;\t\r")) for line in path.read_bytes().split(b"\n")) > 1
    except OSError:
        return True


def _named(files: list[Path]) -> tuple[Source, ...]:
    found: dict[str, Source] = {}
    for file in files:
        table = fold_heading(file.stem)
        if table not in TABLES:
            continue
        if table in found:
            raise DataError(
                f"two files hold the table {table}", where=f"{found[table].name}, {shown(file)}", to_do="keep one of them in the folder"
            )
        found[table] = Source(table, shown(file), file)
    return tuple(found[table] for table in TABLES if table in found)


def _left_alone(names: list[str]) -> tuple[Finding, ...]:
    if not names:
        return ()
    return (Finding("note", "file_left_alone", f"Not a table of the tool, left alone: {', '.join(names)}.", names[0]),)


def _workbooks(paths: list[Path], settings: Path, findings: tuple[Finding, ...]) -> Sources:
    found: dict[str, Source] = {}
    others = []
    for path in paths:
        named, left = _tables_of(path)
        others += left
        for source in named:
            found[source.table] = _fuller(found[source.table], source) if source.table in found else source
    if not found:
        raise DataError(
            "no sheet is named like a table", where=", ".join(map(shown, paths)), found=", ".join(others),
            allowed=", ".join(TABLES), to_do="name the sheet with the orders orders, the one with the metal prices metal_prices, and so on",
        )  # fmt: skip
    if others:
        text = f"Not a table of the tool, left alone: sheet {', '.join(others)}."
        findings += (Finding("note", "sheet_left_alone", text, shown(paths[0])),)
    return Sources(tuple(found[table] for table in TABLES if table in found), settings, findings)


def _tables_of(path: Path) -> tuple[list[Source], list[str]]:
    """Return the tables of a workbook and its other sheets: sheets named like tables, else the first of a workbook named like one."""
    book = open_workbook(path)
    tables = {sheet: fold_heading(sheet) for sheet in book.sheet_names if fold_heading(sheet) in TABLES}
    if not tables and fold_heading(path.stem) in TABLES and book.sheet_names:
        tables = {book.sheet_names[0]: fold_heading(path.stem)}
    named = [Source(table, f"{shown(path)}/{sheet}", path, sheet, book) for sheet, table in tables.items()]
    return named, [sheet for sheet in book.sheet_names if sheet not in tables]


def _fuller(one: Source, other: Source) -> Source:
    """Return the one of two sheets for a table that holds rows, as the tool's own empty workbook may lie beside the owner's.

    Raises
    ------
    DataError
        Both hold rows, or neither does.
    """
    filled = [source for source in (one, other) if _height(source) > 1]
    if len(filled) == 1:
        return filled[0]
    raise DataError(f"two sheets hold the table {one.table}", where=f"{one.name}, {other.name}", to_do="keep one of them")


def _height(source: Source) -> int:
    assert source.book is not None
    return int(source.book.get_sheet_by_name(source.sheet).height)
