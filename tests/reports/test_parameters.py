"""Parameters: typed by the model, in the order --set, --settings, shop.toml, default; errors name place, value and nearest name."""

from __future__ import annotations

import re
import shlex
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from shoplib.errors import SettingsError, UsageError
from shoplib.reports.discover import chosen, reports
from shoplib.reports.parameters import Given, declared, for_notebook, given, resolve

from .runs import SAMPLE, sample

(GALLERY,) = sample("gallery")


def value(name: str, toml: dict[str, Any] | None = None, file: dict[str, Any] | None = None, *sets: str, **every: Any) -> Any:
    command = given(None, [f"gallery.{text}" for text in sets], ["gallery"], **every)
    asked = Given(command.command, {"gallery": file or {}}, "what_if.toml", command.every)
    return getattr(resolve(GALLERY, {"gallery": toml or {}}, asked), name)


def test_the_default_stands_when_nothing_is_given() -> None:
    """As the model says."""
    assert value("horizon_years") == 2


def test_shop_toml_comes_before_the_default() -> None:
    """[reports.gallery]."""
    assert value("horizon_years", {"horizon_years": 3}) == 3


def test_a_settings_file_comes_before_shop_toml() -> None:
    """--settings."""
    assert value("horizon_years", {"horizon_years": 3}, {"horizon_years": 1}) == 1


def test_set_comes_before_the_settings_file() -> None:
    """--set."""
    assert value("horizon_years", {}, {"horizon_years": 1}, "horizon_years=3") == 3


def test_an_option_for_all_reports_comes_before_files_and_after_set() -> None:
    """--seed."""
    assert (value("seed", {}, {"seed": 5}, seed=6), value("seed", {}, {"seed": 5}, "seed=7", seed=6)) == (6, 7)


def test_an_option_a_report_does_not_take_is_left_out() -> None:
    """--previous is the review's alone."""
    assert value("horizon_years", previous="x.json") == 2


@pytest.mark.parametrize(
    ("text", "name", "expected"),
    [
        ("target_share=0.2", "target_share", 0.2), ("as_of=2026-01-31", "as_of", date(2026, 1, 31)), ("as_of=", "as_of", None),
        ("stages=solder, file", "stages", ("solder", "file")), ("stages=007", "stages", ("007",)), ("stages=a=b", "stages", ("a=b",)),
    ],
)  # fmt: skip
def test_a_text_becomes_what_the_field_says(text: str, name: str, expected: object) -> None:
    """Never guessed from how it looks."""
    assert value(name, {}, {}, text) == expected


@pytest.mark.parametrize(
    ("source", "words"),
    [
        ({"toml": {"horizon_yeers": 1}}, ["shop.toml, [reports.gallery]", '"horizon_yeers"', "Did you mean horizon_years?"]),
        ({"file": {"horizon_yeers": 1}}, ["what_if.toml, [gallery]", "Did you mean horizon_years?"]),
        ({"toml": {"horizon_years": 9}}, ["shop.toml, [reports.gallery], horizon_years", '"9"', "less than or equal to 3"]),
        ({"file": {"horizon_years": True}}, ["what_if.toml, [gallery], horizon_years", '"true"', "a number"]),
    ],
)
def test_an_error_names_the_place_the_value_and_what_is_allowed(source: dict[str, Any], words: list[str]) -> None:
    """Whatever the source."""
    with pytest.raises((UsageError, SettingsError)) as caught:
        value("horizon_years", **source)
    assert [word for word in words if word not in str(caught.value)] == []


@pytest.mark.parametrize("text", ["gallery", "gallery=1", "horizon_years=1", ".x=1", "gallery.=1"])
def test_a_set_without_report_name_and_value_is_refused(text: str) -> None:
    """REPORT.NAME=VALUE."""
    with pytest.raises(UsageError):
        given(None, [text], ["gallery"])


def test_a_report_in_a_settings_file_must_be_known(tmp_path: Path) -> None:
    """The nearest is suggested."""
    (tmp_path / "w.toml").write_text("[galery]\nseed = 1\n")
    with pytest.raises(UsageError, match="w.toml, .galery.* Did you mean gallery"):
        given(tmp_path / "w.toml", [], ["gallery"])


@pytest.mark.parametrize("content", [b"[gallery\n", b"\xff\xfe", b"seed = 1\n"])
def test_a_settings_file_that_is_none_is_a_settings_error(tmp_path: Path, content: bytes) -> None:
    """Not TOML, not UTF-8, no table."""
    (tmp_path / "w.toml").write_bytes(content)
    with pytest.raises(SettingsError, match="w.toml"):
        given(tmp_path / "w.toml", [], ["gallery"])


def test_a_settings_file_that_is_not_there_is_a_settings_error(tmp_path: Path) -> None:
    """Named."""
    with pytest.raises(SettingsError, match="w.toml: the settings file cannot be read"):
        given(tmp_path / "w.toml", [], ["gallery"])


def test_a_notebook_declares_its_parameters_with_defaults() -> None:
    """Read without running it."""
    names = declared(SAMPLE / "notebooks/gallery.ipynb")
    assert (names["horizon_years"], names["stages"], names["answer_file"]) == (2, [], "")


def test_what_goes_to_a_notebook_is_plain() -> None:
    """Dates are text, what is left out stays the notebook's own blank."""
    model = GALLERY.module.Parameters(as_of=date(2026, 1, 31))
    names = declared(GALLERY.notebook)
    assert for_notebook(model, names)["as_of"] == "2026-01-31" and "as_of" not in for_notebook(GALLERY.module.Parameters(), names)


README = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
WHAT_IFS = re.findall(r"`(\w+ --set [^`]+)`", README)


@pytest.mark.parametrize("words", WHAT_IFS)
def test_every_what_if_of_the_readme_is_taken(words: str) -> None:
    """By the model of its report and by its notebook, and changes what was there."""
    name, *sets = shlex.split(words)
    (report,) = chosen([name], reports())
    asked = given(None, [text for text in sets if text != "--set"], [name])
    plain = for_notebook(resolve(report, {}, asked), declared(report.notebook))
    assert len(WHAT_IFS) >= 9 and plain != for_notebook(report.module.Parameters(), declared(report.notebook))


@pytest.mark.parametrize("text", ["polish,file", '["polish", "file"]'])
def test_several_values_are_parted_at_commas_in_brackets_or_not(text: str) -> None:
    """As an owner writes them, and as TOML does."""
    (hiring,) = chosen(["hiring"], reports())
    assert resolve(hiring, {}, given(None, [f"hiring.stages={text}"], ["hiring"])).stages == ("polish", "file")  # type: ignore[attr-defined]
