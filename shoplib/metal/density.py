"""Density as a check on fineness: weighing in air and water, and the density an alloy should have.

A density tells fineness only when the other metals are known: it raises a question, an assay answers it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from ..errors import UsageError

DENSITY = {
    "gold": 19.32, "silver": 10.49, "platinum": 21.45, "palladium": 12.02, "copper": 8.96, "zinc": 7.134, "nickel": 8.908,
}  # fmt: skip
"""Density of the pure metals at room temperature, g/cm³ (CRC Handbook of Chemistry and Physics, physical constants of the elements)."""


def specific_gravity(air_g: float, water_g: float) -> float:
    """Return weight in air ÷ weight of the water displaced (Archimedes).

    Raises
    ------
    UsageError
        When the piece does not weigh less in water than in air.
    """
    if not 0 <= water_g < air_g:
        raise UsageError(
            "a piece weighs less in water than in air",
            found=f"{air_g:g} g in air, {water_g:g} g in water",
            to_do="weigh it again, without bubbles",
        )
    return air_g / (air_g - water_g)


def alloy_density(shares: Mapping[str, float], densities: Mapping[str, float] = DENSITY) -> float:
    """Return the density of an alloy in g/cm³ from mass shares that sum to one: 1/ρ = Σ share/ρ (volumes add)."""
    return 1.0 / math.fsum(share / densities[metal] for metal, share in shares.items())


def share_from_density(density: float, metal_density: float, rest_density: float) -> float:
    """Return the mass share of a metal in an alloy of two whose density was measured.

    Parameters
    ----------
    density : float
        Measured, g/cm³.
    metal_density, rest_density : float
        Densities of the metal asked for and of the other one, g/cm³.

    Raises
    ------
    UsageError
        When the density does not lie between the two.
    """
    low, high = sorted((metal_density, rest_density))
    if low == high or not low * (1 - 1e-9) <= density <= high * (1 + 1e-9):
        raise UsageError(
            "this density cannot come from these two metals",
            found=f"{density:g} g/cm³",
            allowed=f"from {low:g} to {high:g} g/cm³",
        )
    return (1.0 / density - 1.0 / rest_density) / (1.0 / metal_density - 1.0 / rest_density)


def weight_in_other_alloy(gross_g: float, density: float, other_density: float) -> float:
    """Return what the same piece weighs, g gross, when it is made in an alloy of another density."""
    return gross_g * other_density / density
