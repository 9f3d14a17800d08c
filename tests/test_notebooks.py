"""The source notebooks: thin, in one form, their parameters those of their report's model."""

from __future__ import annotations

import ast
import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from papermill import inspect_notebook

from shoplib.intake import load
from shoplib.reports.discover import ORDER, Report, by_length, notebooks_folder, reports
from shoplib.reports.parameters import OWN, declared
from tests.reports.runs import small_shop

MOST_CELLS, MOST_LINES = 15, 8
KNOWN = reports()
NBVAL = ["-m", "pytest", "-q", "-n", "0", "-p", "no:cacheprovider", "--nbval-lax", "--nbval-current-env", "--nbval-cell-timeout=600"]
FORBIDDEN = re.compile(r"^(def |class |lambda|import |%|!|for |while |if )|sys\.path|\bpd\.|\bnp\.|print\(", re.M)


@pytest.fixture(params=KNOWN, ids=lambda report: report.name)
def report(request: pytest.FixtureRequest) -> Report:
    """Each report in turn."""
    one: Report = request.param
    return one


def cells(report: Report, kind: str = "code") -> list[dict[str, Any]]:
    """Return the cells of one kind, their source joined."""
    content = json.loads(report.notebook.read_text("utf-8"))["cells"]
    return [{**cell, "source": "".join(cell["source"])} for cell in content if cell["cell_type"] == kind]


def parameters_cell(report: Report) -> str:
    """Return the source of the cell tagged parameters."""
    return next(str(cell["source"]) for cell in cells(report) if "parameters" in cell["metadata"].get("tags", []))


def test_every_notebook_belongs_to_a_report() -> None:
    """None is left over."""
    assert {file.stem for file in notebooks_folder().glob("*.ipynb")} <= set(ORDER)


def test_the_first_cell_is_the_question(report: Report) -> None:
    """As the report's module asks it, and the only H1."""
    headings = re.findall(r"^# (.*)$", "\n".join(cell["source"] for cell in cells(report, "markdown")), re.M)
    assert headings == [report.module.QUESTION]


def test_cells_are_few_and_short(report: Report) -> None:
    """At most 15 of at most 8 lines; the cell of parameters has a line for each."""
    code = [cell for cell in cells(report) if "parameters" not in cell["metadata"].get("tags", [])]
    longest = max(len(cell["source"].splitlines()) for cell in code)
    assert len(code) <= MOST_CELLS and longest <= MOST_LINES


def test_no_cell_computes(report: Report) -> None:
    """No function, loop, condition, magic, table work or print."""
    assert [found[0] for cell in cells(report) if (found := FORBIDDEN.search(cell["source"]))] == []


def test_only_the_report_and_what_a_notebook_needs_are_imported(report: Report) -> None:
    """Two lines."""
    tree = ast.parse("\n".join(cell["source"] for cell in cells(report)))
    imports = {(node.module, name.name) for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) for name in node.names}
    allowed = {("shoplib.reports.notebook", name) for name in ("open_shop", "save", "show")}
    helped = imports - {("shoplib.reports.notebook", "answer_of")}
    assert helped == allowed | {(report.module_name.rpartition(".")[0], report.name)}


def test_outputs_are_stripped(report: Report) -> None:
    """Git holds sources."""
    assert all(not cell["outputs"] and cell["execution_count"] is None for cell in cells(report))


def test_every_parameter_has_a_type_and_a_comment(report: Report) -> None:
    """The comment is its help."""
    lines = parameters_cell(report).splitlines()
    assert [line for line in lines if not re.match(r"\w+: \w+ = [^=]+  # \S", line)] == []


def test_parameters_and_defaults_are_those_of_the_model(report: Report) -> None:
    """Nothing is left out, blank stands for what the model leaves out."""
    expected = report.module.Parameters().model_dump(mode="json")
    names = {name: value if value != "" else None for name, value in declared(report.notebook).items() if name not in OWN}
    assert names == {name: value if value != "" else None for name, value in expected.items()}


def test_the_runs_own_parameters_are_declared(report: Report) -> None:
    """Where the shop lies and where the answer goes."""
    assert set(OWN) <= set(declared(report.notebook))


def test_the_notebook_names_its_kernel(report: Report) -> None:
    """JupyterLab opens it without a question."""
    assert json.loads(report.notebook.read_text("utf-8"))["metadata"]["kernelspec"]["name"] == "python3"


def test_papermill_sees_the_same_parameters(report: Report) -> None:
    """It would only warn of one it does not know."""
    assert set(inspect_notebook(report.notebook)) == set(declared(report.notebook))


def test_the_answer_is_shown_first_and_saved_last(report: Report) -> None:
    """Headline, key figures, cautions; then the sections; notes, footer and the answers file."""
    shown = re.findall(r'show\(page\["(\w+)"\]\)', "\n".join(cell["source"] for cell in cells(report)))
    last = cells(report)[-1]["source"].strip().splitlines()[-1]
    assert (shown[:3], shown[-2:], last) == (["headline", "figures", "cautions"], ["notes", "footer"], "save(answer, answer_file)")


def test_nothing_is_shown_twice(report: Report) -> None:
    """Each block has its place."""
    shown = re.findall(r'show\(page\["(\w+)"\]\)', "\n".join(cell["source"] for cell in cells(report)))
    assert len(shown) == len(set(shown))


def test_sections_are_four_to_nine_and_end_with_method_and_data(report: Report) -> None:
    """The reader finds them by name."""
    titles = re.findall(r"^## (.*)$", "\n".join(cell["source"] for cell in cells(report, "markdown")), re.M)
    assert 4 <= len(titles) <= 9 and titles[-2:] == ["How this is computed", "Data and notes"]


def test_no_number_is_typed_into_the_words(report: Report) -> None:
    """Numbers come from the answer."""
    words = " ".join(cell["source"] for cell in cells(report, "markdown") if not cell["source"].startswith("## How this is computed"))
    assert re.findall(r"\b\d{2,}(?:\.\d+)?\b", words) == []


def test_the_readme_tells_each_report(report: Report) -> None:
    """Question, method and sources."""
    assert report.module.QUESTION in (Path(notebooks_folder()) / "README.md").read_text("utf-8")


HEADING = "order_id,ordered_on,style,alloy,quoted_weight_g,price,delivered_on,finished_weight_g\n"
THIN = {
    "orders alone": (HEADING + "A1,2026-01-05,rope,18k yellow,100,9000,2026-02-10,98\nA2,2026-02-09,curb,18k yellow,80,7000,,\n", ""),
    "none delivered": (HEADING + "A1,2026-02-09,curb,18k yellow,80,7000,,\n", ""),
    "dates without hours": (
        HEADING + "A1,2026-01-05,rope,18k yellow,100,9000,2026-02-10,98\n",
        "order_id,stage,worker,date\nA1,solder,EV,2026-01-20\nA1,polish,EV,2026-02-03\n",
    ),
    "hours without stage": (
        HEADING + "A1,2026-01-05,rope,18k yellow,100,9000,2026-02-10,98\n",
        "order_id,stage,worker,date,hours\nA1,,EV,2026-01-20,6\n",
    ),
}


@pytest.mark.parametrize("what", THIN)
def test_a_thin_shop_leaves_no_cell_without_its_block(report: Report, what: str, tmp_path: Path) -> None:
    """What a page cannot tell it says; a notebook never asks for a block that is not there."""
    folder = small_shop(tmp_path, orders=THIN[what][0])
    if THIN[what][1]:
        (folder / "labour.csv").write_text(THIN[what][1])
    page = report.module.page(report.module.answer(load(folder), report.module.Parameters()))
    shown = re.findall(r'show\(page\["(\w+)"\]\)', "\n".join(cell["source"] for cell in cells(report)))
    assert [name for name in shown if name not in page.blocks] == []


def test_every_notebook_runs_from_top_to_bottom_on_the_demo(shared_cache: Path) -> None:
    """By nbval, as JupyterLab would from the notebooks' own folder; two at a time."""
    ways = [[str(one.notebook) for one in by_length(KNOWN)[begin::2]] for begin in (0, 1)]
    home = notebooks_folder()
    under_way = [subprocess.Popen([sys.executable, *NBVAL, *files], cwd=home, stdout=subprocess.PIPE, text=True) for files in ways]
    said = [one.communicate()[0] for one in under_way]
    assert [(one.returncode, text) for one, text in zip(under_way, said, strict=True) if one.returncode != 0] == []
