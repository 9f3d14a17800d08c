"""A group whose sub-folders have hostile names: every shop has its reports, and the overview and the terminal stay inert."""

from __future__ import annotations

import io
import os
import re
import unicodedata
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import unquote_to_bytes

import pytest

from shoplib.reports.group import run_any
from shoplib.reports.run import Request
from shoplib.reports.terminal import Terminal
from tests.reports.runs import kernels_find_samples, sample, small_shop

NAMES = (b"javascript:alert(1)", b'"><img src=x onerror=alert(2)>', b"50% #1?", b"\x1b[31mred", "\u202eevil {{7*191}}".encode())
NO_TEXT = b"not UTF-8 \xff"


@dataclass(frozen=True)
class Group:
    """The run of a group: where it wrote, its exit code, all it said, its overview."""

    out: Path
    code: int
    said: str
    page: str


@pytest.fixture(scope="module")
def group(tmp_path_factory: pytest.TempPathFactory, shared_cache: Path) -> Group:
    home, heard = tmp_path_factory.mktemp("hostile_group"), io.StringIO()
    for number, name in enumerate((*NAMES, NO_TEXT)):
        small_shop(home / "data" / os.fsdecode(name), f"Shop {number}")
    with kernels_find_samples(shared_cache):
        code = run_any(Request(home / "data", home / "out", known=sample("gallery")), Terminal(out=heard, bar=None))
    return Group(home / "out", code, heard.getvalue(), (home / "out/index.html").read_text("utf-8"))


def test_each_shop_has_its_report(group: Group) -> None:
    """Odd names are names; what is no text at all is refused, and stops no other."""
    made = {file.relative_to(group.out).parts[0] for file in group.out.glob("*/*/gallery.html")}
    assert (group.code, made) == (1, {os.fsdecode(name) for name in NAMES}), group.said


def test_a_name_that_is_no_text_is_refused(group: Group) -> None:
    """With what to do, on the terminal and in the overview."""
    assert all("not text in UTF-8" in told and "Rename it" in told for told in (group.said, group.page))


def test_each_link_leads_to_a_shop(group: Group) -> None:
    """Neither to a script nor astray at a sign that means something in an address."""
    links = re.findall(r'class="report" href="([^"]*)"', group.page)
    there = [group.out / os.fsdecode(unquote_to_bytes(link)) for link in links]
    assert [file.is_file() for file in there] == [True] * len(NAMES)
    assert [link for link in links if re.match(r"[a-z]+:", link)] == []


def test_no_name_becomes_an_element(group: Group) -> None:
    """Signs of markup are escaped."""
    assert "<img" not in group.page


def test_the_terminal_gets_no_control_and_no_direction_signs(group: Group) -> None:
    """A folder cannot colour or turn the line."""
    assert [sign for sign in set(group.said) if unicodedata.category(sign) in ("Cc", "Cf", "Cs") and sign != "\n"] == []
