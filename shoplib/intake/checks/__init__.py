"""Doubts: rows that are taken as they stand and shown to the owner, because something about them is odd."""

from .all_tables import doubts
from .labour import unusual_drops

__all__ = ["doubts", "unusual_drops"]
