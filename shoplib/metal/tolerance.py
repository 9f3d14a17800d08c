"""How much metal weighing can hide: standard uncertainties, added by squares.

JCGM 100:2008 (Guide to the expression of uncertainty in measurement), 4.3.7: a value known only to lie within ± a,
evenly likely, has the standard uncertainty a/√3; 5.1.2: independent ones add by squares.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

COVERAGE = 1.96
"""Normal quantile of a range that holds 95 of 100 (JCGM 100, table G.1)."""


def even_u(half_width: float) -> float:
    """Return the standard uncertainty of a value evenly likely within ± `half_width`, in its unit."""
    return half_width / math.sqrt(3.0)


def together(parts: Iterable[float]) -> float:
    """Return the standard uncertainty of a sum of independent parts."""
    return math.hypot(*parts)


def readability_u(readability_g: float, phi_squared: float) -> float:
    """Return the standard uncertainty of independent weighings, g fine.

    Parameters
    ----------
    readability_g : float
        Smallest step of the scale, g; a reading lies within half of it.
    phi_squared : float
        Sum over weighings of the squared fineness (share of one) that turns the reading into fine grams.
    """
    return even_u(readability_g / 2.0) * math.sqrt(phi_squared)


def fineness_u(gross_g: Iterable[float], tolerance_permille: float) -> float:
    """Return the standard uncertainty from melting off the stated fineness, g fine.

    Parameters
    ----------
    gross_g : iterable of float
        Grams gross delivered of each alloy: all melts of one alloy share one error (one recipe), alloys are independent.
    tolerance_permille : float
        Half-width of the fineness of an alloy, per mille.
    """
    return together(even_u(abs(grams) * tolerance_permille / 1000.0) for grams in gross_g)


def in_process_u(unweighed_g: float, tolerance_percent: float) -> float:
    """Return the standard uncertainty of metal in process that was not weighed since its issue, g fine."""
    return even_u(abs(unweighed_g) * tolerance_percent / 100.0)


@dataclass(frozen=True)
class Tolerance:
    """Standard uncertainties of one balance, g fine.

    Attributes
    ----------
    readability : float
        All weighings that enter the balance.
    in_process : float
        Metal in process without a weighing since issue, at both ends.
    fineness : float
        Shared within an alloy.
    assumed : float
        Losses that were assumed, not weighed.
    """

    readability: float
    in_process: float
    fineness: float
    assumed: float = 0.0

    @property
    def independent(self) -> float:
        """The part that differs from one balance to the next."""
        return together((self.readability, self.in_process))

    @property
    def u(self) -> float:
        """The whole standard uncertainty."""
        return together((self.readability, self.in_process, self.fineness, self.assumed))

    def around(self, unexplained_g: float) -> tuple[float, float]:
        """Return the 95 % range of the metal unexplained, g fine."""
        half = COVERAGE * self.u
        return unexplained_g - half, unexplained_g + half
