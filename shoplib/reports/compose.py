"""How a report's answer and page are put together from parts all reports share.

A report module writes::

    def answer(shop, parameters):
        ...
        return compose(shop, "margin", parameters, period, headline, figures, tables, findings)

    def page(answer):
        return page_of(answer, stake, [key_figure(answer, "Making margin", compare="February: 11,900")], [Chart(...), Table(...)])
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date
from importlib.metadata import version
from pathlib import Path

import pandas as pd

from ..intake.shop import Shop
from . import sentences
from .answer import Answer, Figure, Found, Parameters, Period, Table
from .blocks import Findings, Footer, Headline, KeyFigure, KeyFigures, Named, Notes, Page
from .cells import KINDS, Show, table_of
from .sentences import Writing

__all__ = ["KINDS", "Show", "compose", "files_table", "key_figure", "page_of", "table_of"]

MOST_CAUTIONS = 5
PLAIN_BASES = ("counted", "measured")


def compose(
    shop: Shop,
    report: str,
    parameters: Parameters,
    period: tuple[date, date],
    headline: str,
    figures: Sequence[Figure] = (),
    tables: Mapping[str, Table] | None = None,
    findings: Iterable[Found] = (),
    as_of: date | None = None,
) -> Answer:
    """Return an answer with what every report says of its inputs.

    Parameters
    ----------
    shop : Shop
        Gives name, inputs and its own findings, which come after the report's.
    report : str
        Name of the report.
    parameters : Parameters
        As validated.
    period : (date, date)
        First and last day looked at.
    headline : str
        One sentence.
    figures, tables, findings
        What the report says.
    as_of : date, optional
        Last day that counts; left out: the last day looked at.
    """
    own = [Found(level=one.level, code=one.code, text=one.text, where=one.where) for one in shop.findings]
    return Answer(
        report=report,
        shop=shop.settings.shop.name,
        as_of=as_of or period[1],
        period=Period(from_=period[0], to=period[1]),
        shoplib=version("shoplib"),
        seed=parameters.seed,
        inputs=dict(sorted(shop.inputs.items())),
        parameters=_told(parameters),
        headline=headline,
        figures=tuple(figures),
        tables={**(tables or {}), "files": files_table(shop)},
        findings=(*findings, *own),
        writing=Writing.of(shop.settings),
    )


def _told(parameters: Parameters) -> dict[str, object]:
    """Return the parameters as plain values; a file is told by its name, not by where it lies."""
    names = {name: value.name for name, value in parameters if isinstance(value, Path)}
    return {**parameters.model_dump(mode="json"), **names}


def files_table(shop: Shop) -> Table:
    """Return what was read: rows accepted and rejected by file; each row read is one of the two."""
    from .answer import TableColumn, table

    heads = ("file", "read", "accepted", "rejected", "repaired", "doubted")
    frame = pd.DataFrame([[getattr(tally, head) for head in heads] for tally in shop.tallies], columns=list(heads))
    return table(frame, [TableColumn(name=head, unit="" if head == "file" else "rows") for head in heads])


def page_of(answer: Answer, stake: str, figures: Sequence[KeyFigure], blocks: Iterable[Named]) -> Page:
    """Return the page of a report: headline, key figures and cautions, then `blocks` by their names, then notes and footer.

    Parameters
    ----------
    answer : Answer
        What the report says.
    stake : str
        One or two sentences: the price of being wrong, the next best way.
    figures : sequence of KeyFigure
        Three to five.
    blocks : iterable of Block
        Each with a name of its own.

    Raises
    ------
    ValueError
        Two blocks have one name.
    """
    named: dict[str, Named] = {}
    for block in blocks:
        if block.name in named:
            raise ValueError(f"two blocks are named {block.name}")
        named[block.name] = block
    cautions = tuple(sorted((one for one in answer.findings if one.level != "note"), key=lambda one: one.level != "stop"))
    name = answer.report.replace("_", " ")
    line = f"{answer.shop} · {name} · to {sentences.day(answer.as_of)}"
    return Page(
        answer,
        {
            "headline": Headline(answer.headline, stake, line, len(cautions)),
            "figures": KeyFigures(tuple(figures), _range_note(answer)),
            "cautions": Findings(cautions[:MOST_CAUTIONS], max(len(cautions) - MOST_CAUTIONS, 0)),
            **named,
            "notes": _notes(answer),
            "footer": _footer(answer),
        },
    )


def _range_note(answer: Answer) -> str:
    ranged = any(figure.low is not None and figure.level in (None, 0.8) for figure in answer.figures)
    return "Ranges hold what happens 8 times in 10 (1 in 10 below, 1 in 10 above)." if ranged else ""


def _notes(answer: Answer) -> Notes:
    counts = [Show(name, name.capitalize(), "number") for name in ("read", "accepted", "rejected", "repaired", "doubted")]
    files = table_of(answer, "files", "Rows of each file", [Show("file", "File"), *counts]) if answer.tables["files"].rows else None
    return Notes(tuple(one for one in answer.findings if one.level == "note"), files)


def _footer(answer: Answer) -> Footer:
    parameters = {name: _written(value) for name, value in answer.parameters.items() if name != "seed" and value not in (None, "", [])}
    return Footer(
        tuple((name, digest[:8]) for name, digest in answer.inputs.items()),
        tuple(sorted({**parameters, "as_of": answer.as_of.isoformat()}.items())),
        answer.seed,
        answer.shoplib,
        "invented" in answer.shop.lower(),
    )


def _written(value: object) -> str:
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)


def key_figure(answer: Answer, name: str, compare: str = "", sign: sentences.Sign = "minus", shown_as: str = "") -> KeyFigure:
    """Return a key figure as the page shows it, read from the answer's figure `name`.

    Parameters
    ----------
    compare : str
        One comparison with its base: ``February: 11,900``.
    sign : {'minus', 'both'}
        ``both`` for a difference.
    shown_as : str
        A shorter name, when `name` does not fit one line.
    """
    figure, writing = answer.figure(name), answer.writing
    step = sentences.step_of(figure.low, figure.high)
    write = _writer(figure, writing, sign, step)
    span = f"{write(figure.low)} to {write(figure.high)}" if figure.low is not None and figure.high is not None else ""
    level = " (19 in 20)" if span and figure.level == 0.95 else ""
    unit = figure.unit.removeprefix("share").strip() if figure.unit.startswith("share") else figure.unit
    return KeyFigure(shown_as or name, write(figure.value), unit, span + level if span else figure.basis, compare)


def _writer(figure: Figure, writing: Writing, sign: sentences.Sign, step: float | None) -> Callable[[float | None], str]:
    if figure.unit.startswith("share"):
        return lambda value: writing.percent(value, sign)
    if figure.unit.startswith(writing.currency) and "/" not in figure.unit:
        return lambda value: writing.amount(value, sign, max(step, 1.0) if step and abs(figure.value or 0) >= 100 else None)
    whole = figure.value is not None and float(figure.value).is_integer() and abs(figure.value) < 1e9 and figure.basis == "counted"
    digits = 0 if whole or abs(figure.value or 0) >= 1000 else 1
    return lambda value: writing.number(value, digits, sign, step)
