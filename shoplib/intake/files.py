"""The owner's files found and opened: a folder of CSV files, or one workbook with a sheet per table."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from python_calamine import CalamineWorkbook

from ..errors import DataError
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
        Nothing there, several workbooks and no CSV files, or two files for one table.
    """
    if not path.exists():
        raise DataError("there is no such folder or workbook", where=str(path), to_do="give the folder that holds the tables with --data")
    if path.is_dir():
        return _folder(path)
    if path.suffix.lower() not in WORKBOOK_ENDINGS:
        raise DataError("this is neither a folder nor a workbook", where=path.name, allowed="a folder, " + ", ".join(WORKBOOK_ENDINGS))
    return _workbook(path, path.parent / "shop.toml", ())


def _folder(folder: Path) -> Sources:
    try:
        files = sorted(file for file in folder.iterdir() if file.is_file() and not file.name.startswith(("~$", ".")))
    except OSError as error:
        raise DataError("the folder cannot be opened", where=folder.name, found=error.strerror) from error
    texts = [file for file in files if file.suffix.lower() in TEXT_ENDINGS]
    books = [file for file in files if file.suffix.lower() in WORKBOOK_ENDINGS]
    tables = _named(texts)
    if books and not any(has_rows(source.path) for source in tables):
        if len(books) > 1:
            names = ", ".join(book.name for book in books)
            raise DataError("more than one workbook lies here", where=folder.name, found=names, to_do="give the one to read with --data")
        return _workbook(books[0], folder / "shop.toml", _left_alone([file.name for file in texts]))
    if not tables:
        raise DataError(
            "no table was found", where=folder.name, allowed="orders.csv, metal_prices.csv and others, or one workbook",
            to_do="`shoplib start DIR` writes empty tables",
        )  # fmt: skip
    others = [file.name for file in texts if file not in [source.path for source in tables]] + [book.name for book in books]
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
                f"two files hold the table {table}", where=f"{found[table].name}, {file.name}", to_do="keep one of them in the folder"
            )
        found[table] = Source(table, file.name, file)
    return tuple(found[table] for table in TABLES if table in found)


def _left_alone(names: list[str]) -> tuple[Finding, ...]:
    if not names:
        return ()
    return (Finding("note", "file_left_alone", f"Not a table of the tool, left alone: {', '.join(names)}.", names[0]),)


def _workbook(path: Path, settings: Path, findings: tuple[Finding, ...]) -> Sources:
    found: dict[str, Source] = {}
    others = []
    book = open_workbook(path)
    for sheet in book.sheet_names:
        table = fold_heading(sheet)
        if table not in TABLES:
            others.append(sheet)
        elif table in found:
            raise DataError(f"two sheets hold the table {table}", where=path.name, to_do="keep one of them")
        else:
            found[table] = Source(table, f"{path.name}/{sheet}", path, sheet, book)
    if not found:
        raise DataError("no sheet is named like a table", where=path.name, found=", ".join(others), allowed=", ".join(TABLES))
    if others:
        findings += (Finding("note", "sheet_left_alone", f"Not a table of the tool, left alone: sheet {', '.join(others)}.", path.name),)
    return Sources(tuple(found[table] for table in TABLES if table in found), settings, findings)
