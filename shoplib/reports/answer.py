"""Answer: what a report says. The page, the workbook and the answers file are three views of it."""

from __future__ import annotations

import json
import math
from datetime import date
from typing import Any, Literal

import numpy as np
import pandas as pd
from pydantic import BaseModel, ConfigDict, Field, field_validator
from pydantic.json_schema import SkipJsonSchema

from .sentences import Writing

SIGNIFICANT_DIGITS = 10
Cell = bool | int | float | str | None


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Parameters(_Frozen):
    """What every report takes; a report's own model adds its parameters to these."""

    as_of: date | None = Field(None, description="last day that counts; left blank: told from the tables")
    period_months: int = Field(12, ge=1, le=60, description="whole months looked at, up to as_of")
    seed: int = Field(20260101, ge=0, description="seed of all draws")

    @field_validator("as_of", mode="before")
    @classmethod
    def _blank_is_left_out(cls, value: object) -> object:
        return None if value == "" else value


class Figure(_Frozen):
    """A key figure: value with its range, unit, period, number of cases and basis (counted, measured, estimated …)."""

    name: str
    value: float | None
    low: float | None = None
    high: float | None = None
    level: float | None = None
    unit: str = ""
    period: str = ""
    n: int | None = None
    basis: str = "counted"

    @field_validator("value", "low", "high", "level", mode="before")
    @classmethod
    def _plain_number(cls, value: Any) -> Any:
        return plain(value)


class TableColumn(_Frozen):
    """One column of an answer's table."""

    name: str
    unit: str = ""
    meaning: str = ""


class Table(_Frozen):
    """A table of an answer: rows sorted by their first columns, missing values None."""

    columns: tuple[TableColumn, ...]
    rows: tuple[tuple[Cell, ...], ...] = ()

    def frame(self) -> pd.DataFrame:
        """Return the table as a DataFrame."""
        return pd.DataFrame(list(self.rows), columns=[column.name for column in self.columns])


class Found(_Frozen):
    """A finding as the answers file shows it."""

    level: Literal["stop", "warn", "note"]
    code: str
    text: str
    where: str = ""


class Period(_Frozen):
    """First and last day looked at."""

    from_: date = Field(alias="from", serialization_alias="from")
    to: date
    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


class Answer(_Frozen):
    """What one report says.

    `writing` says how the shop writes numbers; the page needs it, the answers file does not hold it.
    """

    report: str
    shop: str
    as_of: date
    period: Period
    shoplib: str
    seed: int
    inputs: dict[str, str]
    parameters: dict[str, Any]
    headline: str
    figures: tuple[Figure, ...] = ()
    tables: dict[str, Table] = Field(default_factory=dict)
    findings: tuple[Found, ...] = ()
    writing: SkipJsonSchema[Writing] = Field(default=Writing(), exclude=True)

    def table(self, name: str) -> pd.DataFrame:
        """Return table `name` as a DataFrame."""
        return self.tables[name].frame()

    def figure(self, name: str) -> Figure:
        """Return the key figure called `name`."""
        return next(figure for figure in self.figures if figure.name == name)

    def to_json(self) -> str:
        """Return the answers file: strict JSON, one table row a line, ending in a line feed."""
        content = self.model_dump(mode="json", by_alias=True)
        tables = content.pop("tables")
        findings = content.pop("findings")
        head = _indented(content)[:-2]
        body = ",\n".join(_table_text(name, one) for name, one in tables.items())
        tail = _indented({"findings": findings}).removeprefix(FINDINGS_START)
        return f"{head}{TABLES_LINE}{body}{AFTER_TABLES}{tail}\n"


TABLES_LINE = ',\n "tables": {\n'
"""Opens the tables of an answers file; no line of another part can look like it."""
FINDINGS_START = '{\n "findings": '
AFTER_TABLES = '\n },\n "findings": '


def _indented(content: object) -> str:
    return json.dumps(content, ensure_ascii=False, allow_nan=False, indent=1)


def _table_text(name: str, content: dict[str, Any]) -> str:
    columns = ",\n".join(f"   {json.dumps(column, ensure_ascii=False)}" for column in content["columns"])
    rows = ",\n".join(f"   {json.dumps(row, ensure_ascii=False, allow_nan=False)}" for row in content["rows"])
    return f'  {json.dumps(name)}: {{"columns": [\n{columns}],\n  "rows": [\n{rows}]}}'


def head_of(text: str) -> dict[str, Any]:
    """Return an answers file without its tables, read without parsing them."""
    head, _, rest = text.partition(TABLES_LINE)
    tail = rest.rpartition(AFTER_TABLES)[2]
    content: dict[str, Any] = json.loads(f'{head},\n "findings": {tail}')
    return content


def table(frame: pd.DataFrame, columns: list[TableColumn]) -> Table:
    """Return `frame` as an answer's table: columns in the order given, every cell a plain value.

    Parameters
    ----------
    frame : DataFrame
        Holds a column for each of `columns`; others are left out.
    columns : list of TableColumn
        The columns to show.
    """
    parts = [[plain(value) for value in frame[column.name].tolist()] for column in columns]
    return Table(columns=tuple(columns), rows=tuple(zip(*parts, strict=True)) if len(frame) else ())


def plain(value: Any) -> Cell:
    """Return a value as it stands in the answers file: 10 significant digits, ISO dates, None for missing."""
    if value is None or value is pd.NaT or value is pd.NA:
        return None
    if isinstance(value, (bool, np.bool_)):
        return bool(value)
    if isinstance(value, (int, np.integer)):
        return int(value)
    if isinstance(value, (float, np.floating)):
        return rounded(float(value))
    if isinstance(value, (pd.Timestamp, date)):
        return value.strftime("%Y-%m-%d")
    return str(value)


def rounded(value: float, digits: int = SIGNIFICANT_DIGITS) -> float | None:
    """Return `value` to `digits` significant digits; None for NaN and infinities; −0 is 0."""
    if not math.isfinite(value):
        return None
    return float(f"{value:.{digits}g}") + 0.0
