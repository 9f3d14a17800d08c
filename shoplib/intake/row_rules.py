"""Rules over the cells of one row, and over the rows of one table, that reject a row."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from .fields import Fields
from .findings import Flag, Reason
from .sheet import Sheet

_WORDS = ("code", "codes", "text", "choice", "date", "month")
_TOTAL = re.compile(r"\s*(?:grand |sub-?)?(?:totals?|sum|summe|gesamt|totale|somme|suma|zwischensumme)\b", re.IGNORECASE)


def reject_rows(fields: Fields, cells: list[Flag], kept: NDArray[np.bool_]) -> list[Flag]:
    """Return the rejections of whole rows after those of `cells`, and clear the rejected rows in `kept`.

    Labour's dates and hours are completed from its clock in `fields`. A rule looks only at rows that no earlier one has
    rejected; those that repeat an id come last, so that a wrong row never takes the id of a right one.
    """
    flags = list[Flag]()

    def add(more: list[Flag]) -> None:
        for flag in more:
            flags.append(flag)
            kept[flag.at] = False

    add([_crowded(fields.sheet), *cells])
    add([_among(flag, kept) for flag in _rules(fields)])
    add([_among(flag, kept) for flag in _one_of(fields)])
    add([_back_to_front(fields, *pair) for pair in (("from", "to"), ("month_from", "month_to")) if pair[1] in fields.sheet.table.by_name])
    if fields.sheet.table.key:
        add([_repeated(fields[fields.sheet.table.key], fields.sheet.table.key, kept)])
    return [flag for flag in _totals_apart(fields, flags, kept) if len(flag.at)]


def _totals_apart(fields: Fields, flags: list[Flag], kept: NDArray[np.bool_]) -> list[Flag]:
    """Say of a rejected row that begins like a total that it is one, instead of what its blank cells lack."""
    at = np.flatnonzero(~kept)
    values = np.full(len(at), "", dtype=object)
    for name, cells in fields.sheet.cells.items():
        if fields.sheet.table.by_name[name].kind in _WORDS and len(at):
            codes, place = np.unique(cells.codes[at], return_inverse=True)
            texts = np.array(cells.texts(codes), dtype=object)
            named = np.array([bool(_TOTAL.match(text)) for text in texts], dtype=np.bool_)[place]
            values[named] = texts[place[named]]
    total = values != ""
    if not total.any():
        return flags
    reason = Reason("totals_row", "this looks like a row of totals, which is no row of the table", "nothing, if it is one")
    other = np.ones(len(kept), dtype=np.bool_)
    other[at[total]] = False
    return [Flag(at[total], "", values[total], reason), *(_among(flag, other) for flag in flags)]


def _rules(fields: Fields) -> list[Flag]:
    rule = {"labour": _clock, "orders": _orders, "metal_ledger": _ledger}.get(fields.sheet.table.name)
    return rule(fields) if rule else []


def _among(flag: Flag, kept: NDArray[np.bool_]) -> Flag:
    still = kept[flag.at]
    return Flag(flag.at[still], flag.column, np.asarray(flag.values, dtype=object)[still], flag.reason)


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


def _one_of(fields: Fields) -> list[Flag]:
    flags = []
    for groups in fields.sheet.table.one_of:
        lacking = np.ones(len(fields.sheet), dtype=np.bool_)
        for group in groups:
            lacking &= np.logical_or.reduce([blank(fields[name]) for name in group])
        if fields.sheet.table.name == "orders":
            lacking &= ~_exempt(fields)
        at = np.flatnonzero(lacking)
        words = " or ".join(" and ".join(group) for group in groups)
        flags.append(Flag(at, groups[0][0], [""] * len(at), Reason("missing", f"{words} is needed", "fill the cell")))
    return flags


def _exempt(fields: Fields) -> NDArray[np.bool_]:
    """Tell which orders need neither alloy nor weight."""
    return np.asarray((fields["kind"] == "repair") | (fields["kind"] == "guarantee"), dtype=np.bool_)


def _orders(fields: Fields) -> list[Flag]:
    at = np.flatnonzero(blank(fields["alloy"]) & ~_exempt(fields))
    return [
        Flag(at, "alloy", [""] * len(at), Reason("missing", "the alloy is needed, except for a repair or a guarantee", "fill the cell"))
    ]


def _ledger(fields: Fields) -> list[Flag]:
    """A charge needs its money; every other movement its metal and weight."""
    charge = fields["kind"] == "refining_charge"
    needed = (("cost", charge), ("metal", ~charge), ("gross_g", ~charge))
    flags = []
    for name, where in needed:
        at = np.flatnonzero(blank(fields[name]) & where & ~blank(fields["kind"]))
        flags.append(Flag(at, name, [""] * len(at), Reason("missing", f"{name} is needed for this kind of row", "fill the cell")))
    return flags


def _back_to_front(fields: Fields, first: str, last: str) -> Flag:
    at = np.flatnonzero(fields[last] < fields[first])
    return Flag(at, last, fields[last][at], Reason("before_first", f"{last} lies before {first}", "correct one of the two"))


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


def _clock(fields: Fields) -> list[Flag]:
    """Complete date and hours from start and finish; reject a clock that runs backwards or over a day."""
    day = fields["date"]
    for name in ("start", "finish"):
        lone = fields[name] < np.datetime64("1970-01-03")
        if lone.any():
            fields[name] = np.where(lone, day + (fields[name] - np.datetime64("1970-01-01T00:00:00")), fields[name])
    start, finish, undated = fields["start"], fields["finish"], np.isnat(day)
    if undated.any():
        fields["date"] = np.where(undated, start.astype("datetime64[D]").astype("datetime64[s]"), day)
    span = (finish - start).astype(np.float64)
    span[np.isnat(start) | np.isnat(finish)] = np.nan
    backwards = np.flatnonzero(span < 0)
    long = np.flatnonzero((span > 86_400) & np.isnan(fields["hours"]))
    lacking = np.isnan(fields["hours"]) & (span >= 0)
    if lacking.any():
        fields["hours"] = np.where(lacking, span / 3600.0, fields["hours"])
    return [
        Flag(backwards, "finish", finish[backwards], Reason("before_first", "finish lies before start", "correct one of the two")),
        Flag(
            long,
            "finish",
            finish[long],
            Reason("too_long_a_span", "start and finish lie more than a day apart and no hours are given", "write the hours worked"),
        ),
    ]
