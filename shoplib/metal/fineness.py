"""Fineness of the finished article: what solder does to it, and whether it keeps its mark.

What a mark promises is law and differs by country: with or without solder, with or without a tolerance below the mark.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence


def finished_fineness(gross_g: float, fineness: float, solder_g: Sequence[float], solder_fineness: Sequence[float]) -> float:
    """Return the fineness of a whole article with its solders, per mille.

    Parameters
    ----------
    gross_g : float
        Weight of metal in the article, solder included, g gross.
    fineness : float
        Of the alloy without solder, per mille.
    solder_g, solder_fineness : sequence of float
        Grams of each solder in it and its fineness, per mille.
    """
    solder = math.fsum(solder_g)
    fine = (gross_g - solder) * fineness + math.fsum(g * f for g, f in zip(solder_g, solder_fineness, strict=True))
    return fine / gross_g


def keeps_mark(fineness: float, mark: float, tolerance: float = 0.0) -> bool:
    """Tell whether a fineness keeps a mark; all per mille.

    Parameters
    ----------
    fineness, mark : float
        Of the article or alloy, and of its mark.
    tolerance : float
        What the law allows below the mark: 0 under ISO 9202 (fineness is a minimum, solders excluded); in the United States
        3 for the alloy without solder and 7 for an article with its solder (15 U.S.C. 295 and the note to it).
    """
    return fineness >= mark - tolerance - 1e-9


def highest_mark(fineness: float, marks: Iterable[float]) -> float | None:
    """Return the highest of `marks` that a fineness keeps without a tolerance, per mille; None when it keeps none."""
    return max((mark for mark in marks if keeps_mark(fineness, mark)), default=None)


def given_away_g(gross_g: float, melted_fineness: float, mark: float) -> float:
    """Return the fine grams given away by melting richer than the mark: 2 per mille on 2,200 g are 4.4 g."""
    return gross_g * (melted_fineness - mark) / 1000.0
