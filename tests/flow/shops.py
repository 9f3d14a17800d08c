"""Tiny shops written by hand: `shop_of` fills the tables from short rows, as the reading of files would leave them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import pandas as pd

from shoplib.intake.columns import DTYPES, TABLES, Column
from shoplib.intake.shop import Shop
from shoplib.settings import parse_settings

TOML = """
[shop]
name = "Test bench (invented)"
currency = "EUR"
[calendar]
day_start = "08:00"
day_end = "16:00"
[[alloys]]
code = "18k"
metal = "gold"
fineness = 750
[[stages]]
name = "roll"
[[stages]]
name = "solder"
[[stages]]
name = "tighten"
[[stages]]
name = "polish"
[[workers]]
code = "A"
skills = ["roll", "solder"]
wage_per_hour = 20
[[workers]]
code = "B"
skills = ["tighten", "polish"]
wage_per_hour = 20
"""
"""Four stages, two people, 8 h a day from 8 to 16 with no break: an hour by the clock is an hour of work."""

AS_OF = date(2026, 3, 27)
"""The last day seen: a Friday four weeks after the first order."""

Row = Mapping[str, Any]


def _column(column: Column, values: list[Any], many: int) -> pd.Series:
    filled = [column.default if value is None else value for value in values]
    if column.kind in ("date", "timestamp", "month"):
        return pd.Series(pd.to_datetime(pd.Series(filled, dtype=object)).to_numpy("datetime64[s]"))
    if column.name == "won":
        return pd.Series(filled, dtype="float64")
    return pd.Series(filled, dtype=DTYPES[column.kind], index=range(many))


def table_of(name: str, rows: Sequence[Row]) -> pd.DataFrame:
    """Return table `name` with every column, from rows that name only what matters."""
    known = TABLES[name].by_name
    assert all(set(row) <= set(known) for row in rows), "a row names a column the table has not"
    columns = {key: _column(column, [row.get(key) for row in rows], len(rows)) for key, column in known.items()}
    return pd.DataFrame({**columns, "row": pd.Series(range(2, len(rows) + 2), dtype="int64")})


def shop_of(toml: str = TOML, **tables: Sequence[Row]) -> Shop:
    """Return a shop of the tables given; the others have no rows."""
    frames = {name: table_of(name, tables.get(name, ())) for name in TABLES}
    empty = pd.DataFrame(columns=["file", "row", "column", "value", "code", "what", "what_to_do"])
    return Shop(parse_settings(toml), frames, empty, empty)


def order(order_id: str, ordered_on: str = "2026-03-02", **cells: Any) -> Row:
    """Return an order of a curb chain in 18k."""
    usual = {"style": "curb", "alloy": "18k", "price": 1000.0, "quoted_weight_g": 40.0}
    return {"order_id": order_id, "ordered_on": ordered_on, **usual, **cells}


def entry(order_id: str | None, stage: str | None, worker: str, day: str, hours: float | None = None, **cells: Any) -> Row:
    """Return a job-card entry; `day` is a date, or ``2026-03-02 08:00 11:30`` for start and finish by the clock."""
    when, *times = day.split()
    clock = {"start": f"{when} {times[0]}", "finish": f"{when} {times[1]}"} if times else {}
    return {"order_id": order_id, "stage": stage, "worker": worker, "date": when, "hours": hours, **clock, **cells}

