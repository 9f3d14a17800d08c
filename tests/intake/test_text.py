"""A text file's bytes and their encoding."""

import pytest

from shoplib.errors import DataError
from shoplib.intake.text import PADDING, read_text


def text_of(tmp_path, data):
    path = tmp_path / "orders.csv"
    path.write_bytes(data)
    text = read_text(path)
    return bytes(text.data[: text.size]).decode(text.encoding), text


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_the_encoding_is_told(tmp_path, encoding):
    """The same text comes out of every encoding Excel writes."""
    assert text_of(tmp_path, "order_id,price\nJörg,12 €\n".encode(encoding))[0] == "order_id,price\nJörg,12 €\n"


@pytest.mark.parametrize(("encoding", "word"), [("utf-16", "UTF-16"), ("cp1252", "cp1252")])
def test_an_unusual_encoding_is_said(tmp_path, encoding, word):
    """The owner hears of it."""
    assert word in " ".join(text_of(tmp_path, "Jörg\n".encode(encoding))[1].said)


def test_nul_bytes_are_taken_out_and_said(tmp_path):
    """They stand as the control sign SUBSTITUTE until the cell is read."""
    content, text = text_of(tmp_path, b"a,b\n1\x002,3\n")
    assert content == "a,b\n1\x1a2,3\n" and "NUL" in text.said[0]


@pytest.mark.parametrize("data", [b"a\rb\r", b"a\r\nb\r", b"a\nb"])
def test_line_ends_become_line_feeds(tmp_path, data):
    """Old and mixed line ends, and a last line without one."""
    assert text_of(tmp_path, data)[0] == "a\nb\n"


def test_zero_bytes_follow_the_text(tmp_path):
    """So that a window of bytes may start at the last one."""
    text = text_of(tmp_path, b"a,b\n")[1]
    assert bytes(text.data[text.size :]) >= bytes(PADDING)


@pytest.mark.parametrize("data", [b"", b"\n\n  \n", b"\x00\x00"])
def test_an_empty_file_is_an_error(tmp_path, data):
    """With what to do."""
    with pytest.raises(DataError, match="empty"):
        text_of(tmp_path, data)


def test_a_file_that_may_not_be_opened_is_an_error(tmp_path, monkeypatch):
    """The message names the file and the reason, as the system gives it."""
    path = tmp_path / "orders.csv"
    path.write_text("x")

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(type(path), "open", refuse)
    with pytest.raises(DataError, match=r"orders\.csv.*Permission denied"):
        read_text(path)
