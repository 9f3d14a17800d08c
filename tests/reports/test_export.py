"""The page around the blocks: its policy, its contents, its foot; nothing of the template is left."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.reports.drawing import DARK
from shoplib.reports.export import contents, policy, script_text, slug, style_text

from .conftest import Ran


@pytest.fixture(scope="module")
def page(gallery: Ran) -> str:
    return (gallery.out / "2026-03-31/gallery.html").read_text("utf-8")


def test_the_policy_allows_exactly_the_two_scripts_of_the_page(page: str) -> None:
    """By the hashes of what really stands between the tags."""
    scripts = re.findall("<script>(.*?)</script>", page, re.S)
    hashes = [f"sha256-{base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()}" for script in scripts]
    assert sorted(re.findall(r"'(sha256-[^']*)'", page[:3000])) == sorted(hashes) and len(hashes) == 2


def test_the_policy_refuses_everything_else() -> None:
    """No request, no frame, no form, no base."""
    assert all(part in policy([]) for part in ("default-src 'none'", "base-uri 'none'", "form-action 'none'"))


def test_nothing_of_the_template_is_left(page: str) -> None:
    """Every gap is filled."""
    assert re.findall(r"@@\w+@@|\{\{|\{%", re.sub("<script>.*?</script>", "", page, flags=re.S)) == []


def test_the_contents_link_every_section(page: str) -> None:
    """By ids that are there."""
    links = re.findall(r'<li><a href="#([^"]*)">', page)
    assert links == ["the-options-side-by-side", "prices", "the-benches", "promises", "how-this-is-computed", "data-and-notes"]
    assert all(f'<h2 id="{link}">' in page for link in links)


def test_plotly_stands_once(page: str) -> None:
    """Not in every figure."""
    assert page.count("plotly.js v") == 1


def test_the_code_is_hidden(page: str) -> None:
    """Neither cells nor prompts nor parameters."""
    assert "open_shop" not in page and "answer_file" not in page and "In&nbsp;[" not in page


def test_the_script_knows_every_dark_colour() -> None:
    """The palette stands in one place."""
    found = re.search(r"const DARK = (\{.*?\})", script_text())
    assert found is not None and json.loads(found[1]) == DARK


@given(st.text())
def test_no_foot_can_leave_its_string(text: str) -> None:
    """The shop's name stands in a style sheet; each sign that is no letter is escaped."""
    found = re.search(r'@bottom-left\{content:"([^"]*)"', style_text(text))
    assert found is not None and re.fullmatch(r"(?:[A-Za-z0-9 ]|\\[0-9a-f]+ )*", found[1])


def test_headings_make_plain_ids() -> None:
    """Also with tags and signs in them."""
    assert (slug("Where &amp; why: 2 ways"), contents("<h2>A b</h2>")) == ("where-why-2-ways", '<ul><li><a href="#a-b">A b</a></li></ul>')


def test_the_style_sheet_keeps_dark_colours_off_paper() -> None:
    """They stand under @media screen only."""
    sheet = style_text()
    dark = sheet.index("prefers-color-scheme:dark")
    assert sheet.rfind("@media", 0, dark) == sheet.rfind("@media screen", 0, dark)


def test_the_own_script_is_short() -> None:
    """Whoever doubts it can read it."""
    path = Path(__file__).parents[2] / "shoplib/reports/page/page.js"
    assert len(path.read_text("utf-8").splitlines()) <= 140
