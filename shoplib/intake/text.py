"""A text file's bytes: which encoding they are in, and the few bytes that would mislead a reader put right.

Excel writes UTF-16 ("Unicode text"), UTF-8 with a byte-order mark, or the Western code page of its age (cp1252).
"""

from __future__ import annotations

import codecs
import hashlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..errors import DataError

PADDING = 128
"""Zero bytes kept after the text, so that a window of bytes may start at any of its bytes."""

SUBSTITUTE = b"\x1a"
"""What stands for a NUL byte: the control sign SUBSTITUTE, which a cell's reader takes out and says so."""


@dataclass(frozen=True)
class Text:
    """The bytes of a text file.

    Attributes
    ----------
    data : bytearray
        The text, then a line feed and `PADDING` zero bytes; no NUL inside, lines end in ``\\n`` or ``\\r\\n``.
    size : int
        Bytes of the text with its last line feed.
    encoding : str
        In which cells are decoded: ``utf-8`` or ``cp1252``.
    said : tuple of str
        What was found and should be told.
    sha256 : str
        Of the file as it lies on disk.
    """

    data: bytearray
    size: int
    encoding: str
    said: tuple[str, ...]
    sha256: str

    @property
    def bytes(self) -> NDArray[np.uint8]:
        """The text as an array of bytes, padding included."""
        return np.frombuffer(self.data, dtype=np.uint8)


def read_text(path: Path) -> Text:
    """Read `path` and tell its encoding.

    Raises
    ------
    DataError
        The file cannot be opened, or it holds nothing.
    """
    data = read_bytes(path)
    sha256 = hashlib.sha256(data).hexdigest()
    if not data[:4096].strip() and not data.strip():
        raise DataError("the file is empty", where=path.name, to_do="put the heading row back, or take the file out of the folder")
    data, encoding, said = _recoded(data)
    if b"\0" in data:
        data = data.replace(b"\0", SUBSTITUTE)
        said.append("holds NUL bytes; they were taken out")
    if b"\r" in data and data.count(b"\r") != data.count(b"\r\n"):
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    if not data.endswith(b"\n"):
        data += b"\n"
    size = len(data)
    data += bytes(PADDING)
    return Text(data, size, encoding, tuple(said), sha256)


def read_bytes(path: Path) -> bytearray:
    """Return the bytes of `path`, or raise a DataError that says why it cannot be opened."""
    try:
        with path.open("rb") as file:
            data = bytearray(path.stat().st_size)
            count = file.readinto(data)
            return data[:count] if count < len(data) else data
    except OSError as error:
        raise DataError(
            "the file cannot be read",
            where=path.name,
            found=error.strerror or str(error),
            to_do="close it in other programs and see to it that you may open it",
        ) from error


def _recoded(data: bytearray) -> tuple[bytearray, str, list[str]]:
    """Return `data` in an encoding in which separators are single bytes, that encoding, and what to say."""
    if data.startswith(codecs.BOM_UTF8):
        return data[3:], *_eight_bit(data)
    wide = _sixteen_bit(data)
    if wide:
        text = data.decode(wide, errors="replace").lstrip("\ufeff")
        return bytearray(text.encode("utf-8", errors="replace")), "utf-8", ["is UTF-16 text"]
    return data, *_eight_bit(data)


def _eight_bit(data: bytearray) -> tuple[str, list[str]]:
    if data.isascii():
        return "utf-8", []
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252", ["is not UTF-8; read as Western European text (cp1252)"]
    return "utf-8", []


def _sixteen_bit(data: bytearray) -> str:
    if data[:2] in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE):
        return "utf-16"
    head = data[:2000]
    even, odd = head[::2].count(0), head[1::2].count(0)
    if max(even, odd) < 0.3 * max(1, len(head) // 2) or min(even, odd) > 0.05 * len(head):
        return ""
    return "utf-16-le" if odd > even else "utf-16-be"
