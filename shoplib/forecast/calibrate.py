"""Correct stated levels from how often they held, half way and only when the evidence is outside luck.

Orders open at one origin share their luck, so twelve origins are about twelve points: the evidence is a bootstrap of whole
origins. A full correction from so few points harms good forecasts, hence half of it, on the log of the remaining time.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from .plain_rules import LEVELS, QUANTILES
from .survival import chance_held, survival

Floats = NDArray[np.float64]
DRAWS = 1000
SHARE = 0.5
FEWEST_ORIGINS = 6


def coverage_interval(said: pd.DataFrame, quantile: str, seed: int, level: float = 0.90) -> tuple[float, float]:
    """Return the interval of pooled coverage from a bootstrap of whole origins.

    Parameters
    ----------
    said : DataFrame
        origin, happened, censored and the column `quantile`.
    quantile : str
        ``q50``, ``q80`` or ``q95``.
    seed : int
        Seed of the bootstrap.
    level : float
        Level of the interval.
    """
    held_rows = said.assign(held=chance_held(said["happened"], said[quantile], said["censored"])).groupby("origin")["held"]
    held, count = held_rows.sum().to_numpy(dtype=np.float64), held_rows.size().to_numpy(dtype=np.float64)
    pick = np.random.default_rng(seed).integers(0, len(count), (DRAWS, len(count)))
    shares = held[pick].sum(axis=1) / count[pick].sum(axis=1)
    low, high = np.quantile(shares, ((1 - level) / 2, (1 + level) / 2))
    return float(low), float(high)


def needs_correction(said: pd.DataFrame, seed: int) -> bool:
    """Return True when a stated level lies outside the 90 % interval of its own pooled coverage; False under six origins."""
    if said["origin"].nunique() < FEWEST_ORIGINS:
        return False
    limits = [coverage_interval(said, quantile, seed) for quantile in QUANTILES]
    return any(not low <= level <= high for level, (low, high) in zip(LEVELS, limits, strict=True))


def factors(said: pd.DataFrame) -> Floats:
    """Return the factor on remaining time for each level: half the log shift that would have made the coverage exact.

    Parameters
    ----------
    said : DataFrame
        happened, censored, q50, q80, q95.
    """
    ratios = [np.maximum(said["happened"].to_numpy(dtype=np.float64), 0.5) / said[q].to_numpy(dtype=np.float64) for q in QUANTILES]
    shift = [min(survival(r, said["censored"]).quantile(level), r.max()) for r, level in zip(ratios, LEVELS, strict=True)]
    return np.asarray(shift) ** SHARE


def corrected(said: pd.DataFrame, factor: Floats) -> pd.DataFrame:
    """Return `said` with its quantiles times `factor`, kept in order and not before tomorrow."""
    days = np.maximum.accumulate(np.maximum(said[list(QUANTILES)].to_numpy() * factor, 1.0), axis=1)
    return said.assign(**dict(zip(QUANTILES, np.ceil(days - 1e-9).T, strict=True)))


def leave_one_out(said: pd.DataFrame) -> pd.DataFrame:
    """Return `said` with each origin corrected by what the other origins showed."""
    parts = [corrected(group, factors(said[said["origin"] != origin])) for origin, group in said.groupby("origin")]
    return pd.concat(parts).sort_index()
