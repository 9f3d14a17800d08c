"""The metal balance's accuracy paragraph: no false alarm, a leak found and dated, what is unexplained near the truth.

Each shop works two kilograms of gold a week for eighteen months on job cards that are weighed throughout, counts its safe
once a month and sends filings away every six weeks. It is kept twice: once whole, once with 30 g fine gone on one day.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
import pandas as pd

from shoplib.costing import cost
from shoplib.intake import until
from shoplib.intake.shop import Shop
from shoplib.metal.balance import BETWEEN
from shoplib.metal.whole import OneMetal, whole
from shoplib.reports.metal_balance import Parameters, answer
from tests.flow.shops import entry, order, shop_of

from .case import Case, Measured, Verdict

TITLE = "The metal balance"
FIRST, MONTHS = date(2024, 7, 1), 18
LAST = date(2025, 12, 31)
ORDERS_A_WEEK, USUAL_G, PHI = 20, 100.0, 0.75
SCALE_G, FINISHED_STEP_G, COUNT_SD_G = 0.01, 0.1, 0.5
RECOVERY, RECOVERY_SD, LOT_DAYS, SETTLED_DAYS = 0.92, 0.015, 42, 28
LOSS = {"melt": 0.004, "cut": 0.006, "solder": 0.002, "polish": 0.014}
LEAK_G = 30.0
TOML = """
[shop]
name = "Shop with a known balance (invented)"
currency = "EUR"
[[alloys]]
code = "18k"
metal = "gold"
fineness = 750
[[solders]]
code = "hard"
fineness = 750
[[stages]]
name = "melt"
takes_metal = true
[[stages]]
name = "cut"
cuts = true
[[stages]]
name = "solder"
[[stages]]
name = "polish"
[[workers]]
code = "A"
skills = ["melt", "cut"]
wage_per_hour = 25
[[workers]]
code = "B"
skills = ["solder", "polish"]
wage_per_hour = 25
[policy]
filings_recovery_percent = 92
refining_charge_percent = 0
"""


@dataclass
class Books:
    """What the owner writes down, and what truly happened to the safe day by day (g fine)."""

    orders: list[Any]
    labour: list[Any]
    ledger: list[Any]
    safe: dict[date, float]
    lost: dict[date, float]


def kept(number: int, seed: int, leak: bool) -> tuple[Shop, date | None]:
    """Return a shop as its owner keeps it and the day on which `LEAK_G` went, if they did."""
    luck = np.random.default_rng([20, seed, number])
    books = Books([], [], [], {}, {})
    for week in range(MONTHS * 4 + 6):
        for place in range(int(luck.poisson(ORDERS_A_WEEK))):
            _order(luck, books, FIRST + timedelta(days=7 * week + int(luck.integers(0, 5))), f"K{week:02d}{place:02d}")
    gone = FIRST + timedelta(days=int(luck.integers(45, 500)))
    if leak:
        books.safe[gone] = books.safe.get(gone, 0.0) - LEAK_G
    _ledger(luck, books)
    prices = [{"date": FIRST, "metal": "gold", "price": 90.0, "per": "g", "currency": "EUR"}]
    tables = {"orders": books.orders, "labour": books.labour, "metal_ledger": books.ledger, "metal_prices": prices}
    return until(shop_of(TOML, **tables), LAST), gone if leak else None


def _seen(luck: np.random.Generator, grams: float, step: float = SCALE_G) -> float:
    return round(round((grams + luck.normal(0.0, 0.2 * SCALE_G)) / step) * step, 3)


def _order(luck: np.random.Generator, books: Books, day: date, name: str) -> None:
    """Play one order: given out, lost, cut back and soldered on its days; the card says what the scale says."""
    if day > LAST:
        return
    quoted = float(np.exp(luck.normal(np.log(USUAL_G), 0.35)))
    weight = quoted * luck.uniform(1.05, 1.09)
    _move(books.safe, day, -weight * PHI)
    for stage, loss in LOSS.items():
        day += timedelta(days=int(luck.integers(0, 5)) if stage != "melt" else 0)
        before = weight
        lost = weight * loss * float(np.exp(luck.normal(0.0, 0.25)))
        scrap = weight * luck.uniform(0.02, 0.05) if stage == "cut" else 0.0
        solder = weight * 0.01 if stage == "solder" else 0.0
        weight += solder - lost - scrap
        _move(books.safe, day, (scrap - solder) * PHI)
        _move(books.lost, day, lost * PHI)
        card = {"weight_in_g": _seen(luck, before), "weight_out_g": _seen(luck, weight)}
        card |= {"scrap_back_g": _seen(luck, scrap)} if scrap else {}
        card |= {"solder": "hard", "solder_g": _seen(luck, solder)} if solder else {}
        books.labour.append(entry(name, stage, "A" if stage in ("melt", "cut") else "B", day.isoformat(), 2.0, **card))
    day += timedelta(days=int(luck.integers(0, 4)))
    done = {"delivered_on": day.isoformat(), "finished_weight_g": _seen(luck, weight, FINISHED_STEP_G)}
    books.orders.append(order(name, books.labour[-len(LOSS)]["date"], quoted_weight_g=round(quoted, 1), price=quoted * 90.0, **done))


def _move(account: dict[date, float], day: date, grams: float) -> None:
    account[day] = account.get(day, 0.0) + grams


def _ledger(luck: np.random.Generator, books: Books) -> None:
    """Buy every Monday, send filings every six weeks, count at the end of each month with an error of the count."""
    stock, box, lots = 4000.0, 0.0, []
    _write(books, FIRST, "stock_count", stock + luck.normal(0.0, COUNT_SD_G))
    for day in pd.date_range(FIRST, LAST).date:
        if day.weekday() == 0:
            bought = 500.0 * round(max(0.0, 4000.0 - stock) / 500.0)
            stock += bought
            _write(books, day, "bought", bought, cost=bought * 90.0)
        stock += books.safe.get(day, 0.0) if day != FIRST else 0.0
        box += books.lost.get(day, 0.0)
        if (day - FIRST).days % LOT_DAYS == LOT_DAYS - 1:
            lots.append((day, f"F{day:%y%m%d}", box * luck.normal(RECOVERY, RECOVERY_SD)))
            _write(books, day, "filings_sent", box * RECOVERY, lot=lots[-1][1])
            box = 0.0
        for _, lot, back in [one for one in lots if (day - one[0]).days == SETTLED_DAYS]:
            back = round(back, 2)
            stock += back
            _write(books, day, "refined_back", back, lot=lot)
        if (day + timedelta(days=1)).day == 1:
            _write(books, day, "stock_count", stock + luck.normal(0.0, COUNT_SD_G))


def _write(books: Books, day: date, kind: str, fine_g: float, **cells: Any) -> None:
    if fine_g > 0:
        row = {"date": day.isoformat(), "kind": kind, "metal": "gold", "gross_g": round(fine_g, 2), "fineness": 1000.0}
        books.ledger.append(row | cells)


def gold(shop: Shop) -> OneMetal:
    """Return what the program tells of the gold of a shop."""
    return whole(shop, cost(shop, LAST)).metals[0]


def measure(case: Case) -> list[Measured]:
    """Return alarms, dates and grams of one shop, whole and with a leak, with the truth."""
    rows = []
    for leak in (False, True):
        shop, gone = kept(case.number, case.seed, leak)
        told = gold(shop)
        between = told.balance.rows[told.balance.rows["span"] == BETWEEN]
        here = [gone is not None and first.date() < gone <= last.date() for first, last in zip(between["from"], between["to"], strict=True)]
        worst = float(np.max(np.abs(between["unexplained"] - LEAK_G * np.array(here))))
        rows.append(Measured(case.number, "unexplained", "leak" if leak else "whole", 0.0, worst))
        rows.append(Measured(case.number, "alarm", "leak" if leak else "whole", float(leak), float(told.missing.alarm)))
        if gone and told.missing.alarm:
            first, last = (between[end].iloc[told.missing.first].date() for end in ("from", "to"))
            rows.append(Measured(case.number, "quarter", "leak", _quarter(gone), _quarter(last if first < gone <= last else first)))
            rows.append(Measured(case.number, "grams", "leak", LEAK_G, told.missing.grams, told.missing.low, told.missing.high))
            rows.append(Measured(case.number, "said", "leak", "yes", _said(shop)))
    return rows


def _quarter(day: date) -> str:
    return f"{day.year} Q{(day.month + 2) // 3}"


def _said(shop: Shop) -> str:
    """Tell whether the headline says that metal is missing."""
    return "yes" if "more than weighing hides" in answer(shop, Parameters(as_of=LAST)).headline else "no"


def judge(rows: list[Measured]) -> list[Verdict]:
    """Return the sentences of the paragraph; the shares asked are those of 20 shops."""
    false = [row.told for row in rows if row.what == "alarm" and row.part == "whole"]
    found = [row for row in rows if row.what == "quarter" and row.truth == row.told]
    leaks = sum(row.what == "alarm" and row.part == "leak" for row in rows)
    said = sum(row.what == "said" and row.told == "yes" for row in rows)
    worst = [float(row.told) for row in rows if row.what == "unexplained"]
    inside = sum(row.inside for row in rows if row.what == "grams")
    right = min(said, len(found))
    often = 0.95 * leaks - 3 * np.sqrt(0.95 * 0.05 * leaks)
    return [
        Verdict("no leak: an alarm in at most 1 of 20", f"{sum(map(int, false))} of {len(false)}", sum(false) <= len(false) / 20),
        Verdict("30 g gone in one day: said, right quarter, in at least 18 of 20", f"{right} of {leaks}", right >= 0.9 * leaks > 0),
        Verdict("unexplained within 3 g of the truth", f"worst {max(worst):.2f} g in {len(worst)} histories", max(worst) <= 3.0),
        Verdict("the 95 % range holds the 30 g as often as it says", f"{inside} of {leaks}", inside >= often and inside > 0),
    ]
