"""An executed notebook as one page that opens offline, hides the code and asks nothing of the network.

nbconvert fills ``page/index.html.j2``; the style sheet, plotly.js (read once) and the page's own script are put in after
it, so that it never has to parse five megabytes. The policy of the page allows these scripts by their hashes and no other.
"""

from __future__ import annotations

import base64
import hashlib
import html
import re
from copy import deepcopy
from functools import lru_cache
from pathlib import Path
from typing import Any

from .drawing import DARK, TEMPLATE, dump

HERE = Path(__file__).parent / "page"
HIDDEN_TAGS = ("parameters", "injected-parameters")
_HEADING = re.compile(r"<h2[^>]*>(.*?)</h2>", re.S)


def page_html(notebook: Any, title: str, foot: str = "", fault: str = "") -> str:
    """Return the page of an executed notebook.

    Parameters
    ----------
    notebook : NotebookNode
        As papermill left it; not changed.
    title : str
        "Margin – shop – 2026-03-31".
    foot : str
        Printed at the foot of each sheet.
    fault : str
        HTML shown in place of an output that is an error.
    """
    shown = deepcopy(notebook)
    shown.cells = [cell for cell in shown.cells if not set(cell.metadata.get("tags", ())) & set(HIDDEN_TAGS)]
    for number, cell in enumerate(shown.cells):
        cell["id"] = f"cell-{number}"
    charts = any("application/vnd.plotly.v1+json" in output.get("data", {}) for cell in shown.cells for output in cell.get("outputs", ()))
    scripts = [script_text(), *([plotly_text()] if charts else [])]
    page = {"title": title, "policy": policy(scripts), "charts": charts, "fault": fault}
    text, _ = _exporter().from_notebook_node(shown, {"page": page, "metadata": {"name": title}})
    return _filled(text, foot)


def prepare_export() -> None:
    """Load what `page_html` needs: the exporter and the scripts."""
    _exporter()
    plotly_text()
    script_text()


def _filled(text: str, foot: str) -> str:
    text = _HEADING.sub(lambda found: f'<h2 id="{slug(found[1])}">{found[1]}</h2>', text)
    parts = {
        "@@style@@": style_text(foot),
        "@@contents@@": contents(text),
        "@@template@@": dump(TEMPLATE),
        "@@script@@": script_text(),
        "@@plotly@@": plotly_text(),
    }
    return re.sub("|".join(parts), lambda found: parts[found[0]], text)


def contents(text: str) -> str:
    """Return the contents list of a page: a link to each of its H2."""
    items = "".join(f'<li><a href="#{slug(words)}">{words}</a></li>' for words in _HEADING.findall(text))
    return f"<ul>{items}</ul>"


def slug(heading: str) -> str:
    """Return the id of a heading: its words in small letters, joined by hyphens."""
    return "-".join(re.findall(r"[^\W_]+", html.unescape(heading).lower()))


def policy(scripts: list[str]) -> str:
    """Return the Content-Security-Policy that allows exactly these inline scripts and no request."""
    hashes = " ".join(f"'sha256-{base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()}'" for script in scripts)
    return f"default-src 'none'; script-src {hashes}; style-src 'unsafe-inline'; img-src data: blob:; base-uri 'none'; form-action 'none'"


def style_text(foot: str = "") -> str:
    """Return the style sheet with the line at the foot of printed sheets, every sign of it escaped."""
    written = "".join(sign if sign.isascii() and (sign.isalnum() or sign == " ") else f"\\{ord(sign):x} " for sign in foot)
    return (HERE / "page.css").read_text("utf-8").replace("@@foot@@", written)


@lru_cache(maxsize=1)
def script_text() -> str:
    """Return the page's own script."""
    return (HERE / "page.js").read_text("utf-8").replace("@@dark@@", dump(DARK))


@lru_cache(maxsize=1)
def plotly_text() -> str:
    """Return plotly.js as plotly ships it."""
    from plotly.offline import get_plotlyjs

    return str(get_plotlyjs())


@lru_cache(maxsize=1)
def _exporter() -> Any:
    from nbconvert.exporters.html import HTMLExporter

    return HTMLExporter(
        extra_template_basedirs=[str(HERE.parent)],
        template_name=HERE.name,
        exclude_input=True,
        exclude_anchor_links=True,
        exclude_input_prompt=True,
        exclude_output_prompt=True,
    )


def fault_html(section: str, error: str, to_do: str) -> str:
    """Return what a failed page shows where its section would be."""
    return (
        f'<div class="absent"><p><b>Not shown: {html.escape(section)}.</b></p><p>{html.escape(error)}</p><p>{html.escape(to_do)}</p></div>'
    )
