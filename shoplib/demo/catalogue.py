"""What the invented workshop makes: alloys and styles, with what each does to hours, losses and prices."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class AlloyTruth:
    """One alloy: composition (per mille), popularity and temper."""

    code: str
    fineness: float
    melted_fineness: float
    palladium: float
    other_metals_per_g: float
    share: float
    density: float
    solder_factor: float
    loss_factor: float
    return_to_solder: float
    return_to_file: float
    making_factor: float
    spellings: tuple[str, ...]


ALLOYS = (
    AlloyTruth("14k yellow", 585, 585, 0, 0.12, 0.24, 13.1, 1.00, 0.95, 0.05, 0.030, 0.97, ("14K Yellow", "14 k yellow ")),
    AlloyTruth("18k yellow", 750, 750, 0, 0.10, 0.42, 15.5, 0.98, 1.00, 0.06, 0.035, 1.00, ("18K Yellow", "18k  yellow")),
    AlloyTruth("18k white", 750, 752, 125, 0.08, 0.20, 15.9, 1.12, 1.15, 0.19, 0.050, 1.12, ("18K White", " 18k white")),
    AlloyTruth("18k rose", 750, 750, 0, 0.06, 0.14, 15.2, 1.04, 1.05, 0.10, 0.040, 1.04, ("18k Rose",)),
)


@dataclass(frozen=True)
class StyleTruth:
    """One style: popularity, hours factor, making charge (EUR per g at 100 g) and its widths."""

    name: str
    share: float
    hours_factor: float
    making_per_g: float
    widths_mm: tuple[float, ...]
    g_per_cm: tuple[float, ...]
    spellings: tuple[str, ...]


STYLES = (
    StyleTruth("curb", 0.30, 0.90, 6.3, (5.0, 7.0, 9.0), (1.50, 2.50, 3.80), ("Curb", "CURB")),
    StyleTruth("anchor", 0.24, 0.94, 6.6, (5.0, 6.5, 8.0), (1.45, 2.35, 3.40), ("cable", "Anchor")),
    StyleTruth("wheat", 0.16, 1.06, 7.6, (4.0, 5.5, 7.0), (1.45, 2.30, 3.50), ("wheat ",)),
    StyleTruth("rope", 0.17, 1.08, 7.4, (4.5, 6.0, 7.5), (1.55, 2.45, 3.75), ("ROPE",)),
    StyleTruth("Byzantine", 0.13, 1.24, 9.2, (5.0, 6.5, 8.0), (2.00, 3.00, 4.15), ("byzantine",)),
)
ALIASES = {"cable": "anchor"}
LENGTHS = ((19.0, 0.10), (21.0, 0.12), (42.0, 0.16), (45.0, 0.22), (50.0, 0.22), (55.0, 0.11), (60.0, 0.07))
"""Length in cm and its share: bracelets and necklaces."""
