"""What a notebook needs beside its report: `open_shop`, `show` and `save`.

A notebook holds its question (H1), one cell tagged ``parameters``, this import and its report's, and then one
``show(page["name"])`` a cell; the last cell saves the answer for the run that started it.
"""

from __future__ import annotations

from pathlib import Path

from .answer import Answer
from .answered import answer_of
from .blocks import FIRST, Block
from .markup import bundles
from .opening import open_shop

__all__ = ["answer_of", "open_shop", "save", "show"]


def show(block: Block) -> None:
    """Display a block, the only way a notebook displays anything: in JupyterLab as it is, on the page through the template.

    A chart is three outputs: message and measure, the figure (plotly's own mime type for JupyterLab, a fragment for the
    page), reading and numbers.
    """
    from IPython.display import display

    for number, bundle in enumerate(bundles(block)):
        display(bundle, raw=True, metadata={FIRST: True} if number == 0 else {})  # type: ignore[no-untyped-call]


def save(answer: Answer, answer_file: Path | str = "") -> None:
    """Write the answers file; nothing happens when `answer_file` is empty, as in a notebook opened by hand."""
    if str(answer_file):
        Path(answer_file).write_text(answer.to_json(), "utf-8", newline="\n")
