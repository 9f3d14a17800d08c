"""The few errors an owner can meet, all in one message form.

A message says what is wrong, where (file, row, column or setting), which value was
found, what is allowed and what to do. Parts that do not apply are left out.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import Any


class ShoplibError(Exception):
    """An error whose message is written for the owner of a shop.

    Parameters
    ----------
    what : str
        What is wrong, one sentence without a full stop.
    where : str, optional
        File, row, column or setting.
    found : object, optional
        The value that was met.
    allowed : str, optional
        What would be taken.
    to_do : str, optional
        What the owner can do now.
    """

    exit_code = 2

    def __init__(self, what: str, *, where: str = "", found: object = None, allowed: str = "", to_do: str = "") -> None:
        self.what, self.where, self.found, self.allowed, self.to_do = what, where, found, allowed, to_do
        super().__init__(message(what, where, found, allowed, to_do))


class DataError(ShoplibError):
    """The owner's files cannot be used: a needed table, column or row is missing.

    Attributes
    ----------
    listing : tuple of two DataFrames, or None
        Rejected and doubted rows of the tables that could be read, for the two lists that are written all the same.
    """

    listing: Any = None

    @classmethod
    def together(cls, errors: Sequence[DataError]) -> DataError:
        """Return one error that says what each of `errors` says, a line each."""
        first = errors[0]
        joined = cls(first.what, where=first.where, found=first.found, allowed=first.allowed, to_do=first.to_do)
        joined.args = ("\n".join(str(error) for error in errors),)
        return joined


class SettingsError(ShoplibError):
    """shop.toml, a settings file or a --set value is wrong."""


class UsageError(ShoplibError):
    """The command was called in a way that cannot be carried out."""


class OutputError(ShoplibError):
    """The output folder cannot be written."""


def message(what: str, where: str = "", found: object = None, allowed: str = "", to_do: str = "") -> str:
    """Return the one message form: ``where: what (found …; allowed: …). To do.``"""
    seen = f"found {short(found)}" if found is not None else ""
    inside = "; ".join(part for part in (seen, f"allowed: {allowed}" if allowed else "") if part)
    text = (f"{where}: " if where else "") + what + (f" ({inside})" if inside else "") + "."
    advice = to_do[:1].upper() + to_do[1:].rstrip(".")
    return f"{text} {advice}{'' if advice.endswith('?') else '.'}" if to_do else text


def short(value: object, longest: int = 60) -> str:
    """Return `value` quoted, on one printable line of at most `longest` characters."""
    text = "".join(sign if sign.isprintable() else "·" for sign in str(value))
    return f'"{text[: longest - 1]}…"' if len(text) > longest else f'"{text}"'


def shown(path: Path) -> str:
    """Return the name of a file as text; signs that another system wrote otherwise than in UTF-8 show as �."""
    return os.fsencode(path.name).decode(errors="replace")


def nearest(word: str, known: Iterable[str]) -> str:
    """Return the entry of `known` closest to `word`, or an empty string when none is near."""
    return next(iter(get_close_matches(word.lower(), list(known), n=1, cutoff=0.5)), "")
