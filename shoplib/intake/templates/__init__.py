"""What a shop starts with: empty tables, settings, the dictionary, and two sheets of paper for the bench."""

from .dictionary import dictionary
from .start import write_start

__all__ = ["dictionary", "write_start"]
