"""Rules over the cells of one row, and over the rows of one table, that reject a row."""

from __future__ import annotations

from collections.abc import Mapping, MutableMapping
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from .findings import Flag, Reason
from .sheet import Sheet

Values = MutableMapping[str, NDArray[Any]]


def reject_rows(sheet: Sheet, values: Values, flags: list[Flag], kept: NDArray[np.bool_]) -> None:
    """Add the rejections of whole rows to `flags` and clear the rejected rows in `kept`.

    Labour's dates and hours are completed from its clock in `values`. Of the rows that are right in themselves, those
    that repeat an id are rejected last, so that a wrong row never takes the id of a right one.
    """
    flags += [_crowded(sheet)]
    if sheet.table.name == "labour":
        flags += _clock(values)
    flags += _one_of(sheet, values)
    if sheet.table.name == "orders":
        flags += _orders(values)
    if sheet.table.name == "metal_ledger":
        flags += _ledger(values)
    flags += [_back_to_front(values, first, last) for first, last in (("from", "to"), ("month_from", "month_to")) if last in values]
    for flag in flags:
        kept[flag.at] = False
    if sheet.table.key:
        flags.append(_repeated(values[sheet.table.key], sheet.table.key, kept))
        kept[flags[-1].at] = False


def blank(array: NDArray[Any]) -> NDArray[np.bool_]:
    """Tell which values are missing."""
    return np.asarray(pd.isna(array), dtype=np.bool_)


def _crowded(sheet: Sheet) -> Flag:
    at = np.flatnonzero(sheet.crowded)
    reason = Reason(
        "too_many_cells",
        "the row has more cells than there are headings",
        "quote the cell that holds the separator, or give the column a heading",
    )
    return Flag(at, "", [""] * len(at), reason)


def _one_of(sheet: Sheet, values: Mapping[str, NDArray[Any]]) -> list[Flag]:
    flags = []
    for groups in sheet.table.one_of:
        lacking = np.ones(len(sheet), dtype=np.bool_)
        for group in groups:
            lacking &= np.logical_or.reduce([blank(values[name]) for name in group])
        if sheet.table.name == "orders":
            lacking &= ~np.isin(values["kind"].astype(str), ("repair", "guarantee"))
        at = np.flatnonzero(lacking)
        words = " or ".join(" and ".join(group) for group in groups)
        flags.append(Flag(at, groups[0][0], [""] * len(at), Reason("missing", f"{words} is needed", "fill the cell")))
    return flags


def _orders(values: Mapping[str, NDArray[Any]]) -> list[Flag]:
    exempt = np.isin(values["kind"].astype(str), ("repair", "guarantee"))
    at = np.flatnonzero(blank(values["alloy"]) & ~exempt)
    return [
        Flag(at, "alloy", [""] * len(at), Reason("missing", "the alloy is needed, except for a repair or a guarantee", "fill the cell"))
    ]


def _ledger(values: Mapping[str, NDArray[Any]]) -> list[Flag]:
    """A charge needs its money; every other movement its metal and weight."""
    charge = values["kind"] == "refining_charge"
    needed = (("cost", charge), ("metal", ~charge), ("gross_g", ~charge))
    flags = []
    for name, where in needed:
        at = np.flatnonzero(blank(values[name]) & where & ~blank(values["kind"]))
        flags.append(Flag(at, name, [""] * len(at), Reason("missing", f"{name} is needed for this kind of row", "fill the cell")))
    return flags


def _back_to_front(values: Mapping[str, NDArray[Any]], first: str, last: str) -> Flag:
    at = np.flatnonzero(values[last] < values[first])
    return Flag(at, last, values[last][at], Reason("before_first", f"{last} lies before {first}", "correct one of the two"))


def _repeated(keys: NDArray[Any], name: str, kept: NDArray[np.bool_]) -> Flag:
    """Reject all but the first accepted row of an id."""
    right = np.flatnonzero(kept)
    at = right[pd.Series(keys[right]).duplicated().to_numpy()]
    reason = Reason(
        "repeated_id",
        f"this {name} stands in an earlier row; case and spaces make no difference",
        "give the row its own number, or delete it",
    )
    return Flag(at, name, keys[at], reason)


def _clock(values: Values) -> list[Flag]:
    """Complete date and hours from start and finish; reject a clock that runs backwards or over a day."""
    start, finish, day = values["start"], values["finish"], values["date"]
    for name in ("start", "finish"):
        lone = values[name] < np.datetime64("1970-01-03")
        values[name] = np.where(lone, day + (values[name] - np.datetime64("1970-01-01T00:00:00")), values[name])
    start, finish = values["start"], values["finish"]
    values["date"] = np.where(np.isnat(day) & ~np.isnat(start), start.astype("datetime64[D]").astype("datetime64[s]"), day)
    span = (finish - start).astype(np.float64)
    span[np.isnat(start) | np.isnat(finish)] = np.nan
    backwards = np.flatnonzero(span < 0)
    long = np.flatnonzero((span > 86_400) & np.isnan(values["hours"]))
    values["hours"] = np.where(np.isnan(values["hours"]) & (span >= 0), span / 3600.0, values["hours"])
    return [
        Flag(backwards, "finish", finish[backwards], Reason("before_first", "finish lies before start", "correct one of the two")),
        Flag(
            long,
            "finish",
            finish[long],
            Reason("too_long_a_span", "start and finish lie more than a day apart and no hours are given", "write the hours worked"),
        ),
    ]
