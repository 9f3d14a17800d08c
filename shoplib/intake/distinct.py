"""A column as its distinct cells and a code for each row: what is read is read once for each spelling.

Cells are compared eight bytes at a time as whole numbers, which is exact and makes no Python strings.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from .text import PADDING, Text

QUOTE = 34
LONGEST = 64
"""Bytes up to which a cell is compared as numbers; longer ones are rare and compared one by one."""

Keys = list[NDArray[np.uint64]]
"""Cells as numbers of eight bytes each: the first of every cell, the second …"""

_MIXER = np.uint64(0x9E3779B97F4A7C15)
_MASKS = np.array([(1 << (8 * count)) - 1 for count in range(9)], dtype=np.uint64)


@dataclass(frozen=True)
class Cells:
    """One column.

    Attributes
    ----------
    codes : ndarray of int
        For each row the position of its cell in `raw`.
    raw : ndarray of bytes
        The distinct cells, in order of first appearance, cut at `LONGEST` bytes.
    long : dict of int to str
        The whole text of those distinct cells that are longer.
    encoding : str
        Of `raw`.
    doubled : bool
        Whether a quote inside a cell stands doubled.
    memo : dict
        What was found about the distinct cells while they were read, so that it is found once.
    """

    codes: NDArray[np.int32]
    raw: NDArray[np.bytes_]
    long: dict[int, str]
    encoding: str = "utf-8"
    doubled: bool = False
    memo: dict[str, Any] = field(default_factory=dict, compare=False, repr=False)

    def texts(self, at: NDArray[np.integer[Any]] | None = None) -> list[str]:
        """Return the distinct cells as text, all of them or those at positions `at`."""
        raw = self.raw if at is None else self.raw[at]
        if self.plain:
            texts: list[str] = raw.astype(f"U{max(1, raw.dtype.itemsize)}").tolist()
        else:
            texts = [cell.decode(self.encoding, errors="replace") for cell in raw.tolist()]
        if self.long:
            texts = [self.long.get(i, text) for i, text in zip(range(len(texts)) if at is None else at.tolist(), texts, strict=True)]
        return [text.replace('""', '"') for text in texts] if self.doubled else texts

    @property
    def plain(self) -> bool:
        """Whether the distinct cells are ASCII."""
        return not len(self.raw) or int(self.raw.view(np.uint8).max()) < 128

    def kept(self, keep: NDArray[np.bool_]) -> Cells:
        """Return the column with only the rows that are true in `keep`."""
        return Cells(self.codes[keep], self.raw, self.long, self.encoding, self.doubled, self.memo)


class Builder:
    """A column gathered block by block from the bytes of a text file.

    Parameters
    ----------
    text : Text
        The file.
    codes : ndarray of int32
        Where the code of each row is written: during `add` its code within the block, after `done` that within the column.
    """

    def __init__(self, text: Text, codes: NDArray[np.int32]) -> None:
        self._text = text
        self._codes = codes
        self._bounds = [0]
        self._keys: list[Keys] = []
        self._long: list[str] = []
        self._seen: dict[str, int] = {}

    def add(self, start: NDArray[Any], length: NDArray[Any]) -> None:
        """Add the cells that begin at `start` and have `length` bytes each; where most are blank, only the others are compared."""
        codes = self._codes[self._bounds[-1] : self._bounds[-1] + len(start)]
        if 2 * np.count_nonzero(length) > len(length):
            codes[:], keys = codes_of(self._words(start, length))
        else:
            filled = np.flatnonzero(length)
            some, keys = codes_of(self._words(start[filled], length[filled]))
            codes[:] = len(keys[0])
            codes[filled] = some
            keys = [np.append(key, np.uint64(0)) for key in keys]
        self._bounds.append(self._bounds[-1] + len(start))
        self._keys.append(keys)

    def _words(self, start: NDArray[Any], length: NDArray[Any]) -> Keys:
        """Return the bytes of each cell, eight to a number; those beyond its end are zero."""
        shortest, widest = int(length.min(initial=LONGEST)), int(length.max(initial=0))
        count = max(1, -(-min(widest, LONGEST) // 8))
        windows = np.ndarray((self._text.size + PADDING - 8 * count,), dtype=f"V{8 * count}", buffer=self._text.data, strides=(1,))
        words = windows[start].view(np.uint64).reshape(-1, count)
        for i in range(shortest // 8, count):
            words[:, i] &= _MASKS.take(widest - 8 * i if shortest == widest else length - 8 * i, mode="clip")
        return [*words.T, self._long_keys(start, length)] if widest > LONGEST else [*words.T]

    def _long_keys(self, start: NDArray[Any], length: NDArray[Any]) -> NDArray[np.uint64]:
        keys = np.zeros(len(start), dtype=np.uint64)
        for row in np.flatnonzero(length > LONGEST).tolist():
            cell = self._text.data[start[row] : start[row] + length[row]].tobytes().decode(self._text.encoding, errors="replace")
            if cell not in self._seen:
                self._long.append(cell)
            keys[row] = self._seen.setdefault(cell, len(self._long))
        return keys

    def done(self) -> Cells:
        """Return the column."""
        one, distinct = codes_of(_joined(self._keys))
        one, begin = one.astype(np.int32), 0
        for i, keys in enumerate(self._keys):
            codes = self._codes[self._bounds[i] : self._bounds[i + 1]]
            codes[:] = one[begin : begin + len(keys[0])].take(codes)
            begin += len(keys[0])
        raw, long = self._told(distinct)
        quotes = bool((raw.view(np.uint8) == QUOTE).any()) or any('"' in text for text in long.values())
        return Cells(self._codes, raw, long, self._text.encoding, quotes)

    def _told(self, keys: Keys) -> tuple[NDArray[np.bytes_], dict[int, str]]:
        """Return the distinct cells of their keys, and the whole of the long ones."""
        words = keys[: LONGEST // 8]
        raw = np.stack(words, axis=1).view(f"S{8 * len(words)}").reshape(-1)
        numbers = keys[LONGEST // 8] if len(keys) > LONGEST // 8 else np.zeros(len(raw), dtype=np.uint64)
        return raw, {int(i): self._long[int(numbers[i]) - 1] for i in np.flatnonzero(numbers)}


def _joined(parts: Sequence[Keys]) -> Keys:
    """Return the keys of all `parts` one after another; a part of shorter cells lacks the last ones, which are zero."""
    if len(parts) == 1:
        return parts[0]
    zero = [np.zeros(len(keys[0]), dtype=np.uint64) for keys in parts]
    words = max(map(len, parts))
    return [np.concatenate([keys[i] if i < len(keys) else none for keys, none in zip(parts, zero, strict=True)]) for i in range(words)]


def codes_of(keys: Keys) -> tuple[NDArray[Any], Keys]:
    """Return a code for each row, equal where all of `keys` are, in order of first appearance, and the keys of each code.

    Rows that repeat the row above are skipped. Several keys are mixed into one number first; that no two different
    rows were mixed alike is checked, not assumed.
    """
    new = keys[0][1:] != keys[0][:-1]
    for key in keys[1:]:
        new |= key[1:] != key[:-1]
    begins = np.flatnonzero(new) + 1
    if 2 * len(begins) > len(keys[0]):
        return _codes(keys)
    begins = np.concatenate(([0], begins)) if len(keys[0]) else begins
    codes, distinct = _codes([key[begins] for key in keys])
    return np.repeat(codes, np.diff(begins, append=len(keys[0]))), distinct


def _codes(keys: Keys) -> tuple[NDArray[Any], Keys]:
    if len(keys) == 1:
        codes, found = pd.factorize(keys[0])
        return codes, [np.asarray(found)]
    mixed = keys[0] * _MIXER
    for key in keys[1:]:
        mixed = (mixed ^ key) * _MIXER
    codes = pd.factorize(mixed)[0]
    first = first_of_each(codes)
    if not all(np.array_equal(key[first][codes], key) for key in keys):
        codes = pd.factorize(keys[0])[0]
        for key in keys[1:]:
            more, found = pd.factorize(key)
            codes = pd.factorize(codes * len(found) + more)[0]
        first = first_of_each(codes)
    return codes, [key[first] for key in keys]


def first_of_each(codes: NDArray[Any]) -> NDArray[np.intp]:
    """Return for each code 0 … k−1 the first row that has it."""
    first = np.zeros(int(codes.max(initial=-1)) + 1, dtype=np.intp)
    first[codes[::-1]] = np.arange(len(codes) - 1, -1, -1)
    return first


def distinct_objects(values: Sequence[Any] | NDArray[np.object_]) -> Cells:
    """Return a column of a workbook, or of loosely read text, as distinct text cells."""
    array = np.empty(len(values), dtype=object)
    array[:] = values
    codes, found = pd.factorize(array, use_na_sentinel=False)
    if 1.0 in (distinct := set(found)) or 0.0 in distinct:
        # True equals 1 and False 0: told apart by their text
        array[:] = [as_text(value) if isinstance(value, bool) else value for value in array]
        codes, found = pd.factorize(array, use_na_sentinel=False)
    texts = [_WRITERS.get(type(value), str)(value) for value in found]
    raw, long = _encoded(texts)
    return Cells(codes.astype(np.int32), raw, long)


def _encoded(texts: list[str]) -> tuple[NDArray[np.bytes_], dict[int, str]]:
    """Return texts as bytes, cut at `LONGEST`, and the whole of the longer ones."""
    joined = "".join(texts)
    if joined.isascii() and "\0" not in joined and max(map(len, texts), default=0) <= LONGEST:
        return np.array(texts or [""], dtype="S"), {}
    encoded = [text.replace("\0", "\x1a").encode("utf-8", errors="replace") for text in texts]
    long = {i: cell.decode("utf-8") for i, cell in enumerate(encoded) if len(cell) > LONGEST}
    return np.array([cell[:LONGEST] for cell in encoded] or [b""], dtype="S"), long


def as_text(value: Any) -> str:
    """Return a workbook's cell as the text a spreadsheet shows for it, dates as ISO."""
    return _WRITERS.get(type(value), str)(value)


def _number(value: float) -> str:
    return repr(value + 0.0).removesuffix(".0")


def _moment(value: datetime) -> str:
    timed = value.hour or value.minute or value.second or value.microsecond
    return value.isoformat(" ", timespec="seconds") if timed else value.date().isoformat()


def _span(value: timedelta) -> str:
    seconds = round(value.total_seconds())
    return f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"


_WRITERS: dict[type, Callable[[Any], str]] = {
    str: str, float: _number, bool: lambda value: "yes" if value else "no", datetime: _moment, date: date.isoformat, time: time.isoformat,
    timedelta: _span, type(None): lambda _: "",
}  # fmt: skip
