"""Numbers, ranges, odds and dates in words: the one place where a value becomes text.

Every text a reader meets (headline, key figure, chart label, table cell) is written by a
`Writing`, so that a number looks the same wherever it stands. Number and unit are bound
by a no-break space; minus is U+2212; missing is an en dash.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from ..settings import Settings

SPACE = "\u00a0"
MINUS = "\u2212"
MISSING = "\u2013"
MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
Sign = Literal["minus", "both"]
ODDS_WORDS = ((0.90, "very likely"), (0.66, "likely"), (0.33, "about as likely as not"), (0.10, "unlikely"), (-1.0, "very unlikely"))
"""Lower ends of the likelihood words of the IPCC's uncertainty guidance note (Mastrandrea et al. 2010, table 1)."""


def missing(value: float | None) -> bool:
    """Tell whether there is no number to write."""
    return value is None or not math.isfinite(value)


def step_of(low: float | None, high: float | None) -> float | None:
    """Return the step to which a value with this range is written: 2 significant digits of the range's width."""
    if low is None or high is None or not math.isfinite(high - low) or high == low:
        return None
    return float(10.0 ** (math.floor(math.log10(abs(high - low))) - 1))


def to_step(value: float, step: float | None) -> float:
    """Return `value` rounded half away from zero to a multiple of `step`; unchanged without a step."""
    if not step:
        return value
    return math.copysign(math.floor(abs(value) / step + 0.5 + 1e-9) * step, value)


def digits_of(step: float | None, otherwise: int = 0) -> int:
    """Return the decimals a multiple of `step` needs."""
    return otherwise if not step else max(0, -math.floor(math.log10(step) + 1e-9))


@dataclass(frozen=True)
class Writing:
    """How a shop writes numbers.

    Parameters
    ----------
    currency : str
        ISO 4217 code, written before an amount.
    decimal, thousands : str
        Signs of the shop's settings, ``[page]``.
    """

    currency: str = "EUR"
    decimal: str = "."
    thousands: str = ","

    @classmethod
    def of(cls, settings: Settings) -> Writing:
        """Return the writing of a shop's settings."""
        return cls(settings.shop.currency, settings.page.decimal, settings.page.thousands)

    @property
    def separators(self) -> str:
        """The two signs as a plotly layout takes them."""
        return self.decimal + self.thousands

    def number(self, value: float | None, digits: int = 0, sign: Sign = "minus", step: float | None = None) -> str:
        """Return a number with `digits` decimals, or rounded to `step`; ``both`` writes + before what is above zero."""
        if value is None or missing(value):
            return MISSING
        rounded = round(to_step(value, step or 10.0**-digits) + 0.0, digits_of(step, digits))
        text = f"{abs(rounded):,.{digits_of(step, digits)}f}"
        text = text.translate({ord(","): self.thousands.replace(" ", SPACE), ord("."): self.decimal})
        return (MINUS if rounded < 0 else "+" if sign == "both" and rounded > 0 else "") + text

    def amount(self, value: float | None, sign: Sign = "minus", step: float | None = None) -> str:
        """Return money without its code: whole from 100 on, two decimals below; whole when a step is given."""
        small = value is not None and not missing(value) and not step and 0 < round(abs(value), 2) < 100
        return self.number(value, 2 if small else 0, sign, step)

    def money(self, value: float | None, sign: Sign = "minus", step: float | None = None) -> str:
        """Return money: ``EUR 31,400``, ``EUR 4.20``."""
        text = self.amount(value, sign, step)
        return text if text == MISSING else f"{self.currency}{SPACE}{text}"

    def about(self, value: float, low: float | None = None, high: float | None = None) -> str:
        """Return money for a sentence, rounded to its range (or to 2 significant digits): ``about EUR 31,000``."""
        step = step_of(low, high) or (10.0 ** (math.floor(math.log10(abs(value))) - 1) if value else 1.0)
        return f"about {self.money(value, step=max(step, 1.0))}"

    def unit(self, value: float | None, unit: str, digits: int = 0, sign: Sign = "minus", step: float | None = None) -> str:
        """Return a number bound to its unit: ``11.6 days``."""
        text = self.number(value, digits, sign, step)
        return text if text == MISSING or not unit else f"{text}{SPACE}{unit.replace(' ', SPACE)}"

    def grams(self, value: float | None, kind: Literal["fine", "gross"] = "fine", sign: Sign = "minus") -> str:
        """Return grams with one decimal, always told whether fine or gross."""
        return self.unit(value, f"g {kind}", 1, sign)

    def price_per_g(self, value: float | None) -> str:
        """Return a metal price: ``EUR 71.86/g fine``."""
        return MISSING if value is None or missing(value) else f"{self.currency}{SPACE}{self.number(value, 2)}/g{SPACE}fine"

    def hours(self, value: float | None, sign: Sign = "minus") -> str:
        """Return hours with one decimal."""
        return self.unit(value, "h", 1, sign)

    def per_mille(self, share: float | None) -> str:
        """Return a share of one in per mille, one decimal: ``6.2‰``."""
        return MISSING if share is None or missing(share) else f"{self.number(share * 1000, 1)}‰"

    def percent(self, share: float | None, sign: Sign = "minus") -> str:
        """Return a share of one in percent: ``17%``; one decimal below 10%."""
        if share is None or missing(share):
            return MISSING
        digits = 1 if 0 < round(abs(share) * 100, 1) < 10 else 0
        return f"{self.number(share * 100, digits, sign)}%"

    def points(self, change: float | None) -> str:
        """Return the change of a share: ``+3 points``; one decimal below 10."""
        if change is None or missing(change):
            return MISSING
        digits = 1 if 0 < round(abs(change) * 100, 1) < 10 else 0
        return self.unit(change * 100, "points", digits, "both")

    def span(self, low: float | None, high: float | None, digits: int = 0, sign: Sign = "minus", step: float | None = None) -> str:
        """Return a range: ``−3,600 to +66,400``; missing when either end is."""
        if low is None or high is None or missing(low) or missing(high):
            return MISSING
        return f"{self.number(low, digits, sign, step)} to {self.number(high, digits, sign, step)}".replace(" ", SPACE, 1)

    def money_span(self, low: float | None, high: float | None, sign: Sign = "minus") -> str:
        """Return a range of money rounded to its width: ``EUR −9,000 to 14,000``."""
        text = self.span(low, high, 0, sign, max(step_of(low, high) or 1.0, 1.0))
        return text if text == MISSING else f"{self.currency}{SPACE}{text}"


def count(n: int, one: str, many: str = "", writing: Writing | None = None) -> str:
    """Return a count with its noun: ``1 order``, ``37 orders``; `many` when the plural is not regular."""
    noun = one if n == 1 else many or one + "s"
    return f"{(writing or Writing()).number(n)}{SPACE}{noun}"


def odds_count(probability: float | None) -> str:
    """Return a chance as a count: ``8 in 10``, ``19 in 20``, ``more than 19 in 20``; never certain."""
    if probability is None or missing(probability):
        return MISSING
    if probability > 0.95:
        return f"more than 19{SPACE}in{SPACE}20"
    if probability < 0.05:
        return f"fewer than 1{SPACE}in{SPACE}20"
    if min(probability, 1 - probability) < 0.075:
        return f"{19 if probability > 0.5 else 1}{SPACE}in{SPACE}20"
    return f"{math.floor(probability * 10 + 0.5)}{SPACE}in{SPACE}10"


def short_odds(probability: float | None) -> str:
    """Return a chance as a count for a table's cell: ``8 in 10``, ``over 19 in 20``."""
    return odds_count(probability).replace("more than", "over").replace("fewer than", "under")


def odds(probability: float) -> str:
    """Return a chance in a word and a count: ``likely (about 8 in 10)``."""
    word = next(word for lower, word in ODDS_WORDS if probability >= lower)
    number = odds_count(probability)
    return f"{word} ({number})" if number[0].isalpha() else f"{word} (about {number})"


def day(value: date | None) -> str:
    """Return a date: ``31 March 2026``."""
    return MISSING if value is None else f"{value.day}{SPACE}{MONTHS[value.month - 1]}{SPACE}{value.year}"


def short_day(value: date | None) -> str:
    """Return a date for a narrow cell: ``31 Mar 2026``."""
    return MISSING if value is None else f"{value.day}{SPACE}{MONTHS[value.month - 1][:3]}{SPACE}{value.year}"


def month(value: date | None) -> str:
    """Return a month: ``March 2026``."""
    return MISSING if value is None else f"{MONTHS[value.month - 1]}{SPACE}{value.year}"


def short_month(value: date | None) -> str:
    """Return a month for an axis: ``Mar 26``."""
    return MISSING if value is None else f"{MONTHS[value.month - 1][:3]}{SPACE}{value.year % 100:02d}"


def listed(items: Sequence[str], most: int = 3) -> str:
    """Return items as a sentence lists them: ``a, b and c``; the rest as ``and 14 others``."""
    if len(items) > most + 1:
        items = [*items[:most], f"{len(items) - most}{SPACE}others"]
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}" if items else ""


def cut(text: str, longest: int = 28) -> str:
    """Return `text` cut to `longest` signs, the last an ellipsis."""
    return text if len(text) <= longest else text[: longest - 1].rstrip() + "…"
