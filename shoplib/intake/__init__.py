"""The owner's files read, checked cell by cell, and handed on as one Shop."""

from .as_of import as_of, until
from .prices import spot_on, spot_series
from .shop import Finding, Shop, Tally, load

__all__ = ["Finding", "Shop", "Tally", "as_of", "load", "spot_on", "spot_series", "until"]
