"""One report made whole: notebook run, page, workbook and answers file written into a folder of its own."""

from __future__ import annotations

import json
import threading
from collections.abc import Mapping
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from .answer import Answer
from .discover import Report
from .export import fault_html, page_html, prepare_export
from .kernels import ReportFailed, execute
from .sentences import day
from .workbook import workbook

_EXPORTING = threading.Lock()
FAILED = "failed"


@dataclass(frozen=True)
class Made:
    """A report that was made: its folder, whole, and its answer."""

    report: str
    folder: Path
    answer: Answer


def make(report: Report, data: Path, values: Mapping[str, Any], manager: Any, scratch: Path) -> Made:
    """Run the report's notebook and write its files.

    Parameters
    ----------
    report : Report
        What to make.
    data : Path
        The shop, as the notebook opens it.
    values : mapping
        The report's parameters as plain values.
    manager : AsyncKernelManager
        A kernel that has started.
    scratch : Path
        Folder of the run's own.

    Raises
    ------
    ReportFailed
        A cell failed, the kernel died, or the notebook ended without its answer or a block of its page.
    """
    answer_file = scratch / f"{report.name}.answer.json"
    notebook = execute(report.notebook, {**values, "data": str(data), "answer_file": str(answer_file)}, manager, scratch)
    answer = _answer(answer_file, notebook)
    files = {name: Path(value).name for name, value in values.items() if isinstance(value, str) and Path(value).is_absolute()}
    tidy(notebook, {**files, "data": data.name, "answer_file": ""}, report.name)
    folder = scratch / report.name
    home = folder / answer.as_of.isoformat()
    (home / "notebooks").mkdir(parents=True)
    title = f"{report.name.replace('_', ' ').capitalize()} – {answer.shop} – {answer.as_of.isoformat()}"
    foot = f"{answer.shop}, {report.name.replace('_', ' ')}, to {day(answer.as_of)}"
    with _EXPORTING:
        page = page_html(notebook, title, foot)
    (home / f"{report.name}.html").write_text(page, "utf-8", newline="\n")
    (home / f"{report.name}.json").write_text(answer_file.read_text("utf-8"), "utf-8", newline="\n")
    (home / f"{report.name}.xlsx").write_bytes(workbook(answer))
    (home / "notebooks" / f"{report.name}.ipynb").write_text(notebook_text(notebook), "utf-8", newline="\n")
    return Made(report.name, folder, answer)


def get_ready() -> None:
    """Load the exporter and plotly.js, so that the first page does not wait for them."""
    with _EXPORTING:
        prepare_export()


def _answer(file: Path, notebook: Any) -> Answer:
    if any(cell.cell_type == "code" and cell.source.strip() and not cell.execution_count for cell in notebook.cells):
        raise ReportFailed("the notebook ended before its last cell", "", notebook, "no cell may leave the notebook early")
    if not file.is_file():
        raise ReportFailed("the notebook saved no answer", "", notebook, "its last cell is save(answer, answer_file)")
    return Answer.model_validate_json(file.read_text("utf-8"))


def tidy(notebook: Any, own: Mapping[str, str], name: str) -> None:
    """Take clock times, random ids and paths out of an executed notebook, so that two runs give the same one."""
    kept = {key: notebook.metadata[key] for key in ("kernelspec", "language_info") if key in notebook.metadata}
    notebook.metadata = type(notebook.metadata)({**kept, "title": name})
    for number, cell in enumerate(notebook.cells):
        cell["id"] = f"cell-{number}"
        tags = cell.metadata.get("tags", [])
        cell["metadata"] = type(cell.metadata)({"tags": tags} if tags else {})
        if "injected-parameters" in tags:
            cell["source"] = _without_paths(cell.source, own)
        for output in cell.get("outputs", ()):
            output.pop("execution_count", None) if output.output_type == "display_data" else None


def _without_paths(source: str, own: Mapping[str, str]) -> str:
    lines = []
    for line in source.splitlines():
        name = line.partition(" = ")[0]
        lines.append(f"{name} = {json.dumps(own[name], ensure_ascii=False)}" if name in own else line)
    return "\n".join(lines)


def notebook_text(notebook: Any) -> str:
    """Return a notebook as it is written: sorted keys, no spaces, one line feed at the end."""
    return json.dumps(notebook, ensure_ascii=False, sort_keys=True, separators=(",", ":")) + "\n"


def make_failed(report: str, fault: ReportFailed, scratch: Path) -> Path:
    """Write the page and the notebook of a report that failed into a folder of its own and return it."""
    folder = scratch / f"{report}-failed"
    (folder / FAILED).mkdir(parents=True)
    notebook = fault.notebook if fault.notebook is not None else _empty()
    (folder / FAILED / f"{report}.ipynb").write_text(notebook_text(notebook), "utf-8", newline="\n")
    block = fault_html(fault.section or "this report", fault.what, "Mend what it names and run the report again.")
    with _EXPORTING:
        page = page_html(with_fault(notebook), f"{report} failed", f"{report} failed", block)
    (folder / FAILED / f"{report}.html").write_text(page, "utf-8", newline="\n")
    return folder


def _empty() -> Any:
    import nbformat

    return nbformat.v4.new_notebook()


def with_fault(notebook: Any) -> Any:
    """Return the notebook up to the cell that failed; a failure outside any cell becomes a last cell of its own."""
    import nbformat

    shown = deepcopy(notebook)
    for number, cell in enumerate(shown.cells):
        if any(output.output_type == "error" for output in cell.get("outputs", ())):
            shown.cells = shown.cells[: number + 1]
            return shown
    error = nbformat.v4.new_output("error", ename="", evalue="", traceback=[])
    shown.cells = [*shown.cells, nbformat.v4.new_code_cell("", outputs=[error])]
    return shown
