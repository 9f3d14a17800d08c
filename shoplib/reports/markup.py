"""Blocks as HTML: every text from data is escaped here, and nowhere else.

Units have a space before them and key figures are a list, so that JupyterLab, a reader mode and a mail read well without
the page's style sheet.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from html import escape
from typing import Any

from .answer import Found
from .blocks import (
    Absent,
    Block,
    Chart,
    Column,
    Control,
    Details,
    Findings,
    Footer,
    Headline,
    KeyFigures,
    Notes,
    Rows,
    Shown,
    Stepped,
    Table,
    Text,
)  # fmt: skip

Bundle = dict[str, Any]
PLOTLY_MIME = "application/vnd.plotly.v1+json"
FILTER_FROM = 15
WORDS = {"warn": "Caution.", "stop": "Not shown.", "note": "Note."}


def bundles(block: Block) -> list[Bundle]:
    """Return what a notebook displays for a block: mime bundles in reading order."""
    return _chart(block) if isinstance(block, Chart) else _details(block) if isinstance(block, Details) else [_html(markup(block))]


def markup(block: Block) -> str:
    """Return a block as one HTML fragment, as the page holds it."""
    if isinstance(block, Chart | Details):
        return "\n".join(bundle["text/html"] for bundle in bundles(block))
    writers: dict[type, Callable[[Any], str]] = {
        Headline: _headline, KeyFigures: _key_figures, Findings: _findings, Table: _table, Absent: _absent, Text: _text, Notes: _notes,
        Footer: _footer,
    }  # fmt: skip
    return writers[type(block)](block)


def _html(text: str) -> Bundle:
    return {"text/html": text}


def _headline(block: Headline) -> str:
    link = f' <a href="#cautions">{_cautions(block.cautions)} below</a>' if block.cautions else ""
    stake = f'<p class="stake">{escape(block.stake)}{link}</p>' if block.stake or link else ""
    return f'<p class="line">{escape(block.line)}</p>\n<p class="headline"><strong>{escape(block.text)}</strong></p>\n{stake}'


def _cautions(count: int) -> str:
    return f"{count} caution{'s' if count > 1 else ''}"


def _key_figures(block: KeyFigures) -> str:
    items = "\n".join(
        f'<li><span class="name">{escape(one.name)}</span> <span class="value"><b>{escape(one.value)}</b>'
        f" <span>{escape(one.unit)}</span></span> "
        f'<i>·</i> <span class="range">{escape(one.range)}</span> '
        f'{"<i>·</i> " if one.compare else ""}<span class="compare">{escape(one.compare)}</span></li>'
        for one in block.figures
    )
    note = f'\n<p class="small">{escape(block.note)}</p>' if block.note else ""
    return f'<ul class="figures">\n{items}\n</ul>{note}'


def _findings(block: Findings) -> str:
    if not block.items:
        return ""
    others = f" and {block.more}\u00a0other{'s' if block.more > 1 else ''}: <code>shoplib check</code> lists them" if block.more else ""
    more = f'<p class="small">{others.strip()}</p>' if others else ""
    return f'<div id="cautions" class="cautions">{"".join(map(_finding, block.items))}{more}</div>'


def _finding(found: Found) -> str:
    where = f" <small>{escape(found.where)}</small>" if found.where else ""
    return f'<p class="{found.level}"><b>{WORDS[found.level]}</b> {escape(found.text)}{where}</p>'


def _stepped(text: Stepped, tag: str, control: str, start: int, attributes: str = "") -> str:
    """One element for a plain text; for a stepped one as many as there are steps, all but the start hidden."""
    if isinstance(text, str):
        return f"<{tag}{attributes}>{escape(text)}</{tag}>"
    return "".join(
        f'<{tag}{attributes} data-for="{escape(control)}" data-step="{at}"{"" if at == start else " hidden"}>{escape(one)}</{tag}>'
        for at, one in enumerate(text)
    )


def _chart(block: Chart) -> list[Bundle]:
    name = block.control.name if block.control else block.follows
    start, key = block.drawing.start, f"fig-{block.name}"
    head = f'{_stepped(block.message, "h3", name, start)}\n<p class="measure">{escape(block.measure)}</p>'
    follows = f' data-follows="{escape(name)}"' if name else ""
    figure = (
        f'{_control(block.control) if block.control else ""}<div class="plot" id="{key}" role="img" aria-label="{escape(block.label)}"'
        f' aria-describedby="{key}-r"{follows} style="height:{block.drawing.height}px"></div>\n'
        f'<script type="application/json" id="{key}-data">{block.drawing.for_page()}</script>'
    )
    foot = f'<div id="{key}-r" class="reading">{_stepped(block.reading, "p", name, start)}</div>'
    if block.table:
        foot += f"<details><summary>The numbers behind this chart</summary>{_table(block.table)}</details>"
    lab = {PLOTLY_MIME: block.drawing.for_lab(), "text/html": figure}
    return [_html(head), lab, _html(foot)]


def _details(block: Details) -> list[Bundle]:
    inside = [bundle for part in block.blocks for bundle in bundles(part)]
    return [_html(f'<details class="more"><summary>{escape(block.summary)}</summary>'), *inside, _html("</details>")]


def _control(control: Control) -> str:
    return _choices(control) if control.kind == "choice" else _slider(control)


def _slider(control: Control) -> str:
    name, last = escape(control.name), len(control.labels) - 1
    labels = escape(json.dumps(control.labels, ensure_ascii=False))
    mark = f'<i style="left:{100 * control.mark / last:.2f}%"></i>' if control.mark is not None and last else ""
    return (
        f'<div class="control" data-labels="{labels}"><label for="c-{name}">{escape(control.title)}</label>'
        f'<output id="o-{name}" for="c-{name}">{escape(control.labels[control.start])}</output>'
        f'<span class="track">{mark}<input type="range" id="c-{name}" data-control="{name}" min="0" max="{last}" step="1"'
        f' value="{control.start}" aria-valuetext="{escape(control.labels[control.start])}"></span>'
        f'<span class="end">{escape(control.labels[0])}</span><span class="end">{escape(control.labels[-1])}</span></div>\n'
    )


def _choices(control: Control) -> str:
    name = escape(control.name)
    pills = "".join(
        f'<label><input type="radio" name="c-{name}" data-control="{name}" value="{at}"{" checked" if at == control.start else ""}>'
        f"<span>{escape(label)}</span></label>"
        for at, label in enumerate(control.labels)
    )
    return f'<fieldset class="control choices"><legend>{escape(control.title)}</legend><div>{pills}</div></fieldset>\n'


def _table(block: Table) -> str:
    key = f"t-{block.name}"
    heads = "".join(
        f'<th scope="col" class="{_classes(one)}"><span class="sort">{escape(one.head)}</span>'
        f"{f' <small>{escape(one.unit)}</small>' if one.unit else ''}</th>"
        for one in block.columns
    )
    sets = block.steps or (block.rows,)
    start = block.control.start if block.control else 0
    bodies = "".join(_body(rows, block, at, at == start) for at, rows in enumerate(sets))
    find = ""
    if len(block.rows) >= FILTER_FROM:
        find = f'<label class="find" hidden>Find <input type="search" aria-controls="{key}" autocomplete="off"></label>'
    seen = [one for one in block.columns if not one.paper]
    wide = any(not one.narrow for one in seen)
    tap = f'<button type="button" class="tap" hidden aria-controls="{key}" aria-pressed="false">All {len(seen)} columns</button>'
    note = f'<p class="small">{escape(block.note)}</p>' if block.note else ""
    kind = ' class="sheet"' if block.sheet else ""
    return (
        f'{find}<div class="table" role="region" tabindex="0" aria-labelledby="{key}-c"><table id="{key}"{kind}>'
        f'<caption id="{key}-c">{escape(block.caption)}</caption>'
        f"<thead><tr>{heads}</tr></thead>{bodies}</table></div>{tap if wide else ''}{note}"
    )


def _classes(column: Column) -> str:
    return " ".join(word for word in ("n" if column.number else "", "" if column.narrow else "w", "p" if column.paper else "") if word)


def _body(rows: Rows, block: Table, at: int, shown: bool) -> str:
    stepped = f' data-for="{escape(block.control.name)}" data-step="{at}"' if block.steps and block.control else ""
    lines = [_row(row, block) for row in rows]
    foot = f"<tfoot{stepped}{'' if shown else ' hidden'}>{lines.pop()}</tfoot>" if block.total and lines else ""
    return f"<tbody{stepped}{'' if shown else ' hidden'}>{''.join(lines)}</tbody>{foot}"


def _row(row: tuple[Shown, ...], block: Table) -> str:
    cells = []
    for at, (cell, column) in enumerate(zip(row, block.columns, strict=True)):
        raw = f' data-v="{escape(str(cell.raw))}"' if cell.raw is not None and str(cell.raw) != cell.text else ""
        style = _classes(column)
        tag, scope = ("th", ' scope="row"') if at == 0 else ("td", "")
        cells.append(f"<{tag}{scope}{f' class={chr(34)}{style}{chr(34)}' if style else ''}{raw}>{escape(cell.text)}</{tag}>")
    return f"<tr>{''.join(cells)}</tr>"


def _absent(block: Absent) -> str:
    return (
        f'<div class="absent" id="absent-{escape(block.name)}"><p><b>{escape(block.what)}</b></p>'
        f"<p>{escape(block.why)} {escape(block.settles)}</p></div>"
    )


def _text(block: Text) -> str:
    return "".join(f"<p>{escape(paragraph)}</p>" for paragraph in block.paragraphs)


def _notes(block: Notes) -> str:
    files = _table(block.files) if block.files else ""
    items = "".join(
        f"<li>{escape(found.text)}{f' <small>{escape(found.where)}</small>' if found.where else ''}</li>" for found in block.items
    )
    return f"{files}{f'<ul>{items}</ul>' if items else ''}"


def _footer(block: Footer) -> str:
    files = " · ".join(f"<code>{escape(name)}</code> {escape(short)}" for name, short in block.inputs)
    parameters = " · ".join(f"{escape(name)} {escape(value)}" for name, value in block.parameters)
    invented = "<p>The shop, its people and its figures are invented for the demonstration.</p>" if block.invented else ""
    return (
        f'<div class="foot">{invented}<p>Made from {files}</p><p>Parameters: {parameters}</p>'
        f"<p>Seed {block.seed} · shoplib {escape(block.version)}</p></div>"
    )
