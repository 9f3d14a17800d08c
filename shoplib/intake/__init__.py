"""The owner's files read, checked cell by cell, and handed on as one Shop."""

from .shop import Finding, Shop, Tally, load

__all__ = ["Finding", "Shop", "Tally", "load"]
