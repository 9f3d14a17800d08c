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

from ..errors import DataError, shown

LINE_FEED, RETURN = 10, 13
_BLOCK = 1 << 18
PADDING = 128
"""Zero bytes kept after the text, so that a window of bytes may start at any of its bytes."""

_NOTHING = b"\0 \t\r\n"

SUBSTITUTE = b"\x1a"
"""What stands for a NUL byte: the control sign SUBSTITUTE, which a cell's reader takes out and says so."""

Bytes = NDArray[np.uint8]


@dataclass(frozen=True)
class Text:
    """The bytes of a text file.

    Attributes
    ----------
    data : ndarray of uint8
        The text, then a line feed and `PADDING` zero bytes; no NUL inside, lines end in ``\\n`` or ``\\r\\n``.
    size : int
        Bytes of the text with its last line feed.
    encoding : str
        In which cells are decoded: ``utf-8`` or ``cp1252``.
    said : tuple of str
        What was found and should be told.
    sha256 : str
        Of the file as it lies on disk.
    quoted, returns : bool
        Whether a double quote, a carriage return may occur.
    """

    data: Bytes
    size: int
    encoding: str
    said: tuple[str, ...]
    sha256: str
    quoted: bool = True
    returns: bool = True


def read_text(path: Path) -> Text:
    """Read `path` and tell its encoding.

    Raises
    ------
    DataError
        The file cannot be opened, or it holds nothing.
    """
    data, size, seen = _read(path)
    if not data[:4096].tobytes().strip(_NOTHING) and not data.tobytes().strip(_NOTHING):
        raise DataError("the file is empty", where=shown(path), to_do="put the heading row back, or take the file out of the folder")
    encoding, said = "utf-8", list[str]()
    if seen.high:
        data, size, encoding, said = _recoded(data, size)
    if seen.nul and (b"\0" in (content := data[:size].tobytes()) or _sixteen_bit(content)):
        data, size, said = _without_nul(content, said)
    returned = np.flatnonzero(data[:size] == RETURN) if seen.returns else np.zeros(0, dtype=np.intp)
    if (data[returned + 1] != LINE_FEED).any():
        data, size = _padded(data[:size].tobytes().replace(b"\r\n", b"\n").replace(b"\r", b"\n"))
        returned = returned[:0]
    if data[size - 1] != LINE_FEED:
        data[size] = LINE_FEED
        size += 1
    return Text(data, size, encoding, tuple(said), seen.sha256, seen.quotes, len(returned) > 0)


@dataclass(frozen=True)
class _Seen:
    """What was met while a file was read: its hash, and whether it has bytes that ask for more than the plainest reading."""

    sha256: str
    high: bool
    nul: bool
    returns: bool
    quotes: bool


def _read(path: Path) -> tuple[Bytes, int, _Seen]:
    """Read `path` block by block, and look at each block while it is at hand."""
    try:
        with path.open("rb") as file:
            most = path.stat().st_size
            # not a bytearray: an array's memory comes in large pages, which cost a third of the reading less
            data = np.empty(most + PADDING + 1, dtype=np.uint8)
            sha256, size, high, nul, returns, quotes = hashlib.sha256(), 0, False, False, False, False
            while block := file.read(min(_BLOCK, most - size)):
                sha256.update(block)
                high = high or not block.isascii()
                nul = nul or b"\0" in block
                returns = returns or b"\r" in block
                quotes = quotes or b'"' in block
                data[size : size + len(block)] = np.frombuffer(block, dtype=np.uint8)
                size += len(block)
            data[size:] = 0
            return data, size, _Seen(sha256.hexdigest(), high, nul, returns, quotes)
    except OSError as error:
        raise unreadable(path, error) from error


def unreadable(path: Path, error: OSError) -> DataError:
    """Return the error for a file that cannot be opened."""
    return DataError(
        "the file cannot be read",
        where=shown(path),
        found=error.strerror or str(error),
        to_do="close it in other programs and see to it that you may open it",
    )


def sha256_of(path: Path) -> str:
    """Return the sha256 of a file, or raise a DataError that says why it cannot be opened."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise unreadable(path, error) from error


def _without_nul(content: bytes, said: list[str]) -> tuple[Bytes, int, list[str]]:
    wide = _sixteen_bit(content)
    if wide:
        return *_padded(content.decode(wide, errors="replace").encode("utf-8", errors="replace")), ["is UTF-16 text"]
    return *_padded(content.replace(b"\0", SUBSTITUTE)), [*said, "holds NUL bytes; they were taken out"]


def _padded(content: bytes) -> tuple[Bytes, int]:
    return np.frombuffer(bytearray(content) + bytes(PADDING + 1), dtype=np.uint8), len(content)


def _recoded(data: Bytes, size: int) -> tuple[Bytes, int, str, list[str]]:
    """Return `data` in an encoding in which separators are single bytes, its size, that encoding, and what to say."""
    content = data[:size].tobytes()
    if content.startswith(codecs.BOM_UTF8):
        return data[3:], size - 3, *_eight_bit(content)
    wide = _sixteen_bit(content)
    if wide:
        text = content.decode(wide, errors="replace").lstrip("\ufeff")
        return *_padded(text.encode("utf-8", errors="replace")), "utf-8", ["is UTF-16 text"]
    return data, size, *_eight_bit(content)


def _eight_bit(content: bytes) -> tuple[str, list[str]]:
    try:
        content.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252", ["is not UTF-8; read as Western European text (cp1252)"]
    return "utf-8", []


def _sixteen_bit(data: bytes) -> str:
    if data[:2] in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE):
        return "utf-16"
    head = data[:2000]
    even, odd = head[::2].count(0), head[1::2].count(0)
    if max(even, odd) < 0.3 * max(1, len(head) // 2) or min(even, odd) > 0.05 * len(head):
        return ""
    return "utf-16-le" if odd > even else "utf-16-be"
