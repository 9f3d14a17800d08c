"""How a file writes numbers and dates: told by the cells that leave no doubt, else asked for, never guessed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ..errors import DataError
from ..settings import Formats
from .dates import DateEvidence, date_evidence
from .dates import told_by as date_told_by
from .findings import Finding
from .numbers import Evidence, evidence
from .numbers import told_by as number_told_by
from .sheet import Sheet

_DATES = ("date", "timestamp", "month")
_NUMBERS = ("number", "count")
_ORDERS = {"dmy": "day first", "mdy": "month first", "ymd": "year first"}


@dataclass(frozen=True)
class Written:
    """Decimal sign and date order of each column of one table."""

    decimal: Mapping[str, str]
    order: Mapping[str, str]
    findings: tuple[Finding, ...] = ()


def tell_formats(sheet: Sheet, formats: Formats) -> Written:
    """Tell how the columns of `sheet` are written.

    Raises
    ------
    DataError
        A column can be read in two ways and neither its other cells nor shop.toml tell which.
    """
    kinds = {name: sheet.table.by_name[name].kind for name in sheet.cells if name in sheet.table.by_name}
    numbers = {name: evidence(sheet.cells[name]) for name, kind in kinds.items() if kind in _NUMBERS}
    dates = {name: date_evidence(sheet.cells[name]) for name, kind in kinds.items() if kind in _DATES}
    decimal = {name: formats.decimal or _decimal(name, numbers, sheet) for name in numbers}
    order = {name: formats.date_order or _order(name, dates, sheet) for name in dates}
    return Written(decimal, order, _said(sheet, numbers, decimal, dates, order))


def _decimal(name: str, found: Mapping[str, Evidence], sheet: Sheet) -> str:
    """Return the decimal sign of a column: told by its own cells, else by the file's, else by the separator."""
    own, whole = found[name], sum(found.values(), Evidence())
    if not own.either:
        return "," if own.comma > own.point else "."
    for seen in (own, whole):
        if max(seen.point, seen.comma) > 9 * min(seen.point, seen.comma):
            return "," if seen.comma > seen.point else "."
        if seen.point or seen.comma:
            break
    else:
        if sheet.separator == "," or not sheet.separator:
            return "."
    raise DataError(
        f"{name} holds numbers such as 1.250 that can be read as 1250 or as 1.25", where=sheet.name, found=_either_number(sheet, name),
        to_do='say which sign parts the decimals in shop.toml: [formats] decimal = "," or "."',
    )  # fmt: skip


def _order(name: str, found: Mapping[str, DateEvidence], sheet: Sheet) -> str:
    """Return the date order of a column: told by its own cells, else by the file's; a column that disagrees is asked about."""
    own, whole = found[name], sum(found.values(), DateEvidence())
    if not (own.either or (own.day_first and own.month_first)):
        return "mdy" if own.month_first else "dmy"
    for seen in (own, whole):
        if bool(seen.day_first) != bool(seen.month_first):
            return "dmy" if seen.day_first else "mdy"
        if seen.day_first:
            break
    disagree = own.day_first and own.month_first
    raise DataError(
        f"the dates of {name} stand day first in some rows and month first in others" if disagree
        else f"the dates of {name} can be read day first or month first, and no row tells which",
        where=sheet.name, found=_either_date(sheet, name),
        to_do='say it in shop.toml: [formats] date_order = "dmy", "mdy" or "ymd"',
    )  # fmt: skip


def _either_number(sheet: Sheet, name: str) -> str:
    return next((text for text in sheet.cells[name].texts() if number_told_by(text).either), "")


def _either_date(sheet: Sheet, name: str) -> str:
    return next((text for text in sheet.cells[name].texts() if date_told_by(text).either), "")


def _said(
    sheet: Sheet, numbers: Mapping[str, Evidence], decimal: Mapping[str, str], dates: Mapping[str, DateEvidence], order: Mapping[str, str]
) -> tuple[Finding, ...]:
    said = []
    commas = [name for name in numbers if decimal[name] == "," and (numbers[name].comma or numbers[name].either)]
    if commas:
        said.append(f"decimal comma in {', '.join(commas)}")
    for word in sorted({order[name] for name in dates}):
        seen = [name for name in dates if order[name] == word and (dates[name].either or dates[name].day_first or dates[name].month_first)]
        if seen:
            said.append(f"dates {_ORDERS[word]} in {', '.join(seen)}")
    return (Finding("note", "format", f"{sheet.name}: {'; '.join(said)}.", sheet.name),) if said else ()
