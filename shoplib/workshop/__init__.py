"""The workshop simulator: fitted from the shop's own past, asked "what if"."""

from .fit import fit, fitted
from .state import state

__all__ = ["fit", "fitted", "state"]
