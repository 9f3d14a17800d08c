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

LINE_FEED = 10
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
    data, size = read_bytes(path, PADDING + 1)
    sha256 = hashlib.sha256(memoryview(data)[:size]).hexdigest()
    if not data[:4096].strip(b"\0 \t\r\n") and not data.strip(b"\0 \t\r\n"):
        raise DataError("the file is empty", where=path.name, to_do="put the heading row back, or take the file out of the folder")
    data, size, encoding, said = _recoded(data, size)
    if data.find(b"\0", 0, size) >= 0:
        data[:size] = data[:size].replace(b"\0", SUBSTITUTE)
        said.append("holds NUL bytes; they were taken out")
    if data.find(b"\r") >= 0 and data.count(b"\r") != data.count(b"\r\n"):
        data, size = _padded(data[:size].replace(b"\r\n", b"\n").replace(b"\r", b"\n"))
    if data[size - 1] != LINE_FEED:
        data[size] = LINE_FEED
        size += 1
    return Text(data, size, encoding, tuple(said), sha256)


def read_bytes(path: Path, spare: int = 0) -> tuple[bytearray, int]:
    """Return the bytes of `path` followed by `spare` zero bytes, and how many the file has.

    Raises
    ------
    DataError
        The file cannot be opened; the message says why.
    """
    try:
        with path.open("rb") as file:
            size = path.stat().st_size
            data = bytearray(size + spare)
            return data, file.readinto(memoryview(data)[:size])
    except OSError as error:
        raise DataError(
            "the file cannot be read",
            where=path.name,
            found=error.strerror or str(error),
            to_do="close it in other programs and see to it that you may open it",
        ) from error


def _padded(data: bytes | bytearray) -> tuple[bytearray, int]:
    return bytearray(data) + bytes(PADDING + 1), len(data)


def _recoded(data: bytearray, size: int) -> tuple[bytearray, int, str, list[str]]:
    """Return `data` in an encoding in which separators are single bytes, its size, that encoding, and what to say."""
    if data.startswith(codecs.BOM_UTF8):
        return data[3:], size - 3, *_eight_bit(data)
    wide = _sixteen_bit(data[:size])
    if wide:
        text = data[:size].decode(wide, errors="replace").lstrip("\ufeff")
        return *_padded(text.encode("utf-8", errors="replace")), "utf-8", ["is UTF-16 text"]
    return data, size, *_eight_bit(data)


def _eight_bit(data: bytearray) -> tuple[str, list[str]]:
    if data.isascii():
        return "utf-8", []
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252", ["is not UTF-8; read as Western European text (cp1252)"]
    return "utf-8", []


def _sixteen_bit(data: bytes | bytearray) -> str:
    if data[:2] in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE):
        return "utf-16"
    head = data[:2000]
    even, odd = head[::2].count(0), head[1::2].count(0)
    if max(even, odd) < 0.3 * max(1, len(head) // 2) or min(even, odd) > 0.05 * len(head):
        return ""
    return "utf-16-le" if odd > even else "utf-16-be"
