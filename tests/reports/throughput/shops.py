"""Small shops in one form: orders, job cards, and what else a test writes."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

from shoplib.intake import load
from shoplib.intake.shop import Shop

TOML = '[shop]\nname = "Tiny (invented)"\ncurrency = "EUR"\n'
ORDERS = "order_id,ordered_on,style,alloy,price,quoted_weight_g,finished_weight_g,delivered_on\n"
LABOUR = "order_id,stage,worker,date,hours\n"
PRICES = "date,metal,price,per\n2026-01-01,gold,80,g\n"
FIRST = date(2026, 1, 5)


def shop_of(folder: Path, orders: str, labour: str = "", toml: str = TOML) -> Shop:
    """Write a shop's tables and return it as read."""
    texts = {"orders.csv": ORDERS + orders, "metal_prices.csv": PRICES, "shop.toml": toml}
    texts |= {"labour.csv": LABOUR + labour} if labour else {}
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")
    return load(folder)


def workday(day: date) -> date:
    """Return `day`, or the Monday after it."""
    return day + timedelta(days=max(0, 7 - day.weekday()) if day.weekday() > 4 else 0)


def rows(count: int, hours: str = "3", every: int = 2) -> tuple[str, str]:
    """Return order rows and job cards of `count` orders through solder and polish: dates only, delivered nine days after."""
    orders, labour = "", ""
    for number in range(count):
        day = FIRST + timedelta(days=every * number)
        orders += f"A{number},{day},rope,18k yellow,1500,20,20.4,{workday(day + timedelta(days=9))}\n"
        for place, stage in enumerate(("solder", "polish")):
            labour += f"A{number},{stage},W{place},{workday(day + timedelta(days=2 + 3 * place))},{hours}\n"
    return orders, labour
