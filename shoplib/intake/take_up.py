"""What the tables know and shop.toml does not say: alloys, stages, workers and solders are taken up, with a finding."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..settings import WEEKDAYS, Alloy, Calendar, Settings, Solder, Stage, Weekday, Worker
from ..units import METALS, read_alloy_name
from .findings import Finding

ROWS_FOR_ORDER = 100_000
"""Labour rows from which the usual sequence of stages is told."""

LEFT_AFTER_DAYS = 60
"""A person without entries for so long at the end of the table is taken for having left."""

Tables = Mapping[str, pd.DataFrame]


def take_up(settings: Settings, tables: Tables) -> tuple[Settings, tuple[Finding, ...]]:
    """Return the settings completed from the tables, and what was taken up.

    Returns
    -------
    settings : Settings
        With every alloy, stage, worker and solder that occurs in the tables.
    findings : tuple of Finding
        One each for what was taken up.
    """
    alloys, about_alloys = _alloys(settings, tables)
    solders, about_solders = _solders(settings, tables["labour"])
    stages, about_stages = _stages(settings, tables)
    staged = settings.model_copy(update={"alloys": alloys, "solders": solders, "stages": stages})
    workers, about_workers = _workers(staged, tables["labour"], tables["absences"])
    return staged.model_copy(update={"workers": workers}), (*about_alloys, *about_solders, *about_stages, *about_workers)


def _unknown(columns: Sequence[pd.Series], known: Sequence[str]) -> list[str]:
    met = dict.fromkeys(str(code) for column in columns for code in pd.unique(column.dropna()))
    return [code for code in met if code not in set(known)]


def _alloys(settings: Settings, tables: Tables) -> tuple[tuple[Alloy, ...], list[Finding]]:
    columns = [tables[name]["alloy"] for name in ("orders", "quotes", "price_list", "metal_book")] + [tables["metal_ledger"]["metal"]]
    fresh, said = [], []
    for code in _unknown(columns, [*(alloy.code for alloy in settings.alloys), *METALS]):
        told = read_alloy_name(code)
        if told:
            fresh.append(Alloy(code=code, metal=told[0], fineness=told[1]))  # type: ignore[arg-type]
            text = (
                f'Alloy "{code}" is not in shop.toml: read from its name as {told[0]} {told[1]:g}. Add it to [[alloys]] if that is wrong.'
            )
            said.append(Finding("note", "alloy_taken_up", text, code))
    return (*settings.alloys, *fresh), said


def _solders(settings: Settings, labour: pd.DataFrame) -> tuple[tuple[Solder, ...], list[Finding]]:
    fresh, said = [], []
    for code in _unknown([labour["solder"]], [solder.code for solder in settings.solders]):
        told = read_alloy_name(code)
        if told:
            fresh.append(Solder(code=code, metal=told[0], fineness=told[1]))  # type: ignore[arg-type]
            text = f'Solder "{code}" is not in shop.toml: read from its name as {told[0]} {told[1]:g}. Add it to [[solders]] with its cost.'
            said.append(Finding("note", "solder_taken_up", text, code))
        else:
            text = f'Solder "{code}" is not in shop.toml and its name tells no fineness. Add it to [[solders]].'
            said.append(Finding("warn", "solder_unknown", text, code))
    return (*settings.solders, *fresh), said


def _stages(settings: Settings, tables: Tables) -> tuple[tuple[Stage, ...], list[Finding]]:
    route = list(settings.stages)
    fresh = _unknown([tables["labour"]["stage"], tables["metal_book"]["stage"]], [stage.name for stage in route])
    if not fresh:
        return settings.stages, []
    names = [stage.name for stage in route] + fresh
    before, said = precedence(tables["labour"], names), []
    order = list(range(len(route)))
    for new in range(len(route), len(names)):
        at = best_place(order, new, before)
        order.insert(at, new)
        after = f'after "{names[order[at - 1]]}"' if at else "first"
        said.append((names[new], after))
    everything = route + [Stage(name=name) for name in fresh]
    said_now = [
        Finding(
            "note",
            "stage_taken_up",
            f'Stage "{name}" is not in shop.toml: taken up {after}, without standard hours. Add it to [[stages]].',
            name,
        )
        for name, after in said
    ]
    return tuple(everything[i] for i in order), said_now


def best_place(order: Sequence[int], new: int, before: NDArray[np.int64]) -> int:
    """Return the place in `order` at which stage `new` contradicts the fewest orders; the last among equals.

    Parameters
    ----------
    order : sequence of int
        Stages placed so far.
    new : int
        The stage to place.
    before : ndarray of int, shape (stages, stages)
        In how many orders the first stage was first met before the second.
    """
    agreed = [
        sum(int(before[stage, new]) for stage in order[:place]) + sum(int(before[new, stage]) for stage in order[place:])
        for place in range(len(order) + 1)
    ]
    return max(range(len(agreed)), key=lambda place: (agreed[place], place))


def precedence(labour: pd.DataFrame, names: Sequence[str]) -> NDArray[np.int64]:
    """Return in how many orders each stage of `names` was first met before each other one."""
    rows = labour[labour["order_id"].notna() & labour["stage"].notna()].head(ROWS_FOR_ORDER)
    moment = rows["start"].fillna(rows["date"])
    met = pd.DataFrame({"order": rows["order_id"], "stage": rows["stage"], "at": moment, "row": rows["row"]})
    met = met.sort_values(["order", "at", "row"], kind="stable").drop_duplicates(["order", "stage"])
    code = pd.Index(names).get_indexer(met["stage"].to_numpy(object))
    order = pd.factorize(met["order"])[0]
    before = np.zeros((len(names), len(names)), dtype=np.int64)
    for ahead in range(1, len(names)):
        same = order[ahead:] == order[:-ahead]
        if not same.any():
            break
        np.add.at(before, (code[:-ahead][same], code[ahead:][same]), 1)
    return before


def _workers(settings: Settings, labour: pd.DataFrame, absences: pd.DataFrame) -> tuple[tuple[Worker, ...], list[Finding]]:
    fresh = _unknown([labour["worker"], absences["worker"]], [worker.code for worker in settings.workers])
    if not fresh:
        return settings.workers, []
    skill = {stage.name: stage.needs for stage in settings.stages}
    last = labour["date"].max()
    met = [_worker(code, labour[labour["worker"] == code], skill, settings.calendar, last) for code in fresh]
    said = [
        Finding(
            "note",
            "worker_taken_up",
            f'Worker "{worker.code}" is not in shop.toml: taken up with {", ".join(worker.skills) or "no skill"} and '
            f"{sum(worker.hours.values()):g} hours a week as booked"
            + (f", gone since {worker.left_on.isoformat()}" if worker.left_on else "")
            + ". Add the wage to [[workers]].",
            worker.code,
        )  # fmt: skip
        for worker in met
    ]
    return (*settings.workers, *met), said


def _worker(code: str, rows: pd.DataFrame, skill: Mapping[str, str], calendar: Calendar, last: pd.Timestamp) -> Worker:
    if not len(rows):
        return Worker(code=code)
    booked = dict.fromkeys(skill[stage] for stage in pd.unique(rows["stage"].dropna()))
    first, final = rows["date"].min(), rows["date"].max()
    left = final.date() if (last - final).days > LEFT_AFTER_DAYS else None
    return Worker(code=code, skills=tuple(booked), hours=_hours_seen(rows, calendar), started_on=first.date(), left_on=left)


def _hours_seen(rows: pd.DataFrame, calendar: Calendar) -> dict[Weekday, float]:
    """Return the usual booked hours of each weekday on which the person came in at least a fifth of the weeks."""
    days = rows.groupby("date")["hours"].sum()
    days = days[days > 0]
    if not len(days):
        return {}
    weeks = max(1.0, (days.index.max() - days.index.min()).days / 7)
    usual = days.groupby(days.index.dayofweek).agg(["median", "size"])
    return {
        WEEKDAYS[int(weekday)]: min(round(4 * float(row["median"])) / 4, 24.0)
        for weekday, row in usual.iterrows()
        if row["size"] >= 0.2 * weeks
    }
