"""One shop with known truth, played, written as its owner would have kept it, and read back by the program under test."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import cached_property
from pathlib import Path

from shoplib.intake import Shop, load
from shoplib.workshop.fit import Fitted, fitted

from . import parameters as p
from .play import play
from .tables import as_of_day, day_text, write
from .things import Played


@dataclass(frozen=True)
class Case:
    """Shop `number` of the table with `seed`; its tables lie in `folder`."""

    number: int
    seed: int
    folder: Path

    @cached_property
    def truth(self) -> p.Truth:
        """Its parameters."""
        return p.shop(self.number, self.seed)

    @cached_property
    def played(self) -> Played:
        """What happened up to the end of the records."""
        return play(self.truth)

    @cached_property
    def shop(self) -> Shop:
        """What the owner wrote down, as read."""
        write(self.played, self.folder)
        return load(self.folder)

    @property
    def as_of(self) -> date:
        """Last day of the records."""
        return date.fromisoformat(day_text(as_of_day(self.played)))

    @cached_property
    def fitted(self) -> Fitted:
        """The workshop fitted on all records."""
        return fitted(self.shop, self.as_of)


@dataclass(frozen=True)
class Measured:
    """One number with its truth: shop, what and of which part, truth, what the program says with its 80 % range (None: no range)."""

    shop: int
    what: str
    part: str
    truth: float | str
    told: float | str
    low: float | None = None
    high: float | None = None

    @property
    def inside(self) -> bool:
        """Whether the range holds the truth."""
        assert self.low is not None and self.high is not None
        return self.low <= float(self.truth) <= self.high

    @property
    def off(self) -> float:
        """Told less truth."""
        return float(self.told) - float(self.truth)


@dataclass(frozen=True)
class Verdict:
    """One sentence of an accuracy paragraph: what is asked, what was found, whether it holds."""

    asked: str
    found: str
    holds: bool
