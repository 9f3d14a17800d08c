"""The index: newest first, every headline as text, failures flagged, one script under its hash."""

from __future__ import annotations

import base64
import hashlib
import re
from datetime import date
from pathlib import Path

from shoplib.reports.answer import Answer, Found, Period
from shoplib.reports.index import entries, index_html, overview

HOSTILE = '<script>alert(1)</script>"><img src=x onerror=alert(2)>'


def file_answer(out: Path, day: str, report: str, headline: str = "h", *levels: str) -> None:
    when = date.fromisoformat(day)
    answer = Answer(
        report=report, shop="S", as_of=when, period=Period(from_=when, to=when), shoplib="1", seed=1, inputs={}, parameters={}, headline=headline,
        findings=tuple(Found(level=level, code="c", text="t") for level in levels),  # type: ignore[arg-type]
    )  # fmt: skip
    (out / day).mkdir(exist_ok=True)
    (out / day / f"{report}.json").write_text(answer.to_json(), "utf-8")


def test_reports_are_newest_first_and_in_the_suites_order(tmp_path: Path) -> None:
    """The review of a day stands before its margin."""
    for day, report in (("2026-01-31", "margin"), ("2026-02-28", "margin"), ("2026-02-28", "monthly_review")):
        file_answer(tmp_path, day, report)
    found = [(entry.as_of.isoformat(), entry.report) for entry in entries(tmp_path)]
    assert found == [("2026-02-28", "monthly_review"), ("2026-02-28", "margin"), ("2026-01-31", "margin")]


def test_a_file_that_is_no_answer_is_left_out(tmp_path: Path) -> None:
    """Half a file, another program's file."""
    (tmp_path / "2026-01-31").mkdir()
    for name, text in (("a", '{"report": "margin"'), ("b", "[]"), ("c", "{}")):
        (tmp_path / "2026-01-31" / f"{name}.json").write_text(text)
    assert entries(tmp_path) == []


def test_a_hostile_headline_is_text(tmp_path: Path) -> None:
    """One script stands on the page, its own."""
    file_answer(tmp_path, "2026-01-31", "margin", HOSTILE)
    page = index_html(tmp_path)
    assert (len(re.findall("<script", page)), "<img" in page) == (1, False)


def test_the_policy_holds_the_hash_of_the_script(tmp_path: Path) -> None:
    """The browser runs no other."""
    page = index_html(tmp_path)
    script = re.search("<script>(.*?)</script>", page, re.S)
    assert script is not None and base64.b64encode(hashlib.sha256(script[1].encode()).digest()).decode() in page


def test_cautions_are_counted(tmp_path: Path) -> None:
    """Beside the name."""
    file_answer(tmp_path, "2026-01-31", "margin", "h", "warn", "warn", "stop", "note")
    assert "2\u00a0cautions" in index_html(tmp_path) and "1\u00a0not shown" in index_html(tmp_path)


def test_failures_of_the_last_run_stand_on_top(tmp_path: Path) -> None:
    """With a link to what failed."""
    (tmp_path / "failed").mkdir()
    (tmp_path / "failed/margin.html").write_text("")
    file_answer(tmp_path, "2026-01-31", "margin")
    page = index_html(tmp_path)
    assert 0 < page.index('href="failed/margin.html"') < page.index('href="2026-01-31/margin.html"')


def test_an_empty_folder_says_so(tmp_path: Path) -> None:
    """No list without items."""
    assert "No report has been made yet" in index_html(tmp_path)


def test_the_overview_of_a_group_flags_the_shop_that_failed() -> None:
    """And escapes what it says."""
    page = overview([("a", "A", 0, "h"), ("b", "B", 1, HOSTILE)])
    assert (page.count("not all reports were made"), "<img" in page) == (1, False)
