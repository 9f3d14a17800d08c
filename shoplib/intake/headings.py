"""The heading row: where it stands, and which of the owner's headings is which column."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from ..errors import DataError, SettingsError, nearest
from ..settings import Settings, line_of
from .columns import TABLES, Table
from .findings import Finding
from .text import Text

SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "upright bars"}
ROWS_SEARCHED = 40


@dataclass(frozen=True)
class Headings:
    """The heading row of one table.

    Attributes
    ----------
    row : int
        Its position among the rows, from 0.
    width : int
        Cells in it.
    place : dict of str to int
        The tool's column to its position.
    findings : tuple of Finding
        Columns left alone, a heading row that is not the first.
    """

    row: int
    width: int
    place: dict[str, int]
    findings: tuple[Finding, ...] = ()


def fold_heading(text: str) -> str:
    """Return a heading as the tool writes its own: small letters, words joined by ``_``."""
    return re.sub(r"[^\w]+", "_", text.strip().lstrip("\ufeff").casefold()).strip("_")


def known_headings(table: Table, mapped: Mapping[str, str], extra: Sequence[str] = ()) -> dict[str, str]:
    """Return folded headings and the column each stands for; `mapped` is a table of [headings], `extra` stand for themselves."""
    known = {column.name: column.name for column in table.columns if column.name not in mapped}
    return (
        known
        | {fold_heading(heading): column for column, heading in mapped.items()}
        | {fold_heading(heading): heading for heading in extra}
    )


def check_mappings(settings: Settings, text: str = "") -> None:
    """Raise a SettingsError when [headings] or [aliases] in `text` of shop.toml names a table or column that does not exist."""
    words = {column.name for table in TABLES.values() for column in table.columns if column.kind in ("code", "codes", "choice")}
    wanted: list[tuple[list[str], Collection[str]]] = [(["headings", table], TABLES.keys()) for table in settings.headings]
    wanted += [
        (["headings", table, one], TABLES[table].by_name.keys())
        for table, mapped in settings.headings.items()
        if table in TABLES
        for one in mapped
    ]
    wanted += [(["aliases", column], words | {"order"}) for column in settings.aliases]
    for place, known in wanted:
        if place[-1] not in known:
            near = nearest(place[-1], known)
            spot = f"shop.toml, line {line_of(text, list(place))}, {'.'.join(place)}"
            raise SettingsError(
                "no such table or column", where=spot, found=place[-1], to_do=f"did you mean {near}?" if near else "see DICTIONARY.md"
            )


def separator_of(text: Text, known: Mapping[str, str]) -> str:
    """Return the separator at which the first rows show the most known headings; a comma when none does."""
    head = text.data[: min(text.size, 200_000)].tobytes().decode(text.encoding, errors="replace")
    lines = [line[:20_000] for line in head.splitlines()[:ROWS_SEARCHED]]

    def score(separator: str) -> int:
        rows = [line.split(separator) for line in lines]
        return max((_score([cell.strip().strip('"') for cell in row], known) for row in rows), default=0)

    return max(SEPARATORS, key=score)


def _score(cells: Sequence[str], known: Mapping[str, str]) -> int:
    return len({fold_heading(cell) for cell in cells} & known.keys())


def find_headings(rows: Sequence[Sequence[str]], table: Table, known: Mapping[str, str], where: str, above: int = 0) -> Headings:
    """Return the heading row among the first `rows` of a table; `above` of them are blank in the file and not among `rows`.

    Raises
    ------
    DataError
        No row holds a known heading, two columns are the same one, or a heading named in shop.toml is not there.
    """
    scores = [_score(row, known) for row in rows[:ROWS_SEARCHED]]
    if not scores or max(scores) == 0:
        seen = max(rows[:ROWS_SEARCHED], key=lambda row: sum(bool(cell.strip()) for cell in row), default=[])
        raise DataError(
            "no heading row was found",
            where=where,
            found=", ".join(cell.strip() for cell in seen[:8] if cell.strip()),
            allowed=", ".join(column.name for column in table.columns[:6]) + " …",
            to_do=f"write the headings into one row, or name yours in shop.toml, a line each: "
            f'[headings.{table.name}] {table.columns[0].name} = "your own heading"',
        )
    row = scores.index(max(scores))
    cells = list(rows[row])
    place, others = _placed(cells, known, where)
    _own_headings_found(table, known, place, others, where)
    return Headings(row, _width(cells), place, _said(table, row + above, others, known, place, where))


def _own_headings_found(table: Table, known: Mapping[str, str], place: Mapping[str, int], others: Sequence[str], where: str) -> None:
    """Raise a DataError when a heading that shop.toml names for a column does not stand in the heading row."""
    gone = {column: heading for heading, column in known.items() if heading != column and column not in place}
    if gone:
        column, heading = next(iter(gone.items()))
        near = nearest(heading, [fold_heading(other) for other in others])
        meant = next((other for other in others if fold_heading(other) == near), "")
        raise DataError(
            f"the heading that shop.toml names for {column} is not there", where=where, found=heading, allowed=", ".join(others[:12]),
            to_do=f'did you mean {column} = "{meant}"?' if meant else f"correct it under [headings.{table.name}], or take the line out",
        )  # fmt: skip


def _width(cells: Sequence[str]) -> int:
    filled = [i for i, cell in enumerate(cells) if cell.strip()]
    return filled[-1] + 1


def _placed(cells: Sequence[str], known: Mapping[str, str], where: str) -> tuple[dict[str, int], list[str]]:
    place: dict[str, int] = {}
    others = []
    for i, cell in enumerate(cells):
        column = known.get(fold_heading(cell))
        if column is None:
            others += [cell.strip()] if cell.strip() else []
        elif column in place:
            raise DataError("two columns have this heading", where=where, found=cell.strip(), to_do="rename or remove one of them")
        else:
            place[column] = i
    return place, others


def _said(table: Table, row: int, others: list[str], known: Mapping[str, str], place: Mapping[str, int], where: str) -> tuple[Finding, ...]:
    said = []
    if row:
        said.append(Finding("note", "heading_row", f"The headings of {where} stand in row {row + 1}; what is above was left alone.", where))
    if others:
        names = ", ".join(f'"{other[:40]}"' for other in others[:12]) + (" …" if len(others) > 12 else "")
        free = [column for column in set(known.values()) if column in table.by_name and column not in place]
        near = {other: nearest(fold_heading(other), sorted(free)) for other in others}
        hint = next(
            (f' If "{other[:40]}" is {column}, say so under [headings.{table.name}].' for other, column in near.items() if column), ""
        )
        said.append(Finding("note", "column_left_alone", f"Columns of {where} not known to the tool, left alone: {names}.{hint}", where))
    return tuple(said)
