"""Numbers: money, grams, hours, counts. Plain ones at once by array arithmetic, the others by a careful reader."""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..units import GRAMS_PER_PENNYWEIGHT, GRAMS_PER_TROY_OUNCE
from .columns import Column
from .distinct import Cells
from .findings import Reason, shown
from .parsed import BLANK, REJECTED, Parsed, Unreadable, matrix, plain_width, tidy

ZERO, NINE, DOT, MINUS = 48, 57, 46, 45

_CURRENCY_SIGNS = {
    "€": "EUR",
    "£": "GBP",
    "¥": "JPY",
    "₹": "INR",
    "₺": "TRY",
    "₪": "ILS",
    "zł": "PLN",
    "kč": "CZK",
    "ft": "HUF",
    "fr.": "CHF",
    "fr": "CHF",
}
_GRAMS = {
    "g": 1.0,
    "gr": 1.0,
    "gm": 1.0,
    "gram": 1.0,
    "grams": 1.0,
    "gramm": 1.0,
    "kg": 1000.0,
    "mg": 0.001,
    "dwt": GRAMS_PER_PENNYWEIGHT,
    "ozt": GRAMS_PER_TROY_OUNCE,
}
_HOURS = {"h": 1.0, "hr": 1.0, "hrs": 1.0, "hour": 1.0, "hours": 1.0, "std": 1.0, "min": 1 / 60, "mins": 1 / 60, "minutes": 1 / 60}
_LENGTH_CM = {"cm": 1.0, "mm": 0.1, "m": 100.0, "in": 2.54, "inch": 2.54, '"': 2.54}
UNITS: dict[str, dict[str, float]] = {
    "g gross": _GRAMS, "g": _GRAMS, "h": _HOURS, "cm": _LENGTH_CM, "mm": {name: 10 * size for name, size in _LENGTH_CM.items()},
    "weeks": {"w": 1.0, "wk": 1.0, "week": 1.0, "weeks": 1.0, "days": 1 / 7, "d": 1 / 7},
    "per mille": {"‰": 1.0, "permille": 1.0, "%": 10.0},
    "count": {"pcs": 1.0, "pc": 1.0, "x": 1.0, "pieces": 1.0},
}  # fmt: skip
"""Units that may stand in a cell, and what one of them is in the unit of the column."""

_NUMBER = re.compile(r"([-−+]?)\s*([^\d\s.,'’()−+-]*)\s*([-−]?)([\d.,'’\s]*\d[.,]?)\s*([^\d]*)")
_CLOCK = re.compile(r"(\d{1,2})\s*(?::|h)\s*(\d{2})(?:\s*(?:min|m)?|:00)")


@dataclass(frozen=True)
class Style:
    """How numbers of a column are written.

    Attributes
    ----------
    decimal : str
        ``.`` or ``,``; decides cells such as 1.250 that can be read both ways.
    currency : str
        The shop's; another currency in a cell is refused.
    blanks : collection of str
        Cells that mean nothing, case-folded.
    """

    decimal: str
    currency: str
    blanks: Collection[str]


@dataclass(frozen=True)
class Evidence:
    """How many cells of a column can only have a decimal point, a decimal comma, or either."""

    point: int = 0
    comma: int = 0
    either: int = 0

    def __add__(self, other: Evidence) -> Evidence:
        return Evidence(self.point + other.point, self.comma + other.comma, self.either + other.either)


def evidence(cells: Cells) -> Evidence:
    """Count how the distinct cells of a column of numbers are written."""
    plain, decimals, before = _plain(cells)
    dotted = plain & (decimals > 0)
    thousands = dotted & (decimals == 3) & (before >= 1) & (before <= 3) & ~_leading_zero(cells)
    found = Evidence(point=int((dotted & ~thousands).sum()), either=int(thousands.sum()))
    return sum((told_by(text) for text in cells.texts(np.flatnonzero(~plain))), found)


def told_by(text: str) -> Evidence:
    """Tell by one cell how its column writes numbers."""
    digits = _NUMBER.fullmatch(plain_width(tidy(text)))
    figure = re.sub(r"[\s'’]", "", digits[4]) if digits else ""
    signs = [sign for sign in figure if sign in ".,"]
    if not signs:
        return Evidence()
    if len(set(signs)) == 2:
        return Evidence(point=1) if signs[-1] == "." else Evidence(comma=1)
    if len(signs) > 1:
        return Evidence(comma=1) if signs[0] == "." else Evidence(point=1)
    if re.fullmatch(r"[1-9]\d{0,2}[.,]\d{3}", figure):
        return Evidence(either=1)
    return Evidence(point=1) if signs[0] == "." else Evidence(comma=1)


def _plain(cells: Cells) -> tuple[NDArray[np.bool_], NDArray[np.int64], NDArray[np.int64]]:
    """Tell which distinct cells are plain numbers (-?digits[.digits]), and their digits after and before the point."""
    if "plain" not in cells.memo:
        cells.memo["plain"] = _tell_plain(cells)
    found: tuple[NDArray[np.bool_], NDArray[np.int64], NDArray[np.int64]] = cells.memo["plain"]
    return found


def _tell_plain(cells: Cells) -> tuple[NDArray[np.bool_], NDArray[np.int64], NDArray[np.int64]]:
    signs, whole = matrix(cells)
    digit, dot = (signs >= ZERO) & (signs <= NINE), signs == DOT
    allowed = digit | dot | (signs == 0)
    allowed[:, 0] |= signs[:, 0] == MINUS
    count, points = digit.sum(axis=1), dot.sum(axis=1)
    place = np.argmax(dot, axis=1)
    used = (signs != 0).sum(axis=1)
    after = np.where(points > 0, used - place - 1, 0)
    plain = whole & allowed.all(axis=1) & (points <= 1) & (count > 0) & ((points == 0) | (after > 0)) & (used < 17)
    return plain, after, count - after


def _values(cells: Cells, plain: NDArray[np.bool_], decimals: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return the values of plain numbers: their digits as a whole number over a power of ten.

    Up to fifteen digits both are exact, so the quotient is the number nearest to what is written; longer ones are left
    to the library.
    """
    signs = matrix(cells)[0][plain]
    digit = (signs >= ZERO) & (signs <= NINE)
    whole = np.zeros(len(signs), dtype=np.int64)
    for place in range(signs.shape[1]):
        whole = np.where(digit[:, place], whole * 10 + (signs[:, place].astype(np.int64) - ZERO), whole)
    values = np.where(signs[:, 0] == MINUS, -whole, whole) / 10.0 ** decimals[plain]
    long = digit.sum(axis=1) > 15
    values[long] = cells.raw[plain][long].astype(np.float64)
    return np.asarray(values + 0.0)


def _leading_zero(cells: Cells) -> NDArray[np.bool_]:
    return np.asarray(matrix(cells)[0][:, 0] == ZERO)


def read_numbers(cells: Cells, column: Column, style: Style) -> Parsed:
    """Read a column of numbers.

    Returns
    -------
    Parsed
        Values float64, NaN where blank or rejected. Units in the cell, thousands signs, currency signs and a decimal
        comma are repaired; what lies outside the column's bounds, another currency and text are rejected.
    """
    parsed = Parsed.empty(len(cells.raw), np.float64, np.nan)
    plain, decimals, before = _plain(cells)
    if style.decimal == ",":
        plain = plain & (decimals == 0)
    parsed.values[plain] = _values(cells, plain, decimals)
    parsed.state[cells.raw == b""] = BLANK
    rest = np.flatnonzero(~plain & (cells.raw != b""))
    for i, text in zip(rest.tolist(), cells.texts(rest), strict=True):
        parsed.put(i, text, lambda clean: _careful(clean, column, style), style.blanks)
    _bounded(parsed, column)
    return parsed


def _bounded(parsed: Parsed, column: Column) -> None:
    values = parsed.values
    fine = (parsed.state != BLANK) & (parsed.state != REJECTED)
    with np.errstate(invalid="ignore"):
        low = (values <= 0) if column.above_zero else (values < column.low)
        parsed.refuse(fine & low, Reason("too_small", f"{column.name} must be {_bounds(column)}", "correct the cell"))
        parsed.refuse(
            fine & (values > min(column.high, 1e12)), Reason("too_large", f"{column.name} must be {_bounds(column)}", "correct the cell")
        )
        if column.kind == "count":
            parsed.refuse(fine & (values % 1 != 0), Reason("not_whole", f"{column.name} must be a whole number", "correct the cell"))


def _bounds(column: Column) -> str:
    low = "above 0" if column.above_zero else "" if column.low == -np.inf else f"{shown(float(column.low))} or more"
    high = f"at most {shown(float(column.high))}" if np.isfinite(column.high) else "at most 1,000,000,000,000" if not low else ""
    return " and ".join(part for part in (low, high) if part)


def _careful(text: str, column: Column, style: Style) -> tuple[float, Reason | None]:
    text = plain_width(text)
    clock = _CLOCK.fullmatch(text.casefold()) if column.unit == "h" else None
    if clock and int(clock[2]) < 60:
        return int(clock[1]) + int(clock[2]) / 60, Reason("clock", "hours and minutes were read as hours")
    brackets = text.startswith("(") and text.endswith(")")
    match = _NUMBER.fullmatch(text[1:-1].strip() if brackets else text)
    if not match:
        raise _not_a_number(text, column)
    sign, before, inner_sign, digits, after = match.groups()
    figure, repair = _figure(digits, style.decimal, text, column)
    factor, unit_repair = _unit(before, after.rstrip("-−").strip(), text, column, style)
    negative = brackets or sign in ("-", "−") or bool(inner_sign) or after.endswith(("-", "−"))
    return (-figure if negative else figure) * factor, unit_repair or repair or _rewritten(text)


def _rewritten(text: str) -> Reason | None:
    return None if re.fullmatch(r"-?\d+([.,]\d+)?", text) else Reason("number_written", "the number was written plainly")


def _not_a_number(text: str, column: Column) -> Unreadable:
    if text.startswith("#"):
        return Unreadable("spreadsheet_error", "the cell shows a spreadsheet's error", "mend the formula and save again")
    return Unreadable("not_a_number", f"{column.name} is not a number", f"write {_what(column)}")


def _what(column: Column) -> str:
    unit = {"h": "hours", "money": "money", "count": "pieces"}.get(column.unit, column.unit)
    return f"a plain number ({unit}), such as {'12' if column.kind == 'count' else '12.50'}"


def _figure(digits: str, decimal: str, text: str, column: Column) -> tuple[float, Reason | None]:
    """Read digits with their points, commas and thousands signs."""
    compact = re.sub(r"[\s'’]", "", digits)
    grouped = compact != digits
    signs = [sign for sign in compact if sign in ".,"]
    repair = Reason("thousands", "thousands signs were taken out") if grouped else None
    if grouped and not re.fullmatch(r"\d{1,3}([\s'’]?\d{3})*([.,]\d+)?", digits):
        raise _not_a_number(text, column)
    if not signs:
        return float(compact), repair
    last = signs[-1]
    either = len(signs) == 1 and re.fullmatch(r"[1-9]\d{0,2}[.,]\d{3}", compact)
    if (either and last != decimal) or (len(signs) > 1 and len(set(signs)) == 1):
        return _without(compact, last, text, column), Reason("thousands", "thousands signs were taken out")
    other = "," if last == "." else "."
    whole, _, part = compact.rpartition(last)
    if last in whole:
        raise _not_a_number(text, column)
    value = float(f"{int(_without(whole, other, text, column)) if whole else 0}.{part or '0'}")
    if other in whole:
        repair = Reason("thousands", "thousands signs were taken out")
    return value, repair or (Reason("decimal_comma", "a decimal comma was read as a decimal point") if last == "," else None)


def _without(text: str, sign: str, cell: str, column: Column) -> float:
    if sign in text and not re.fullmatch(rf"\d{{1,3}}({re.escape(sign)}\d{{3}})+", text):
        raise _not_a_number(cell, column)
    return float(text.replace(sign, ""))


def _unit(before: str, after: str, text: str, column: Column, style: Style) -> tuple[float, Reason | None]:
    """Return the factor by which a number with signs before or after it is multiplied, and what was repaired."""
    word = (before.strip() + " " + after.strip()).strip()
    if not word:
        return 1.0, None
    known = UNITS.get(column.unit, {})
    if word.casefold().rstrip(".") in known:
        return known[word.casefold().rstrip(".")], Reason("unit_in_cell", "the unit was taken out of the cell")
    if column.unit.startswith("money"):
        return _money(word, style.currency)
    raise Unreadable("words_in_number", f"{column.name} holds more than a number", f"write {_what(column)}")


def _money(word: str, currency: str) -> tuple[float, Reason | None]:
    found = _CURRENCY_SIGNS.get(word.casefold(), word.upper())
    if found == currency or (word.endswith("$") and "D" in currency and word.rstrip("$").upper() in ("", currency[:2], currency[:1])):
        return 1.0, Reason("unit_in_cell", "the currency was taken out of the cell")
    if word in (".-", ".–", ",-"):
        return 1.0, Reason("number_written", "the number was written plainly")
    raise Unreadable("other_currency", f"this is not plainly {currency}", f"write the amount in {currency}, the number alone")
