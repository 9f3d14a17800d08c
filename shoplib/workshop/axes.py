"""The axes of a workshop: which stages, skills, people, styles and alloys there are, and at which position each stands."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from ..errors import UsageError
from ..intake.shop import Shop
from ..settings import Settings, Stage
from .arrays import Flags, Integers
from .model import MOST_PEOPLE, MOST_STAGES, Workshop

MOST_STYLES = 100
"""Rarer styles share one position, so that a shop that writes free text does not drown the fit."""
OTHER_STYLES = "other styles"
NO_ALLOY = ""
"""Position of repairs and guarantees, which name no alloy."""


@dataclass(frozen=True)
class Axes:
    """Names of the positions.

    Attributes
    ----------
    stages, skills, workers, styles, alloys : tuple of str
        `workers` are all of shop.toml, those who left too.
    stage_skill : Integers, shape (S,)
        Skill of each stage.
    redoes : Integers, shape (S + 1,)
        Stage that each stage stands for (itself, or the one it does again); −1 at the end.
    can : Flags, shape (W, K)
        Skills of each worker by shop.toml.
    """

    stages: tuple[str, ...]
    skills: tuple[str, ...]
    workers: tuple[str, ...]
    styles: tuple[str, ...]
    alloys: tuple[str, ...]
    stage_skill: Integers
    redoes: Integers
    can: Flags

    def style_at(self, names: pd.Series) -> Integers:
        """Return the position of each style; a rare one that of other styles."""
        place = _positions(self.styles, names)
        return np.where(place < 0, len(self.styles) - 1, place)

    def alloy_at(self, names: pd.Series) -> Integers:
        """Return the position of each alloy; none that of work without an alloy."""
        place = _positions(self.alloys, names)
        return np.where(place < 0, len(self.alloys) - 1, place)

    def codes(self, place: Integers) -> tuple[str, ...]:
        """Return the codes of some workers."""
        return tuple(self.workers[p] for p in place)

    def worker_at(self, codes: pd.Series) -> Integers:
        """Return the position of each worker, −1 where unknown."""
        return _positions(self.workers, codes)


def axes_of(shop: Shop) -> Axes:
    """Return the axes of a shop.

    Raises
    ------
    UsageError
        When there is no stage, or more stages than the simulator runs.
    """
    stages = shop.settings.stages
    if not 1 <= len(stages) <= MOST_STAGES:
        raise UsageError(
            "the workshop cannot be modelled with this number of stages",
            where="shop.toml, [[stages]], and labour.stage",
            found=len(stages),
            allowed=f"1 to {MOST_STAGES}",
            to_do="book work on job cards by stage, or map spellings of one stage in [aliases.stage]",
        )
    names = [stage.name for stage in stages]
    skills = tuple(dict.fromkeys(stage.needs for stage in stages))
    workers = shop.settings.workers
    can = np.array([[skill in worker.skills for skill in skills] for worker in workers], dtype=bool).reshape(len(workers), len(skills))
    place = np.array([skills.index(stage.needs) for stage in stages], dtype=np.int64)
    return Axes(
        tuple(names), skills, tuple(w.code for w in workers), _styles(shop), _alloys(shop.settings, shop), place, _redoes(stages), can
    )


def check_people(count: int) -> None:
    """Refuse a shop with nobody, or with more people than the simulator runs.

    Raises
    ------
    UsageError
        With what may be done.
    """
    if not 1 <= count <= MOST_PEOPLE:
        raise UsageError(
            "the workshop cannot be modelled with this number of people",
            where="shop.toml, [[workers]], and labour.worker",
            found=count,
            allowed=f"1 to {MOST_PEOPLE}",
            to_do="give left_on to those who left, or keep one shop.toml for each workshop",
        )


def _redoes(stages: tuple[Stage, ...]) -> Integers:
    names = [stage.name for stage in stages]
    return np.array([*(names.index(s.rework_of) if s.rework_of in names else i for i, s in enumerate(stages)), -1], dtype=np.int64)


def _styles(shop: Shop) -> tuple[str, ...]:
    told = pd.concat([shop["orders"]["style"], shop["quotes"]["style"]]).astype(object).dropna()
    count = told.value_counts(sort=False)
    ranked = sorted(count.index, key=lambda name: (-int(count[name]), str(name)))
    return (*sorted(str(name) for name in ranked[:MOST_STYLES]), OTHER_STYLES)


def _alloys(settings: Settings, shop: Shop) -> tuple[str, ...]:
    known = [alloy.code for alloy in settings.alloys]
    told = pd.concat([shop["orders"]["alloy"], shop["quotes"]["alloy"]]).astype(object).dropna().unique()
    return (*known, *sorted(str(name) for name in told if name not in known), NO_ALLOY)


def _positions(names: Iterable[str], wanted: pd.Series) -> Integers:
    return np.asarray(pd.Index(list(names), dtype=object).get_indexer(pd.Index(wanted.astype(object))), dtype=np.int64)


def axes_like(workshop: Workshop, settings: Settings) -> Axes:
    """Return the axes of a fitted workshop, for the same shop on another day; `workers` are the workshop's people."""
    names = [str(stage) for stage in workshop.stages]
    does = {stage.name: stage.rework_of for stage in settings.stages}
    redoes = np.array([*(names.index(does[n]) if does.get(n) in names else i for i, n in enumerate(names)), -1], dtype=np.int64)
    skills, people, styles, alloys = (
        tuple(str(name) for name in part) for part in (workshop.skills, workshop.people, workshop.styles, workshop.alloys)
    )
    return Axes(tuple(names), skills, people, styles, alloys, workshop.stage_skill, redoes, workshop.can)
