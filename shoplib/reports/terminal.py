"""What a run says while it works: one line a report, a bar for the simulations where somebody watches."""

from __future__ import annotations

import sys
import threading
from dataclasses import dataclass, field
from typing import TextIO

BAR_SIGNS = 30


def printable(text: str) -> str:
    """Return text from data so that it cannot move a terminal's cursor or colour it."""
    return "".join(sign if sign.isprintable() or sign == "\u00a0" else "·" for sign in text)


@dataclass
class Terminal:
    """Where a run speaks.

    Parameters
    ----------
    quiet, verbose : bool
        Say nothing but errors; say more.
    out : TextIO
        Takes the lines.
    bar : TextIO, optional
        Takes the progress bar; left out: standard error when it is a terminal, else none.
    """

    quiet: bool = False
    verbose: bool = False
    out: TextIO = field(default_factory=lambda: sys.stdout)
    bar: TextIO | None = field(default_factory=lambda: sys.stderr if sys.stderr.isatty() else None)
    _turn: threading.Lock = field(default_factory=threading.Lock)

    def say(self, text: str) -> None:
        """Write one line."""
        if not self.quiet:
            with self._turn:
                print(printable(text), file=self.out, flush=True)

    def detail(self, text: str) -> None:
        """Write one line that only a verbose run shows."""
        if self.verbose:
            self.say(text)

    def progress(self, what: str, done: float) -> None:
        """Draw how much of `what` is done, 0 to 1; the bar is wiped at 1."""
        if self.bar is None or self.quiet:
            return
        share = min(max(done, 0.0), 1.0)
        full = round(share * BAR_SIGNS)
        line = f"\r{printable(what)} [{'#' * full}{'.' * (BAR_SIGNS - full)}] {share:4.0%}"
        with self._turn:
            self.bar.write(line if share < 1 else "\r" + " " * len(line) + "\r")
            self.bar.flush()
