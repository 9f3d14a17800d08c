"""Two sheets of paper for the bench: the job card of an order, and the day sheet with a line a person. Both print on A4."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

DAYS_ACROSS = 8
PEOPLE = 14
ENTRIES = 5

_STYLE = """
@page { size: A4; margin: 12mm }
* { box-sizing: border-box }
body { font: 10pt/1.25 "Helvetica Neue", Arial, sans-serif; color: #111; max-width: 186mm; margin: 0 auto }
h1 { font-size: 15pt; margin: 0 0 3mm }
p { margin: 2mm 0 }
table { border-collapse: collapse; width: 100%; margin: 0 0 4mm; table-layout: fixed }
th, td { border: .4pt solid #555; padding: 1mm 1.5mm; text-align: left; vertical-align: top; font-weight: normal; height: 12mm }
th { background: #f1f1f1; font-size: 8.5pt }
td.stage { font-weight: bold; width: 22mm }
.small { font-size: 8pt; color: #333 }
@media print { body { max-width: none } }
"""


def job_card(stages: Sequence[str]) -> str:
    """Return the job card: stages down, days across, three weighings and a tally of broken links."""
    head = _grid(
        [
            ("Order no.", "Style", "Alloy", "Promised on"),
            ("Length, cm", "Width, mm", "Quoted weight, g", "Metal: fixed / at delivery / customer's"),
        ]
    )
    days = "".join("<th>day</th>" for _ in range(DAYS_ACROSS))
    rows = "".join(f'<tr><td class="stage">{escape(stage)}</td>{"<td></td>" * DAYS_ACROSS}</tr>' for stage in stages)
    weighings = _grid(
        [
            ("1 · given out, g", "2 · before polish, g", "3 · finished, g"),
            ("Clean cut-offs back, g", "Solder, g and which", "Findings and stones, g"),
        ]
    )
    body = (
        f"<h1>Job card</h1>{head}"
        '<p class="small">In each box: initials and a stroke for every quarter of an hour. '
        "Circle the strokes of work done a second time.</p>"
        f'<table><tr><th style="width:22mm">stage</th>{days}</tr>{rows}</table>'
        f"<p><strong>Weighings</strong>, on the same scale</p>{weighings}"
        f"<p><strong>Broken links</strong>, a stroke each</p>{_grid([('broken link', 'gap in a joint', 'pit', 'overheated')])}"
        '<p class="small">Initials or a number, never a name. '
        "The boxes of this card become rows of the table labour: order_id, stage, worker, date, hours.</p>"
    )
    return _page("Job card", body)


def day_sheet() -> str:
    """Return the day sheet: a line a person, with room for what they worked on."""
    across = "".join(f"<th>order · stage · hours ({number})</th>" for number in range(1, ENTRIES + 1))
    line = f"<tr><td></td>{'<td></td>' * ENTRIES}</tr>"
    body = (
        "<h1>Day sheet</h1><p>Date ____________________</p>"
        f'<table><tr><th style="width:18mm">who</th>{across}</tr>{line * PEOPLE}</table>'
        '<p class="small">Hours in quarters. Leave the order blank for work shared by all, such as cleaning. '
        "Write R beside work done a second time. Initials or a number, never a name.</p>"
    )
    return _page("Day sheet", body)


def _grid(rows: Sequence[Sequence[str]]) -> str:
    cells = ("".join(f"<td><span class=small>{escape(label)}</span></td>" for label in row) for row in rows)
    return f"<table>{''.join(f'<tr>{row}</tr>' for row in cells)}</table>"


def _page(title: str, body: str) -> str:
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)}</title><style>{_STYLE}</style></head>\n<body>{body}</body></html>\n"
    )
