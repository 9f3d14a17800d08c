"""A large shop as CSV files, to time the intake: 100,000 orders, a million labour rows, and a little dirt. Invented."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

STAGES = ("melt", "roll", "draw", "coil", "cut", "assemble", "solder", "tighten", "file", "polish", "finish")
ALLOYS = ("14k yellow", "18k yellow", "18k white", "925")
STYLES = ("curb", "anchor", "wheat", "rope", "byzantine")
HOLDERS = 300
SLOTS = 4
FIRST_DAY = np.datetime64("2024-01-01", "D")

SETTINGS = "\n".join(
    ["[shop]", 'name = "A large shop (invented)"', 'currency = "EUR"', ""]
    + [f'[[stages]]\nname = "{stage}"\ncuts = {str(stage == "cut").lower()}' for stage in STAGES]
    + [f'[[workers]]\ncode = "W{number:03d}"\nskills = ["solder"]' for number in range(HOLDERS)]
)


def write_large_shop(folder: Path, orders: int = 100_000, entries: int = 1_000_000, seed: int = 1) -> None:
    """Write the shop into `folder`; one cell in two thousand is dirty."""
    rng = np.random.default_rng(seed)
    (folder / "shop.toml").write_text(SETTINGS, encoding="utf-8")
    made = _orders(rng, orders)
    made.to_csv(folder / "orders.csv", index=False)
    _labour(rng, made, entries).to_csv(folder / "labour.csv", index=False)
    days = FIRST_DAY + np.arange(1100)
    gold = np.round(60 * np.exp(np.cumsum(rng.normal(0, 0.008, len(days)))), 2)
    pd.DataFrame({"date": days, "metal": "gold", "price": gold}).to_csv(folder / "metal_prices.csv", index=False)


def _orders(rng: np.random.Generator, count: int) -> pd.DataFrame:
    ordered = FIRST_DAY + np.sort(rng.integers(0, 900, count))
    delivered = ordered + rng.integers(20, 60, count)
    quoted = np.round(rng.gamma(9, 11, count) + 3, 1)
    frame = pd.DataFrame(
        {
            "order_id": [f"A{number:06d}" for number in range(1, count + 1)],
            "ordered_on": ordered.astype(str),
            "style": np.array(STYLES)[rng.integers(0, len(STYLES), count)],
            "alloy": np.array(ALLOYS)[rng.integers(0, len(ALLOYS), count)],
            "price": np.round(quoted * 82 + 400, 2),
            "length_cm": rng.integers(38, 62, count),
            "quoted_weight_g": quoted,
            "finished_weight_g": np.round(quoted * rng.uniform(0.96, 1.02, count), 2),
            "deposit": rng.integers(0, 12, count) * 100,
            "promised_on": (delivered + rng.integers(-5, 15, count)).astype(str),
            "rush": np.where(rng.random(count) < 0.03, "y", "n"),
            "delivered_on": delivered.astype(str),
        }
    )
    return _dirtied(rng, frame, {"alloy": "18K  Yellow", "price": "4.250,00", "quoted_weight_g": "81.3 g", "ordered_on": "1900-01-00"})


def _labour(rng: np.random.Generator, orders: pd.DataFrame, count: int) -> pd.DataFrame:
    slot = np.arange(count)
    day = slot // (SLOTS * HOLDERS) % 900
    start = (FIRST_DAY + day).astype("datetime64[m]") + 480 + slot // HOLDERS % SLOTS * 120 + rng.integers(0, 15, count)
    hours = rng.integers(1, 7, count) / 4
    finish = start + (hours * 60).astype(np.int64)
    order = np.clip((day / 900 * len(orders)).astype(np.int64) + rng.integers(0, len(orders) // 60 + 1, count), 0, len(orders) - 1)
    weighed = rng.random(count) < 0.4
    weight = np.round(rng.gamma(9, 11, count) + 3, 2)
    soldered = rng.random(count) < 0.1
    frame = pd.DataFrame(
        {
            "order_id": orders["order_id"].to_numpy()[order],
            "stage": np.array(STAGES)[rng.integers(0, len(STAGES), count)],
            "worker": np.array([f"W{number:03d}" for number in range(HOLDERS)])[slot % HOLDERS],
            "date": (FIRST_DAY + day).astype(str),
            "hours": hours,
            "start": np.char.replace(start.astype(str), "T", " "),
            "finish": np.char.replace(finish.astype(str), "T", " "),
            "rework": np.where(rng.random(count) < 0.05, "y", "n"),
            "links_redone": pd.array(np.where(rng.random(count) < 0.05, rng.integers(1, 9, count), 0)).astype("Int64"),
            "rework_cause": np.where(rng.random(count) < 0.05, "broken link", ""),
            "weight_in_g": np.where(weighed, weight, np.nan),
            "weight_out_g": np.where(weighed, np.round(weight * 0.997, 2), np.nan),
            "scrap_back_g": np.where(weighed & (rng.random(count) < 0.1), np.round(weight * 0.002, 2), np.nan),
            "solder": np.where(soldered, "18k white hard", ""),
            "solder_g": np.where(soldered, np.round(weight * 0.003, 2), np.nan),
        }
    )
    return _dirtied(
        rng, frame, {"hours": "1,25", "weight_in_g": "48.2 g", "worker": "w001 ", "date": "03.02.2025", "start": "8:15", "stage": "Solder"}
    )


def _dirtied(rng: np.random.Generator, frame: pd.DataFrame, dirt: dict[str, str]) -> pd.DataFrame:
    for column, cell in dirt.items():
        at = rng.choice(len(frame), len(frame) // 2000, replace=False)
        cells = frame[column].astype(object).to_numpy(copy=True)
        cells[at] = cell
        frame[column] = cells
    return frame
