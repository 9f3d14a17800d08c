"""Doubts: rows that are taken as they stand and shown to the owner, because something about them is odd."""

from .doubts import doubts
from .labour import unusual_drops

__all__ = ["doubts", "unusual_drops"]
