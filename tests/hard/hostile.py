"""A shop whose every text is an attack: markup, script, templates, formulas, paths and terminal tricks, all at once. Invented.

The invented workshop is written small; each text of each table and of shop.toml is then replaced, the same text by the same
attack everywhere, so that orders still find their job cards and stages their benches. A further row a column puts attacks where
numbers, dates and words belong.
"""

from __future__ import annotations

import json
import os
import tomllib
from collections.abc import Iterator
from datetime import date, time
from itertools import count
from pathlib import Path
from typing import Any

import pandas as pd

from shoplib.demo import write_demo
from shoplib.intake.columns import TABLES

ELSEWHERE = "elsewhere.test"
"""No page may ask for it, no workbook may link to it (a name that never resolves: RFC 2606)."""
ATTACKS = (
    "<script>alert(1)</script>", "<img src=x onerror=alert(2)>", "</script><script>alert(3)</script>", '"><svg onload=alert(4)>',
    "'-alert(5)-'", "{{7*191}}", "{% for x in y %}", "${7*191}", "=1+191", f'=HYPERLINK("//{ELSEWHERE}","a")', "@SUM(1)", "+1+191",
    "-2+193", "=cmd|'/C calc'!A0", "../../../out", "C:\\..\\out", "\x1b[2J\x1b[31m", "\x1b]0;owned\x07", "\u202eevil", "\u2066<b>\u2069",
    "javascript:alert(6)", "--><b>", "]]></script>", "<!--", "&lt;script&gt;", "%s%n%(x)s", "two\nlines", "<b>" + "long" * 60,
    "$\\href{javascript:alert(7)}{x}$", "[x](javascript:alert(8))", f"![x](//{ELSEWHERE}/p.png)", f"<a href=//{ELSEWHERE}>", "<style>*{display:none}",
    f"<link rel=stylesheet href=//{ELSEWHERE}/s.css>", f"<iframe src=//{ELSEWHERE}>", "`id`$(id)", "\t=1+191", "__proto__", "constructor", "%{7*191}",
    "<noscript><p title='</noscript><img src=x onerror=alert(9)>'>", "<base href=//elsewhere.test>", f"<meta http-equiv=refresh content=0;url=//{ELSEWHERE}>",
)  # fmt: skip
CODE_LENGTH = 60
"""shop.toml takes codes up to this length."""
KEPT = frozenset({("metal_prices", "currency"), ("fx", "currency")})
"""Left as they are: a price in a currency without a rate stops a run, which has its own test."""
TEXT = frozenset({"text", "code", "codes"})


class Disguise:
    """Gives every text an attack of its own, the same each time, and never the same for two texts of one kind."""

    def __init__(self) -> None:
        self._known: dict[tuple[str, str], str] = {}
        self._next = count()

    def __call__(self, kind: str, text: str, short: bool = False) -> str:
        """Return what stands in place of `text`; `short` fits it into what shop.toml takes."""
        key = (kind, text)
        if key not in self._known:
            attack = ATTACKS[next(self._next) % len(ATTACKS)]
            self._known[key] = (attack[: CODE_LENGTH - 1 - len(text)] if short else attack) + " " + text
        return self._known[key]


KINDS = {
    "order_id": "order",
    "style": "style",
    "alloy": "alloy",
    "metal": "alloy",
    "worker": "worker",
    "stage": "stage",
    "solder": "solder",
}


def write_hostile(folder: Path, orders: int = 150, months: int = 9) -> Path:
    """Write the hostile shop into `folder`, some files with hostile names beside it, and return the folder."""
    write_demo(folder, orders, months)
    (folder / "truth.json").unlink()
    disguise = Disguise()
    settings = tomllib.loads((folder / "shop.toml").read_text("utf-8"))
    (folder / "shop.toml").write_text(as_toml(disguised(settings, disguise)), "utf-8")
    for name in TABLES:
        file = folder / f"{name}.csv"
        rows = pd.read_csv(file, dtype=str, keep_default_na=False) if file.is_file() else metal_book()
        _planted(name, rows, disguise).to_csv(file, index=False)
    for at, attack in enumerate(ATTACKS):
        (folder / f"{at} {file_name(attack)}.csv").write_text("order_id\nA1\n", "utf-8")
    (folder / os.fsdecode(b"Auftr\xe4ge.csv")).write_text("order_id\nA1\n", "utf-8")
    return folder


def file_name(attack: str) -> str:
    """Return an attack as far as a file may be called so."""
    return attack.replace("/", "\u2215").replace("\x00", "")[:80]


def metal_book() -> pd.DataFrame:
    """Return a row of the one table the invented workshop does not keep."""
    return pd.DataFrame(
        [{"from": "2026-10-01", "to": "2026-10-02", "stage": "", "alloy": "18k yellow", "given_g": "9", "work_back_g": "8"}]
    )


def _planted(name: str, rows: pd.DataFrame, disguise: Disguise) -> pd.DataFrame:
    """Return a table with its texts replaced, and a further row a column with an attack in that column."""
    told = rows.copy()
    for column in TABLES[name].columns:
        if column.name in rows and column.kind in TEXT and (name, column.name) not in KEPT:
            told[column.name] = [_told(column.name, cell, disguise) for cell in rows[column.name]]
    extra = []
    for at, column in enumerate(column for column in rows.columns if (name, column) not in KEPT):
        row = told.iloc[at % len(told)].to_dict()
        row[column] = ATTACKS[(at + len(name)) % len(ATTACKS)]
        extra.append(row)
    told[f"<b>{name}</b>"] = ATTACKS[len(name) % len(ATTACKS)]
    return pd.concat([told, pd.DataFrame(extra)], ignore_index=True)


def _told(column: str, cell: str, disguise: Disguise) -> str:
    if not cell or (column == "metal" and cell in ("gold", "silver", "platinum", "palladium")):
        return cell
    kind = KINDS.get(column, column)
    return "; ".join(disguise(kind, part, kind in SHORT) for part in cell.split("; "))


SHORT = frozenset({"alloy", "worker", "stage", "solder"})


def disguised(settings: dict[str, Any], disguise: Disguise) -> dict[str, Any]:
    """Return settings of shop.toml with their texts replaced."""
    told = dict(settings)
    told["shop"] = settings["shop"] | {"name": " ".join(ATTACKS)}
    for table, key, kind in (
        ("alloys", "code", "alloy"),
        ("solders", "code", "solder"),
        ("stages", "name", "stage"),
        ("workers", "code", "worker"),
    ):
        told[table] = [entry | {key: disguise(kind, entry[key], True)} for entry in settings.get(table, [])]
    for worker in told["workers"]:
        worker["skills"] = [disguise("stage", skill, True) for skill in worker.get("skills", [])]
    for stage in told["stages"]:
        stage |= {key: disguise("stage", stage[key], True) for key in ("skill", "rework_of") if stage.get(key)}
    if told.get("hire", {}).get("stages"):
        told["hire"] = told["hire"] | {"stages": [disguise("stage", stage, True) for stage in told["hire"]["stages"]]}
    told["aliases"] = {"style": {attack: disguise("style", "curb") for attack in ATTACKS[:3]}}
    return told


def as_toml(settings: dict[str, Any]) -> str:
    """Return settings as TOML: top tables, and everything below inline."""
    return "\n".join(_tables(settings)) + "\n"


def _tables(settings: dict[str, Any]) -> Iterator[str]:
    for name, value in sorted(settings.items(), key=lambda entry: isinstance(entry[1], dict)):
        if isinstance(value, dict):
            yield f"[{name}]"
            yield from (f"{_value(key)} = {_value(inner)}" for key, inner in value.items())
        else:
            yield f"{name} = {_value(value)}"


def _value(value: Any) -> str:
    match value:
        case dict():
            return "{ " + ", ".join(f"{_value(key)} = {_value(inner)}" for key, inner in value.items()) + " }"
        case list():
            return "[" + ", ".join(map(_value, value)) + "]"
        case str() | bool() | int() | float():
            return json.dumps(value)
        case date() | time():
            return value.isoformat()
        case _:
            raise TypeError(f"TOML has no {type(value).__name__}")
