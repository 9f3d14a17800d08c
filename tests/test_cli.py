"""The command: its calls, its exit codes, its messages; never a traceback."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from shoplib.cli import main
from tests.reports.runs import small_shop


def call(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    return small_shop(tmp_path / "shop")


@pytest.fixture(autouse=True)
def _own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SHOPLIB_CACHE", str(tmp_path / "cache"))


def test_help_names_every_call() -> None:
    """run, check, start, demo, list."""
    assert [word for word in ("run", "check", "start", "demo", "list") if f"\n  {word} " not in call("--help").output] == []


def test_list_says_each_reports_question_and_parameters() -> None:
    """With units and defaults."""
    output = call("list").output
    assert "margin: What did the benches earn" in output and "period_months = 12" in output


def test_check_says_what_was_read_and_is_exit_code_0_also_with_rejections(shop: Path, tmp_path: Path) -> None:
    """One order of four is rejected."""
    result = call("check", "--data", str(shop), "--out", str(tmp_path / "out"))
    assert (result.exit_code, "4 read, 3 accepted, 1 rejected" in result.output) == (0, True)


def test_check_writes_the_two_lists_and_no_report(shop: Path, tmp_path: Path) -> None:
    """Nothing else."""
    call("check", "--data", str(shop), "--out", str(tmp_path / "out"))
    assert {file.name for file in (tmp_path / "out").iterdir()} == {"rejected_rows.csv", "doubted_rows.csv"}


def test_check_takes_an_as_of_date(shop: Path, tmp_path: Path) -> None:
    """It says which day counts as the last."""
    result = call("check", "--data", str(shop), "--out", str(tmp_path / "out"), "--as-of", "2026-02-15")
    assert "15\u00a0February\u00a02026" in result.output


@pytest.mark.parametrize(
    "words",
    [
        ("run", "nothing"),
        ("run", "--data", "nowhere"),
        ("run", "--set", "margin.nothing=1"),
        ("run", "--set", "margin.period_months=many"),
        ("run", "--set", "margin"),
        ("run", "--settings", "nowhere.toml"),
        ("run", "--jobs", "0"),
        ("run", "--as-of", "yesterday"),
        ("run", "--previous", "nowhere.json"),
        ("check", "--data", "nowhere"),
        ("nothing",),
    ],
)
def test_what_cannot_be_carried_out_is_exit_code_2_without_a_traceback(words: tuple[str, ...], shop: Path, tmp_path: Path) -> None:
    """One message, no report."""
    out, data = tmp_path / "out", [] if "--data" in words else ["--data", str(shop)]
    result = call(*words, *([] if words == ("nothing",) else [*data, "--out", str(out)]))
    assert (result.exit_code, "Traceback" in result.output, list(out.glob("20*"))) == (2, False, [])


def test_a_message_cannot_move_the_cursor(tmp_path: Path) -> None:
    """Control signs of a name are shown as dots."""
    result = call("check", "--data", str(tmp_path / "a\x1b[2Jb"), "--out", str(tmp_path / "out"))
    assert "\x1b" not in result.output


def test_an_output_folder_that_is_a_file_is_exit_code_2(shop: Path, tmp_path: Path) -> None:
    """No report is made."""
    (tmp_path / "out").write_text("")
    result = call("run", "margin", "--data", str(shop), "--out", str(tmp_path / "out"))
    assert (result.exit_code, "cannot be written" in result.output) == (2, True)


def test_demo_writes_a_shop_that_can_be_checked(tmp_path: Path) -> None:
    """At the size asked for."""
    assert call("demo", str(tmp_path / "d"), "--orders", "40", "--months", "3").exit_code == 0
    assert call("check", "--data", str(tmp_path / "d"), "--out", str(tmp_path / "out")).exit_code == 0


def test_the_version_is_told() -> None:
    """shoplib --version."""
    assert call("--version").output.startswith("shoplib, version ")


def test_start_writes_what_a_new_shop_needs_and_overwrites_nothing(tmp_path: Path) -> None:
    """Twice in the same folder."""
    call("start", str(tmp_path / "new"))
    (tmp_path / "new/shop.toml").write_text("mine")
    assert (call("start", str(tmp_path / "new")).exit_code, (tmp_path / "new/shop.toml").read_text()) == (0, "mine")


@pytest.mark.skipif(sys.platform == "win32", reason="signals are sent otherwise there")
def test_stopping_a_run_leaves_what_was_there(shop: Path, tmp_path: Path) -> None:
    """Ctrl-C while a notebook runs: it ends at once, the earlier report is whole, nothing half made is left."""
    out = tmp_path / "out"
    (out / "2026-03-31").mkdir(parents=True)
    (out / "2026-03-31/slow.html").write_text("earlier")
    script = (
        "import signal, sys; from pathlib import Path; from tests.reports.runs import made, kernels_find_samples\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell may have its background jobs ignore it\n"
        "with kernels_find_samples(Path(sys.argv[3])): made(Path(sys.argv[1]), Path(sys.argv[2]), 'slow')\n"
    )
    command = [sys.executable, "-c", script, str(shop), str(out), str(tmp_path / "cache")]
    run = subprocess.Popen(command, env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[1])}, stderr=subprocess.PIPE, text=True)
    for _ in range(200):
        time.sleep(0 if (out / "rejected_rows.csv").is_file() else 0.1)
    time.sleep(1.5)
    run.send_signal(signal.SIGINT)
    _, errors = run.communicate(timeout=30)
    left = sorted(file.name for file in out.rglob("*") if file.is_file() and file.name != ".lock")
    assert ("KeyboardInterrupt" in errors, left) == (True, ["doubted_rows.csv", "rejected_rows.csv", "slow.html"])
