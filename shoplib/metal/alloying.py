"""Alloying up and down: what to add to a melt, and what to melt from the metals in stock.

Fineness is per mille of one metal. One balance of mass stands behind every rule of the bench: grams of each metal
before the melt plus grams added are the grams of it after the melt. Lowering, raising and alligation are that balance
solved for one unknown (Warren, *Mechanical Dentistry and Metallurgy*, p. 206, rules for reducing and raising gold).
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import UsageError
from ..settings import Alloy
from ..units import FINEST, METALS, read_alloy_name

OTHER = "other metals"
"""What an alloy holds beside the priced metals: copper, zinc, nickel."""

_CARAT = re.compile(r"^\s*(\d{1,2}(?:[.,]\d+)?)\s*(?:k|kt|ct|karat|carat)\b", re.IGNORECASE)
_PERMILLE = re.compile(r"^\s*(\d{1,3}(?:[.,]\d+)?|1000)\s*(?:‰|per mille|permille)?\s*$", re.IGNORECASE)


def permille_of_carat(carat: float) -> float:
    """Return the fineness of a carat in per mille: 18 carat is 750, 14 carat 583.33 (its mark is 585)."""
    return carat / 24.0 * 1000.0


def carat_of_permille(fineness: float) -> float:
    """Return a fineness in per mille as carat, 24 for fine metal."""
    return fineness / 1000.0 * 24.0


def read_fineness(text: str) -> float:
    """Read a fineness an owner typed, in karat, carat or per mille; a carat with a mark is read as its mark.

    Parameters
    ----------
    text : str
        ``18k``, ``18 ct``, ``14 carat`` (585), ``750``, ``916.6 ‰``.

    Returns
    -------
    float
        Per mille.

    Raises
    ------
    UsageError
        When the text is neither, or lies above 1000 per mille or 24 carat.
    """
    marked = read_alloy_name(text) if _CARAT.match(text) else None
    carat, permille = _CARAT.match(text), _PERMILLE.match(text)
    value = marked[1] if marked else permille_of_carat(_number(carat[1])) if carat else _number(permille[1]) if permille else math.nan
    if not 0 < value <= 1000:
        raise UsageError("this is not a fineness", found=text, allowed="0 to 24 carat (18k, 18 ct) or 0 to 1000 per mille (750)")
    return value


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def grams_to_add(gross_g: float, fineness: float, wanted: float, added_fineness: float) -> float:
    """Return the grams of another metal that bring a melt to a wanted fineness.

    Parameters
    ----------
    gross_g : float
        Weight of the melt, g gross.
    fineness, wanted, added_fineness : float
        Fineness of the melt, of the alloy wanted and of what is added, per mille: 0 to lower with alloying metal, 1000
        (999.9 as bought) to raise with fine metal.

    Raises
    ------
    UsageError
        When `wanted` does not lie between the fineness of the melt and that of what is added.

    Notes
    -----
    gross_g · fineness + x · added = (gross_g + x) · wanted.
    """
    if fineness == wanted:
        return 0.0
    if not min(fineness, added_fineness) < wanted < max(fineness, added_fineness):
        raise UsageError(
            "the wanted fineness cannot be reached by adding this metal",
            found=f"{wanted:g} per mille",
            allowed=f"between {fineness:g} and {added_fineness:g} per mille",
            to_do="add a finer metal to raise, a poorer one to lower",
        )
    return gross_g * (fineness - wanted) / (wanted - added_fineness)


def blend_fineness(gross_g: Sequence[float], fineness: Sequence[float]) -> float:
    """Return the fineness, per mille, of several metals melted together (alligation medial)."""
    weights = np.asarray(gross_g, dtype=float)
    return float(weights @ np.asarray(fineness, dtype=float) / weights.sum())


def blend_shares(first: float, second: float, wanted: float) -> tuple[float, float]:
    """Return the shares of two metals that together have the wanted fineness (alligation alternate).

    Raises
    ------
    UsageError
        When `wanted` does not lie between the two, per mille.
    """
    if first == second == wanted:
        return 1.0, 0.0
    if first == second or not min(first, second) <= wanted <= max(first, second):
        raise UsageError(
            "these two metals cannot give the wanted fineness",
            found=f"{wanted:g} per mille",
            allowed=f"from {min(first, second):g} to {max(first, second):g} per mille",
        )
    share = (wanted - second) / (first - second)
    return share, 1.0 - share


def composition(alloy: Alloy) -> dict[str, float]:
    """Return what one gram of an alloy as really melted holds: shares of the priced metals and of other metals."""
    parts = {alloy.metal: alloy.phi_melted}
    for metal, permille in alloy.parts.items():
        parts[metal] = parts.get(metal, 0.0) + permille / 1000.0
    return parts | {OTHER: max(0.0, 1.0 - math.fsum(parts.values()))}


@dataclass(frozen=True)
class Melt:
    """What to add to a melt.

    Attributes
    ----------
    added_g : mapping of str to float
        Grams to add by metal: priced metals as bought (999.9), and `OTHER`; metals of which nothing is needed are left out.
    total_g : float
        Grams of the melt afterwards.
    """

    added_g: Mapping[str, float]
    total_g: float


def melt_to(gross_g: float, held: Mapping[str, float], wanted: Mapping[str, float], bought_fineness: float = FINEST) -> Melt | None:
    """Return the least that must be added to turn a melt into another alloy.

    Parameters
    ----------
    gross_g : float
        Weight of the melt, g gross.
    held, wanted : mapping of str to float
        Shares as `composition` gives them.
    bought_fineness : float
        Fineness of the fine metals in stock, per mille.

    Returns
    -------
    Melt or None
        None when the melt holds a metal the other alloy must not hold.

    Notes
    -----
    Only metal can be added, so the melt grows until no metal is in excess: total = max over metals of held ÷ wanted.
    The little that fine metal holds beside itself counts as other metal.
    """
    rest = (1000.0 - bought_fineness) / bought_fineness
    before, after = _net_of_rest(held, rest), _net_of_rest(wanted, rest)
    names = sorted(before.keys() | after.keys(), key=_metal_first)
    if any(before.get(name, 0.0) > 1e-12 and after.get(name, 0.0) <= 1e-12 for name in names):
        return None
    total = gross_g * max(before.get(name, 0.0) / after[name] for name in names if after.get(name, 0.0) > 1e-12)
    added = {name: (total * after.get(name, 0.0) - gross_g * before.get(name, 0.0)) * _as_bought(name, bought_fineness) for name in names}
    return Melt({name: grams for name, grams in added.items() if grams > 1e-9 * gross_g}, total)


def _net_of_rest(shares: Mapping[str, float], rest: float) -> dict[str, float]:
    metals = {name: share for name, share in shares.items() if name != OTHER}
    return metals | {OTHER: shares.get(OTHER, 0.0) - rest * math.fsum(metals.values())}


def _as_bought(name: str, bought_fineness: float) -> float:
    return 1.0 if name == OTHER else 1000.0 / bought_fineness


def _metal_first(name: str) -> int:
    return METALS.index(name) if name in METALS else len(METALS)


@dataclass(frozen=True)
class Stock:
    """One metal in the safe that may go into a melt: its name, shares, grams at hand and money a gram gross."""

    name: str
    shares: Mapping[str, float]
    available_g: float = math.inf
    cost_per_g: float = 0.0


def melt_from_stock(gross_g: float, wanted: Mapping[str, float], stock: Sequence[Stock]) -> dict[str, float] | None:
    """Return grams of each metal in stock that make an alloy at the least cost.

    Parameters
    ----------
    gross_g : float
        Weight wanted, g gross.
    wanted : mapping of str to float
        Shares of the alloy as `composition` gives them.
    stock : sequence of Stock
        What may be taken.

    Returns
    -------
    dict of str to float or None
        Grams by name, those of which nothing is taken left out; None when the stock cannot give the alloy.

    Notes
    -----
    A linear programme: Σ x·shares = gross_g·wanted for each metal, 0 ≤ x ≤ available, least Σ x·cost. With equal cost
    the metals named first are taken first.
    """
    if not stock:
        return None
    from scipy.optimize import linprog

    names = sorted({name for item in stock for name in item.shares} | set(wanted), key=lambda name: (_metal_first(name), name))
    holds = np.array([[item.shares.get(name, 0.0) for item in stock] for name in names])
    target = gross_g * np.array([wanted.get(name, 0.0) for name in names])
    cost = np.array([item.cost_per_g for item in stock]) + 1e-6 * np.arange(len(stock))
    bounds = [(0.0, None if math.isinf(item.available_g) else item.available_g) for item in stock]
    found = linprog(cost, A_eq=holds, b_eq=target, bounds=bounds, method="highs")
    if found.status != 0:
        return None
    return {item.name: float(grams) for item, grams in zip(stock, found.x, strict=True) if grams > 1e-9 * gross_g}
