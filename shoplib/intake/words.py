"""Words: codes, choices, yes and no. Codes are folded to one spelling: the settings', else the first met."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from itertools import compress

import numpy as np
import pandas as pd

from ..errors import nearest
from ..units import METALS, read_alloy_name
from .columns import Column
from .distinct import Cells
from .findings import Reason
from .parsed import Parsed, Unreadable, tidy

YES = frozenset({"y", "yes", "true", "1", "x", "ja", "j", "oui", "si", "sí", "wahr", "✓", "✔"})
NO = frozenset({"n", "no", "false", "0", "nein", "non", "falsch"})

DOMAIN = {
    "orders.order_id": "order", "labour.order_id": "order", "metal_ledger.order_id": "order", "holds.order_id": "order",
    "quotes.order_id": "order", "payments.order_id": "order",
    "orders.style": "style", "quotes.style": "style", "price_list.style": "style",
    "orders.alloy": "alloy", "quotes.alloy": "alloy", "price_list.alloy": "alloy",
    "metal_book.alloy": "alloy", "metal_ledger.metal": "alloy",
    "labour.stage": "stage", "metal_book.stage": "stage", "labour.worker": "worker", "absences.worker": "worker",
    "metal_prices.currency": "currency", "fx.currency": "currency",
}  # fmt: skip
"""Columns whose codes mean the same thing."""


_LONGEST = 40
_PLAIN = re.compile(r"[\w./()-]{1,40}")
_ALL_PLAIN = re.compile(r"(?:[\w./()-]+\n)*[\w./()-]+")


def fold(text: str) -> str:
    """Return `text` without case and spaces: two codes that fold alike are one."""
    return "".join(text.casefold().split())


@dataclass
class Spellings:
    """The one spelling of each code met, by domain.

    Attributes
    ----------
    known : dict
        Domain to folded code to spelling.
    aliases : dict
        Domain to folded alias to spelling.
    """

    known: dict[str, dict[str, str]] = field(default_factory=dict)
    aliases: dict[str, dict[str, str]] = field(default_factory=dict)

    def learn(self, domain: str, codes: Iterable[str]) -> None:
        """Give each of `codes` its spelling before any table is read."""
        spelled = self.known.setdefault(domain, {})
        for code in codes:
            spelled.setdefault(fold(code), tidy(code))

    def alias(self, domain: str, pairs: dict[str, str]) -> None:
        """Read the left side of `pairs` as the right side."""
        for left, right in pairs.items():
            self.aliases.setdefault(domain, {})[fold(left)] = self.known.setdefault(domain, {}).setdefault(fold(right), tidy(right))

    def knows(self, domain: str, text: str) -> bool:
        """Tell whether a code, or an alias of it, was met before."""
        key = fold(text)
        return key in self.known.get(domain, {}) or key in self.aliases.get(domain, {})

    def spell(self, domain: str, text: str) -> tuple[str, Reason | None]:
        """Return the one spelling of `text` and what was repaired."""
        key = fold(text)
        alias = self.aliases.get(domain, {}).get(key)
        if alias is not None:
            return alias, Reason("alias", "an alias was read as the name in shop.toml") if alias != text else None
        spelling = self.known.setdefault(domain, {}).setdefault(key, text)
        return spelling, None if spelling == text else Reason("spelling", "case and spaces were folded to one spelling")


def domain_of(table: str, column: str) -> str:
    """Return the domain of a code column."""
    return DOMAIN.get(f"{table}.{column}", column)


def read_codes(cells: Cells, column: Column, table: str, spellings: Spellings, blanks: frozenset[str]) -> Parsed:
    """Read a column of codes, or of several codes parted by semicolons; blank is None.

    The usual cells come first, so that a code never met before gets the spelling that most rows have.
    """
    parsed = Parsed.empty(len(cells.raw), object, None)
    domain = domain_of(table, column.name)
    known, texts = spellings.known.setdefault(domain, {}), cells.texts()
    exact = dict(zip(known.values(), known.values(), strict=True))
    parsed.values[:] = np.fromiter(map(exact.get, texts), dtype=object, count=len(texts))
    fresh = np.flatnonzero(pd.isna(parsed.values))
    rest = fresh[np.argsort(-np.bincount(cells.codes, minlength=len(texts))[fresh], kind="stable")].tolist()
    if domain != "alloy" and domain not in spellings.aliases:
        rest = _taken_plainly(rest, texts, known, blanks, parsed)
    several = column.kind == "codes"
    for i in rest:
        parsed.put(i, texts[i], lambda clean: _several(clean, domain, spellings) if several else _one(clean, domain, spellings), blanks)
    return parsed


def _taken_plainly(rest: list[int], texts: list[str], known: dict[str, str], blanks: frozenset[str], parsed: Parsed) -> list[int]:
    """Take the codes that need no folding and are met for the first time as they stand; return the others."""
    spelled = [texts[i] for i in rest]
    joined = "\n".join(spelled)
    folded = joined.casefold().split("\n")
    new = len(set(folded)) == len(spelled) and known.keys().isdisjoint(folded) and blanks.isdisjoint(folded)
    if new and ("".join(spelled).isalnum() or _ALL_PLAIN.fullmatch(joined)) and max(map(len, spelled), default=0) <= _LONGEST:
        plain = [True] * len(spelled)
    else:
        folded = [text.casefold() for text in spelled]
        met = Counter(folded)
        easy = [bool(_PLAIN.fullmatch(text)) for text in spelled]
        plain = [ok and met[key] == 1 and key not in known and key not in blanks for ok, key in zip(easy, folded, strict=True)]
    taken = list(compress(rest, plain))
    parsed.values[taken] = list(compress(spelled, plain))
    known.update(zip(compress(folded, plain), compress(spelled, plain), strict=True))
    return [i for i, ok in zip(rest, plain, strict=True) if not ok]


def _one(text: str, domain: str, spellings: Spellings) -> tuple[str, Reason | None]:
    if text.startswith("#") and text.rstrip("!?/0A").upper() in ("#REF", "#DIV", "#N", "#NAME", "#VALUE", "#NUM", "#NULL"):
        raise Unreadable("spreadsheet_error", "the cell shows a spreadsheet's error", "mend the formula and save again")
    if len(text) > 200:
        raise Unreadable("too_long", f"the cell holds {len(text):,} signs", "write a short code")
    if domain == "alloy" and not spellings.knows("alloy", text) and read_alloy_name(text) is None and text.casefold() not in METALS:
        raise Unreadable(
            "unknown_alloy", "the name tells neither metal nor fineness", "correct it, or add the alloy to [[alloys]] in shop.toml"
        )
    return spellings.spell(domain, text)


def _several(text: str, domain: str, spellings: Spellings) -> tuple[str, Reason | None]:
    if ";" not in text:
        return _one(text, domain, spellings)
    pairs = [_one(part.strip(), domain, spellings) for part in text.split(";") if part.strip()]
    joined = "; ".join(dict.fromkeys(spelling for spelling, _ in pairs))
    return joined, next((repair for _, repair in pairs if repair), None)


def read_text(cells: Cells, blanks: Collection[str]) -> Parsed:
    """Read a column of free text; blank is None."""
    parsed = Parsed.empty(len(cells.raw), object, None)
    for i, text in enumerate(cells.texts()):
        parsed.put(i, text, lambda clean: (clean, None), blanks)
    return parsed


def read_choices(cells: Cells, column: Column, aliases: dict[str, str], blanks: Collection[str]) -> Parsed:
    """Read a column that takes one of a few words."""
    parsed = Parsed.empty(len(cells.raw), object, None)
    options = {_plain(option): option for option in column.options} | {_plain(left): right for left, right in aliases.items()}
    for i, text in enumerate(cells.texts()):
        parsed.put(i, text, lambda clean: _choice(clean, column, options), blanks)
    return parsed


def _plain(text: str) -> str:
    return re.sub(r"[\s_-]+", "", text.casefold())


def _choice(text: str, column: Column, options: dict[str, str]) -> tuple[str, Reason | None]:
    found = options.get(_plain(text))
    if found is None:
        near = nearest(text, column.options)
        allowed = ", ".join(column.options)
        raise Unreadable(
            "unknown_word",
            f"{column.name} knows no such word; allowed: {allowed}",
            f"did you mean {near}?" if near else "write one of them",
        )
    return found, None if found == text else Reason("spelling", "case and spaces were folded to one spelling")


def read_yes_no(cells: Cells, blanks: Collection[str]) -> Parsed:
    """Read a column of yes and no: 1.0, 0.0, NaN where blank."""
    parsed = Parsed.empty(len(cells.raw), np.float64, np.nan)
    for i, text in enumerate(cells.texts()):
        parsed.put(i, text, _yes_no, blanks - YES - NO if isinstance(blanks, frozenset) else blanks)
    return parsed


def _yes_no(text: str) -> tuple[float, Reason | None]:
    word = text.casefold()
    if word not in YES and word not in NO:
        raise Unreadable("not_yes_no", "this is neither yes nor no", "write y or n")
    return float(word in YES), None
