"""`shoplib start`: what a new shop needs, written into a folder; what lies there is never overwritten."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from ...errors import OutputError
from ..columns import TABLES, Table
from .cards import day_sheet, job_card
from .dictionary import dictionary
from .settings_text import ALLOYS, SETTINGS, STAGES
from .workbook import empty_workbook


def write_start(folder: Path) -> list[str]:
    """Write empty tables, shop.toml, the dictionary, a job card and a day sheet into `folder`.

    Returns
    -------
    list of str
        One line a file: written, or kept because it was there.

    Raises
    ------
    OutputError
        The folder cannot be made or written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        return [_written(folder / name, content) for name, content in _contents().items()]
    except OSError as error:
        raise OutputError(
            "the folder cannot be written", where=str(folder), found=error.strerror, to_do="choose a folder that you may write"
        ) from error


def _contents() -> dict[str, bytes]:
    texts = {f"{table.name}.csv": headings(table) for table in TABLES.values()}
    texts |= {"shop.toml": SETTINGS, "DICTIONARY.md": dictionary(), "job_card.html": job_card(STAGES), "day_sheet.html": day_sheet()}
    return {name: text.encode("utf-8") for name, text in texts.items()} | {"tables.xlsx": empty_workbook(STAGES, ALLOYS)}


def headings(table: Table) -> str:
    """Return a table's heading row as CSV."""
    buffer = io.StringIO()
    csv.writer(buffer, lineterminator="\n").writerow(column.name for column in table.columns)
    return buffer.getvalue()


def _written(path: Path, content: bytes) -> str:
    try:
        with path.open("xb") as file:
            file.write(content)
    except FileExistsError:
        return f"kept {path.name}: it was there already"
    return f"wrote {path.name}"
