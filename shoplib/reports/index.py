"""index.html: every report in the output folder, newest first, built from the answers files that lie there."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from html import escape
from itertools import groupby
from pathlib import Path
from typing import Any
from urllib.parse import quote

from . import sentences
from .answer import head_of
from .discover import ORDER
from .export import HERE, policy, style_text
from .make import FAILED


@dataclass(frozen=True)
class Entry:
    """One report in the folder: where its page is and what it says."""

    as_of: date
    report: str
    shop: str
    headline: str
    cautions: int
    unshown: int


def entries(out: Path) -> list[Entry]:
    """Return the reports in a folder, newest first; a file that is no answers file is left out."""
    found = [entry for file in out.glob("????-??-??/*.json") if (entry := _entry(file)) is not None]
    place = {name: number for number, name in enumerate(ORDER)}
    return sorted(found, key=lambda one: (-one.as_of.toordinal(), place.get(one.report, len(place)), one.report))


def _entry(file: Path) -> Entry | None:
    try:
        content: dict[str, Any] = head_of(file.read_text("utf-8"))
        levels = [one["level"] for one in content["findings"]]
        day = date.fromisoformat(content["as_of"])
        return Entry(day, content["report"], content["shop"], content["headline"], levels.count("warn"), levels.count("stop"))
    except (KeyError, ValueError, TypeError):
        return None


def failed(out: Path) -> list[str]:
    """Return the reports whose last run failed."""
    return sorted(file.stem for file in (out / FAILED).glob("*.html"))


def index_html(out: Path) -> str:
    """Return the page that lists the folder's reports."""
    found = entries(out)
    shops = sorted({one.shop for one in found})
    script = (HERE / "list.js").read_text("utf-8")
    months = [_group(day, list(group)) for day, group in groupby(found, key=lambda one: one.as_of)]
    invented = _INVENTED if any("invented" in shop.lower() for shop in shops) else ""
    body = f"{_failures(failed(out))}{''.join(months)}" or "<p>No report has been made yet.</p>"
    name = shops[0] if len(shops) == 1 else f"{len(shops)} shops" if shops else "Reports"
    return _page(f"Reports – {name}", f"<h1>{escape(name)}</h1>{_FIND}{body}{invented}", script)


_INVENTED = '<p class="small">Shops called invented are made up for the demonstration.</p>'
_FIND = (
    '<label class="find" hidden>Find in headlines <input type="search" id="find" autocomplete="off"></label>'
    '<p id="none" hidden>No headline holds these words.</p>'
)


def _page(title: str, body: str, script: str) -> str:
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy([script])}">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n<meta name="color-scheme" content="light dark">\n'
        f'<meta name="referrer" content="no-referrer">\n<title>{escape(title)}</title>\n'
        f"<style>{style_text(title)}{(HERE / 'list.css').read_text('utf-8')}</style>\n</head>\n"
        f"<body>\n<main>\n{body}\n</main>\n<script>{script}</script>\n</body>\n</html>\n"
    )


def _group(day: date, found: Iterable[Entry]) -> str:
    items = "\n".join(map(_item, found))
    return f'<section class="month"><h2>{sentences.day(day)}</h2>\n<ul>\n{items}\n</ul></section>\n'


def _item(one: Entry) -> str:
    home = f"{one.as_of.isoformat()}/{one.report}"
    name = one.report.replace("_", " ").capitalize()
    notes = [sentences.count(one.cautions, "caution")] if one.cautions else []
    notes += [f"{one.unshown}\u00a0not shown"] if one.unshown else []
    files = f'<a href="{escape(home)}.xlsx">workbook</a><a href="{escape(home)}.json">answers file</a>'
    return (
        f'<li><a class="report" href="{escape(home)}.html">{escape(name)}</a>'
        f"{f' <small>{escape(chr(183).join(notes))}</small>' if notes else ''}"
        f'<p>{escape(one.headline)}</p><p class="files">{files}</p></li>'
    )


def _failures(names: Iterable[str]) -> str:
    items = "".join(
        f'<li class="failed"><a class="report" href="{FAILED}/{escape(name)}.html">{escape(name.replace("_", " ").capitalize())}</a>'
        f"<p>It failed when it was last made; where it is listed below, that page is from before.</p></li>"
        for name in names
    )
    return f'<section class="month"><h2>Failed</h2><ul>{items}</ul></section>' if items else ""


def overview(shops: Iterable[tuple[str, str, int, str]]) -> str:
    """Return the page over a group of shops.

    Parameters
    ----------
    shops : iterable of (str, str, int, str)
        Sub-folder, name of the shop, 0 all its reports were made, 1 some were not, 2 there is none, and its first headline or
        what went wrong.
    """
    items = "".join(map(_shop, shops))
    script = (HERE / "list.js").read_text("utf-8")
    return _page("Shops", f'<h1>Shops</h1>{_FIND}<section class="month"><ul>{items}</ul></section>', script)


def _shop(one: tuple[str, str, int, str]) -> str:
    folder, name, code, line = one
    told = f'<a class="report" href="{quote(os.fsencode(folder))}/index.html">{escape(name)}</a>' if code < 2 else f"<b>{escape(name)}</b>"
    note = ("", " <small>not all reports were made</small>", " <small>no report was made</small>")[code]
    return f"<li{' class=failed' if code else ''}>{told}{note}<p>{escape(line)}</p></li>"
