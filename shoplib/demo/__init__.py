"""The invented workshop: written at any size, played in simpy, its truth beside it."""

from .write import make_book, write_book, write_demo

__all__ = ["make_book", "write_book", "write_demo"]
