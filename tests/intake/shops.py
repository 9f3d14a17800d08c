"""Small shops written into a folder, for tests."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from shoplib.intake import Shop, load

SETTINGS = '[shop]\nname = "Test workshop (invented)"\ncurrency = "EUR"\n'
ORDER_HEADINGS = "order_id,ordered_on,style,alloy,price,quoted_weight_g,finished_weight_g,delivered_on"
ORDERS = f"{ORDER_HEADINGS}\nA1,2026-01-05,curb,18k yellow,4250.00,47,48.0,2026-02-03\nA2,2026-01-06,rope,18k white,3000.00,30,,\n"
PRICES = "date,metal,price\n2026-01-02,gold,92\n2026-01-05,gold,93\n"
LABOUR_HEADINGS = "order_id,stage,worker,date,hours"


def write(folder: Path, settings: str = "", **tables: str | bytes) -> Path:
    """Write a shop: orders and prices unless given, and shop.toml; a table given as None is left out."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "shop.toml").write_text(SETTINGS + settings, encoding="utf-8")
    for name, text in ({"orders": ORDERS, "metal_prices": PRICES} | tables).items():
        if text is not None:
            (folder / f"{name}.csv").write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return folder


def shop(folder: Path, settings: str = "", **tables: str | bytes) -> Shop:
    """Write a shop and load it."""
    return load(write(folder, settings, **tables))


def orders(*rows: str, headings: str = ORDER_HEADINGS) -> str:
    """Return the table orders with these rows."""
    return "\n".join([headings, *rows]) + "\n"


def labour(*rows: str, headings: str = LABOUR_HEADINGS) -> str:
    """Return the table labour with these rows."""
    return "\n".join([headings, *rows]) + "\n"


def codes(listed: pd.DataFrame, file: str = "") -> dict[int, set[str]]:
    """Return spreadsheet row to the codes listed for it."""
    rows = listed[listed["file"] == file] if file else listed
    found: dict[int, set[str]] = {}
    for row, code in zip(rows["row"].tolist(), rows["code"].tolist(), strict=True):
        found.setdefault(int(row), set()).add(code)
    return found


def said(made: Shop, code: str) -> list[str]:
    """Return the texts of the findings with this code."""
    return [finding.text for finding in made.findings if finding.code == code]


def adds_up(made: Shop) -> bool:
    """Tell whether accepted + rejected = read, and the lists agree, for every table."""
    rejected = made.rejected.drop_duplicates(["file", "row"]).groupby("file").size() if len(made.rejected) else {}
    return all(
        tally.accepted + tally.rejected == tally.read and tally.rejected == int(rejected.get(tally.file, 0)) for tally in made.tallies
    )
