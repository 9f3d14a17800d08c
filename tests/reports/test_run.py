"""The run: files in place, faults kept apart, the same bytes twice, nothing of the machine in them."""

from __future__ import annotations

import errno
import json
import os
import re
import subprocess
import sys
import threading
import time
from datetime import date
from pathlib import Path

import pytest

from shoplib.errors import DataError, OutputError, SettingsError, UsageError
from shoplib.reports import kernels
from shoplib.reports.kernels import Kernels, kernel_command
from shoplib.reports.place import MAKING
from shoplib.reports.run import earlier_review

from .conftest import Ran
from .runs import made, small_shop
from .sample import gallery as gallery_module

DAY = "2026-03-31"
FILES = ["gallery.html", "gallery.json", "gallery.xlsx", "notebooks/gallery.ipynb"]


def visible(out: Path) -> set[str]:
    return {file.relative_to(out).as_posix() for file in out.rglob("*") if file.is_file() and not file.name.startswith(".")}


def test_a_report_leaves_its_four_files_the_two_lists_and_the_index(gallery: Ran) -> None:
    """The folder holds what the command promises, and nothing else."""
    assert visible(gallery.out) == {f"{DAY}/{name}" for name in FILES} | {"index.html", "rejected_rows.csv", "doubted_rows.csv"}


def test_all_made_is_exit_code_0(gallery: Ran) -> None:
    """A run without a failure returns 0."""
    assert gallery.code == 0


def test_the_line_of_a_report_ends_with_its_headline(gallery: Ran) -> None:
    """The owner reads the answer on the terminal."""
    assert gallery.line("gallery").endswith(json.loads((gallery.out / DAY / "gallery.json").read_text("utf-8"))["headline"])


def test_rows_are_told_by_file(gallery: Ran) -> None:
    """A line a file says what was read, accepted and rejected."""
    assert "orders.csv: 4 read, 3 accepted, 1 rejected, 0 repaired, 0 doubted" in gallery.lines


@pytest.mark.parametrize("name", FILES)
def test_no_file_holds_a_path_of_the_machine(gallery: Ran, shop_folder: Path, name: str) -> None:
    """Neither the shop's folder, nor the output folder, nor this checkout stands in what is written."""
    content = (gallery.out / DAY / name).read_bytes()
    assert not [path for path in (shop_folder, gallery.out, Path(__file__).parents[2]) if str(path).encode() in content]


def test_the_executed_notebook_is_small(gallery: Ran) -> None:
    """plotly.js is not stored in it."""
    assert (gallery.out / DAY / "notebooks/gallery.ipynb").stat().st_size < 200_000


def test_the_executed_notebook_names_the_shop_by_its_folder_alone(gallery: Ran) -> None:
    """Whoever opens it sees which parameters it had."""
    cells = json.loads((gallery.out / DAY / "notebooks/gallery.ipynb").read_text("utf-8"))["cells"]
    injected = next("".join(cell["source"]) for cell in cells if "injected-parameters" in cell["metadata"].get("tags", []))
    assert 'data = "one"' in injected


def test_two_runs_give_the_same_bytes_whatever_jobs_time_zone_and_locale(
    gallery: Ran, shop_folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Page, workbook, answers file and notebook are identical."""
    for name, value in {"TZ": "Pacific/Auckland", "LC_ALL": "de_DE.UTF-8", "PYTHONHASHSEED": "7"}.items():
        monkeypatch.setenv(name, value)
    made(shop_folder, tmp_path, "gallery", jobs=1)
    assert [name for name in FILES if (tmp_path / DAY / name).read_bytes() != (gallery.out / DAY / name).read_bytes()] == []


def test_a_failed_report_is_exit_code_1(faults: Ran) -> None:
    """Others were made, one was not."""
    assert faults.code == 1


def test_the_others_are_made_all_the_same(faults: Ran) -> None:
    """One report's fault is not another's."""
    assert (faults.out / DAY / "chatty.html").is_file()


@pytest.mark.parametrize("name", ["fails", "bad_data", "exits", "exits_one", "killed", "forgets"])
def test_a_failed_report_leaves_its_page_and_notebook_apart(faults: Ran, name: str) -> None:
    """failed/ holds both, the dated folder none of them."""
    there = {file.relative_to(faults.out).as_posix() for file in faults.out.rglob(f"{name}.*")}
    assert there == {f"failed/{name}.html", f"failed/{name}.ipynb"}


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("fails", "The part that fails: ValueError: no hours <b>at all</b>"),
        ("bad_data", "orders.csv: no order was delivered. Wait a month."),
        ("exits", "the notebook ended before its last cell"),
        ("exits_one", "SystemExit: 1"),
        ("killed", "its process ended before it was done"),
        ("forgets", "the notebook saved no answer"),
    ],
)
def test_the_line_of_a_failed_report_says_where_and_what(faults: Ran, name: str, words: str) -> None:
    """One line, no traceback."""
    assert words in faults.line(name)


def test_the_page_of_a_failed_report_shows_its_fault_as_text(faults: Ran) -> None:
    """What the error says cannot become markup."""
    assert "ValueError: no hours &lt;b&gt;at all&lt;/b&gt;" in (faults.out / "failed/fails.html").read_text("utf-8")


def test_the_page_of_a_failed_report_has_no_traceback(faults: Ran) -> None:
    """The traceback is in the notebook, for whoever mends it."""
    assert "Traceback" not in (faults.out / "failed/fails.html").read_text("utf-8")


def test_what_a_cell_prints_is_not_on_the_page(faults: Ran) -> None:
    """Streams, warnings and bare values are dropped."""
    page = (faults.out / DAY / "chatty.html").read_text("utf-8")
    assert "nobody asked for" not in page and "and a warning" not in page


def test_a_failure_leaves_the_previous_report_and_success_clears_the_failure(shop_folder: Path, tmp_path: Path) -> None:
    """The good report stays while its rerun fails; once it is made again nothing is flagged."""
    made(shop_folder, tmp_path, "forgets")
    (tmp_path / DAY).mkdir()
    (tmp_path / DAY / "forgets.html").write_text("earlier")
    code, _ = made(shop_folder, tmp_path, "forgets")
    assert (code, (tmp_path / DAY / "forgets.html").read_text()) == (1, "earlier")


def test_success_clears_an_earlier_failure(shop_folder: Path, tmp_path: Path) -> None:
    """failed/ holds the last run's failures only."""
    (tmp_path / "failed").mkdir()
    (tmp_path / "failed/gallery.html").write_text("earlier")
    made(shop_folder, tmp_path, "gallery")
    assert not (tmp_path / "failed/gallery.html").exists()


def test_two_runs_at_once_into_one_folder_leave_whole_reports(shop_folder: Path, gallery: Ran, tmp_path: Path) -> None:
    """Whoever comes last, the files are those of a run alone."""
    codes: list[int] = []
    runs = [threading.Thread(target=lambda: codes.append(made(shop_folder, tmp_path, "gallery")[0])) for _ in range(2)]
    for one in runs:
        one.start()
    for one in runs:
        one.join()
    same = [(tmp_path / DAY / name).read_bytes() == (gallery.out / DAY / name).read_bytes() for name in FILES]
    assert (codes, all(same), list(tmp_path.glob(f"{MAKING}*"))) == ([0, 0], True, [])


def test_an_unknown_report_stops_before_anything(shop_folder: Path, tmp_path: Path) -> None:
    """The nearest name is suggested and no folder is made."""
    with pytest.raises(UsageError, match="Did you mean gallery"):
        made(shop_folder, tmp_path / "out", "gallery", names=("galery",))
    assert not (tmp_path / "out").exists()


def test_an_unknown_parameter_makes_no_report(shop_folder: Path, tmp_path: Path) -> None:
    """The nearest name is suggested."""
    with pytest.raises(UsageError, match="Did you mean horizon_years"):
        made(shop_folder, tmp_path, "gallery", sets=("gallery.horizon_year=3",))
    assert not (tmp_path / DAY).exists()


def test_a_value_of_the_wrong_type_makes_no_report(shop_folder: Path, tmp_path: Path) -> None:
    """The value found and what is allowed are named."""
    with pytest.raises(SettingsError, match='found "two"'):
        made(shop_folder, tmp_path, "gallery", sets=("gallery.horizon_years=two",))
    assert not (tmp_path / DAY).exists()


def test_a_parameter_reaches_the_answer(shop_folder: Path, tmp_path: Path) -> None:
    """--set is typed and used."""
    made(shop_folder, tmp_path, "gallery", sets=("gallery.horizon_years=3", "gallery.stages=solder, file"))
    given = json.loads((tmp_path / DAY / "gallery.json").read_text("utf-8"))["parameters"]
    assert (given["horizon_years"], given["stages"]) == (3, ["solder", "file"])


def test_a_parameter_the_notebook_does_not_declare_is_refused(shop_folder: Path, tmp_path: Path) -> None:
    """papermill would only warn and use the default."""
    with pytest.raises(UsageError, match="does not declare"):
        made(shop_folder, tmp_path, "undeclared", sets=("undeclared.horizon_years=3",))


def test_bad_data_makes_no_report_but_the_lists(tmp_path: Path) -> None:
    """No order accepted: the run stops, the rejected rows are listed."""
    shop = small_shop(
        tmp_path / "shop", orders="order_id,ordered_on,style,alloy,quoted_weight_g,price\nA1,yesterday,rope,18k yellow,10,900\n"
    )
    with pytest.raises(DataError):
        made(shop, tmp_path / "out", "gallery")
    assert visible(tmp_path / "out") == {"rejected_rows.csv", "doubted_rows.csv"}


def test_a_file_in_place_of_the_output_folder_is_an_output_error(shop_folder: Path, tmp_path: Path) -> None:
    """The folder cannot be written: no report, one message."""
    (tmp_path / "out").write_text("")
    with pytest.raises(OutputError, match="cannot be written"):
        made(shop_folder, tmp_path / "out", "gallery")


def test_a_kernel_is_of_this_interpreter_and_keeps_no_history() -> None:
    """No installed kernel and no profile of the user decides what runs."""
    command = " ".join(kernel_command())
    assert re.search(r"python\S* -m ipykernel_launcher", command) and "HistoryManager.enabled=False" in command


@pytest.mark.skipif(os.name != "posix", reason="sockets are files on POSIX systems alone")
def test_a_kernel_is_spoken_to_through_files_of_its_own(tmp_path: Path) -> None:
    """No other program can take its port between choice and opening; the files are gone with the kernel."""
    with Kernels().one(tmp_path) as manager:
        transport, home = manager.transport, Path(manager.ip).parent
    assert (transport, home.exists()) == ("ipc", False)


def test_a_kernel_that_never_answers_fails_its_report_alone(shop_folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """In words, without a traceback."""
    monkeypatch.setattr(kernels, "kernel_command", lambda warm: [sys.executable, "-c", "raise SystemExit(3)", "{connection_file}"])
    code, lines = made(shop_folder, tmp_path, "gallery")
    assert (code, "its process ended before it was done" in lines[-1]) == (1, True)


def test_the_newest_earlier_review_is_found_and_never_the_days_own(tmp_path: Path) -> None:
    """A rerun of the same day gives the same report."""
    for day in ("2026-01-31", "2026-02-28", "2026-03-31"):
        (tmp_path / day).mkdir()
        (tmp_path / day / "monthly_review.json").write_text("{}")
    assert earlier_review(tmp_path, date(2026, 3, 31)) == tmp_path / "2026-02-28/monthly_review.json"


def test_without_an_earlier_review_there_is_none(tmp_path: Path) -> None:
    """The first month."""
    assert earlier_review(tmp_path, date(2026, 3, 31)) is None


def test_a_fault_in_what_reports_share_is_the_reports_own(shop_folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The run goes on; a notebook that needs it tells what is wrong."""

    def prepare(*_: object) -> None:
        raise ZeroDivisionError("nothing to share")

    monkeypatch.setattr(gallery_module, "prepare", prepare, raising=False)
    assert made(shop_folder, tmp_path, "gallery")[0] == 0


def test_what_reports_share_is_computed_with_the_checked_parameters(
    shop_folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By each report's own function, when it has one."""
    seen: list[int] = []
    monkeypatch.setattr(gallery_module, "prepare", lambda shop, parameters, progress: seen.append(parameters.horizon_years), raising=False)
    made(shop_folder, tmp_path, "gallery", sets=("gallery.horizon_years=3",))
    assert seen == [3]


def test_a_full_disk_is_an_output_error_and_leaves_what_was_there(
    shop_folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The earlier report is whole; nothing half made is left."""
    (tmp_path / DAY).mkdir()
    (tmp_path / DAY / "gallery.html").write_text("earlier")

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("shoplib.reports.make.workbook", full)
    with pytest.raises(OutputError, match="No space left on device"):
        made(shop_folder, tmp_path, "gallery")
    assert ((tmp_path / DAY / "gallery.html").read_text(), list(tmp_path.glob(f"{MAKING}*"))) == ("earlier", [])


def test_a_run_killed_at_any_time_leaves_a_folder_the_next_run_cleans(shop_folder: Path, gallery: Ran, tmp_path: Path) -> None:
    """Killed without warning after 2 s; the next run gives the files of a run alone."""
    script = (
        "import sys; from pathlib import Path; from tests.reports.runs import made\nmade(Path(sys.argv[1]), Path(sys.argv[2]), 'gallery')\n"
    )
    run = subprocess.Popen(
        [sys.executable, "-c", script, str(shop_folder), str(tmp_path)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    time.sleep(2)
    run.kill()
    run.wait()
    code, _ = made(shop_folder, tmp_path, "gallery")
    same = [(tmp_path / DAY / name).read_bytes() == (gallery.out / DAY / name).read_bytes() for name in FILES]
    assert (code, all(same), list(tmp_path.glob(f"{MAKING}*"))) == (0, True, [])
