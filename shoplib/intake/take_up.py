"""What the tables know and shop.toml does not say: alloys, stages, workers and solders are taken up, with a finding."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..settings import WEEKDAYS, Alloy, Settings, Solder, Stage, Weekday, Worker
from ..units import METALS, read_alloy_name
from .checks.base import Book
from .findings import Finding

ROWS_FOR_ORDER = 100_000
"""Labour rows from which the usual sequence of stages is told."""

LEFT_AFTER_DAYS = 60
"""A person without entries for so long at the end of the table is taken for having left."""

MOST_HOURS_SEEN = 12.0
"""Hours a day that a person taken up from the table is given at most."""

Books = Mapping[str, Book]


def take_up(settings: Settings, books: Books) -> tuple[Settings, tuple[Finding, ...]]:
    """Return the settings completed from the tables, and what was taken up.

    Returns
    -------
    settings : Settings
        With every alloy, stage, worker and solder that occurs in the tables.
    findings : tuple of Finding
        One each for what was taken up.
    """
    alloys, about_alloys = _alloys(settings, books)
    solders, about_solders = _solders(settings, books["labour"])
    stages, about_stages = _stages(settings, books)
    staged = settings.model_copy(update={"alloys": alloys, "solders": solders, "stages": stages})
    workers, about_workers = _workers(staged, books["labour"], books["absences"])
    return staged.model_copy(update={"workers": workers}), (*about_alloys, *about_solders, *about_stages, *about_workers)


def _unknown(columns: Sequence[tuple[Book, str]], known: Sequence[str]) -> list[str]:
    met = dict.fromkeys(code for book, column in columns for code in book.present(column))
    return [code for code in met if code not in set(known)]


def _alloys(settings: Settings, books: Books) -> tuple[tuple[Alloy, ...], list[Finding]]:
    columns = [(books[name], "alloy") for name in ("orders", "quotes", "price_list", "metal_book")] + [(books["metal_ledger"], "metal")]
    fresh, said = [], []
    for code in _unknown(columns, [*(alloy.code for alloy in settings.alloys), *METALS]):
        told = read_alloy_name(code)
        if told:
            fresh.append(Alloy(code=code, metal=told[0], fineness=told[1]))
            text = (
                f'Alloy "{code}" is not in shop.toml: read from its name as {told[0]} {told[1]:g}. Add it to [[alloys]] if that is wrong.'
            )
            said.append(Finding("note", "alloy_taken_up", text, code))
    return (*settings.alloys, *fresh), said


def _solders(settings: Settings, labour: Book) -> tuple[tuple[Solder, ...], list[Finding]]:
    fresh, said = [], []
    for code in _unknown([(labour, "solder")], [solder.code for solder in settings.solders]):
        told = read_alloy_name(code)
        if told:
            fresh.append(Solder(code=code, metal=told[0], fineness=told[1]))
            text = f'Solder "{code}" is not in shop.toml: read from its name as {told[0]} {told[1]:g}. Add it to [[solders]] with its cost.'
            said.append(Finding("note", "solder_taken_up", text, code))
        else:
            text = f'Solder "{code}" is not in shop.toml and its name tells no fineness. Add it to [[solders]].'
            said.append(Finding("warn", "solder_unknown", text, code))
    return (*settings.solders, *fresh), said


def _stages(settings: Settings, books: Books) -> tuple[tuple[Stage, ...], list[Finding]]:
    route = list(settings.stages)
    fresh = _unknown([(books["labour"], "stage"), (books["metal_book"], "stage")], [stage.name for stage in route])
    if not fresh:
        return settings.stages, []
    names = [stage.name for stage in route] + fresh
    before, said = precedence(books["labour"].frame, names), []
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
    code = pd.Index(names).get_indexer(pd.Index(met["stage"].to_numpy(object)))
    order = pd.factorize(met["order"])[0]
    before = np.zeros((len(names), len(names)), dtype=np.int64)
    for ahead in range(1, len(names)):
        same = order[ahead:] == order[:-ahead]
        if not same.any():
            break
        np.add.at(before, (code[:-ahead][same], code[ahead:][same]), 1)
    return before


def _workers(settings: Settings, labour: Book, absences: Book) -> tuple[tuple[Worker, ...], list[Finding]]:
    fresh = _unknown([(labour, "worker"), (absences, "worker")], [worker.code for worker in settings.workers])
    bare = [worker for worker in settings.workers if not worker.skills]
    if not fresh and not bare:
        return settings.workers, []
    skill = {stage.name: stage.needs for stage in settings.stages}
    last, rows = labour.frame["date"].max(), labour.frame.groupby("worker", sort=False).indices
    known, told = _skills_booked(settings.workers, labour.frame, rows, skill)
    met = [_worker(code, labour.frame.iloc[rows.get(code, [])], skill, last) for code in fresh]
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
    return (*known, *met), [*told, *said]


def _skills_booked(
    workers: tuple[Worker, ...], labour: pd.DataFrame, rows: Mapping[Any, Any], skill: Mapping[str, str]
) -> tuple[list[Worker], list[Finding]]:
    """Give workers whose skills shop.toml leaves out those they booked: somebody may be listed there for the wage alone."""
    known, said = [], []
    for worker in workers:
        stages = pd.unique(labour["stage"].iloc[rows.get(worker.code, [])].dropna()) if not worker.skills else ()
        booked = tuple(dict.fromkeys(skill[stage] for stage in stages))
        known.append(worker.model_copy(update={"skills": booked}) if booked else worker)
        if booked:
            text = f'Worker "{worker.code}" has no skills in shop.toml: taken up with {", ".join(booked)} as booked.'
            said.append(Finding("note", "skills_taken_up", text, worker.code))
    return known, said


def _worker(code: str, rows: pd.DataFrame, skill: Mapping[str, str], last: pd.Timestamp) -> Worker:
    if not len(rows):
        return Worker(code=code)
    booked = dict.fromkeys(skill[stage] for stage in pd.unique(rows["stage"].dropna()))
    first, final = rows["date"].min(), rows["date"].max()
    left = final.date() if (last - final).days > LEFT_AFTER_DAYS else None
    return Worker(code=code, skills=tuple(booked), hours=_hours_seen(rows), started_on=first.date(), left_on=left)


def _hours_seen(rows: pd.DataFrame) -> dict[Weekday, float]:
    """Return the usual booked hours of each weekday on which the person came in at least a fifth of the weeks."""
    days = rows.groupby("date")["hours"].sum()
    days = days[days > 0]
    if not len(days):
        return {}
    weeks = max(1.0, (days.index.max() - days.index.min()).days / 7)
    weekday = days.index.to_series().dt.day_of_week
    usual, seen = days.groupby(weekday).median(), weekday.value_counts()
    return {
        name: min(round(4 * float(usual[place])) / 4, MOST_HOURS_SEEN)
        for place, name in enumerate(WEEKDAYS)
        if seen.get(place, 0) >= 0.2 * weeks
    }
