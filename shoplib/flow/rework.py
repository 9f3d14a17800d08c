"""Work done again: which visits are rework, how that is known, and which stage it is charged to.

A return is charged to the stage the order goes back *to*. Stages it passes again on its way forward are work done again,
but no failure of theirs.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..settings import Settings
from .entries import Flags, Ints

BASES = ("flag", "stage", "links", "inferred")
"""How rework is known, the surest first."""


def mark_rework(table: pd.DataFrame, entries: pd.DataFrame, first: Ints, settings: Settings) -> pd.DataFrame:
    """Return the visits with rework, its basis, whether each is a return, who sent it back and what it is charged to.

    Parameters
    ----------
    table : DataFrame
        Visits by order and in sequence: order, visit, stage_no, number, later, links_redone.
    entries : DataFrame
        Placed entries in the same sequence.
    first : ndarray(int)
        Place in `entries` at which each visit begins.
    settings : Settings
        Its stages: rework_of, expected_visits.

    Returns
    -------
    DataFrame
        `table` with rework, rework_basis, is_return, returned_from, charged_to and cause.
    """
    names = np.array([*(stage.name for stage in settings.stages), None], dtype=object)
    charged = _charged_stage(table["stage_no"].to_numpy(), settings)
    basis = _basis(table, entries, first, settings)
    before = _before(table, charged)
    returns = (basis < len(BASES)) & ~table["later"].to_numpy() & ((before < 0) | (charged <= before))
    return table.assign(
        rework=basis < len(BASES),
        rework_basis=np.array([*BASES, ""], dtype=object)[basis],
        is_return=returns,
        returned_from=names[np.where(returns, before, -1)],
        charged_to=names[np.where(returns, charged, -1)],
        cause=_causes(entries, first),
    )


def _charged_stage(stage: Ints, settings: Settings) -> Ints:
    """Return the stage of each visit; for a stage that only ever means work done again, the stage it redoes."""
    names = [each.name for each in settings.stages]
    target = [names.index(each.rework_of) if each.rework_of in names else place for place, each in enumerate(settings.stages)]
    charged: Ints = np.array([*target, -1], dtype=np.int64)[stage]
    return charged


def _before(table: pd.DataFrame, charged: Ints) -> Ints:
    """Return the stage of the order's visit before, −1 for its first."""
    before = np.full(len(table), -1, dtype=np.int64)
    before[1:] = charged[:-1]
    return np.where(table["visit"].to_numpy() == 1, -1, before)


def _basis(table: pd.DataFrame, entries: pd.DataFrame, first: Ints, settings: Settings) -> Ints:
    """Return the place in BASES of the surest sign that a visit is rework; len(BASES) when there is none."""
    means_rework = np.array([bool(stage.rework_of) for stage in settings.stages] + [False])[table["stage_no"].to_numpy()]
    flagged = np.logical_or.reduceat(entries["rework"].to_numpy(bool), first) if len(first) else np.zeros(0, dtype=bool)
    again = table["number"].to_numpy() > 1
    links = (table["links_redone"].to_numpy() > 0) & again
    signs = (flagged & ~means_rework, means_rework, links, _inferred(table, settings))
    return np.select(signs, list(range(len(BASES))), len(BASES))


def _inferred(table: pd.DataFrame, settings: Settings) -> Flags:
    """Return True where an order is at a stage more often than expected before its delivery, sent back there or passing again."""
    expected = np.array([stage.expected_visits for stage in settings.stages] + [np.iinfo(np.int64).max])
    beyond: Flags = (table["number"].to_numpy() > expected[table["stage_no"].to_numpy()]) & ~table["later"].to_numpy()
    return beyond


def _causes(entries: pd.DataFrame, first: Ints) -> pd.Series:
    """Return the first cause named in each visit."""
    causes = entries["rework_cause"].astype(object).to_numpy()
    told = np.flatnonzero(pd.notna(causes))
    found = np.full(len(first), None, dtype=object)
    found[entries["visit"].to_numpy()[told[::-1]]] = causes[told[::-1]]
    return pd.Series(found, dtype=object)
