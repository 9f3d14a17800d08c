"""How the time of the costing grows from 1,000 to 100,000 orders: the invented workshop many times over, same months."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
import pandas as pd

from shoplib.costing import cost
from shoplib.intake import Shop, as_of, load

from .measure import HOME, Measure, interleaved, median

SIZES = (1_000, 10_000, 100_000)
ROUNDS = 3


def costing() -> list[Measure]:
    """Time the costing at each size and fit the exponent of its growth round by round."""
    demo = load(HOME / "data_demo")
    day = as_of(demo)
    times = interleaved([partial(cost, many_times(demo, size), day) for size in SIZES] + [partial(cost, demo, day)], ROUNDS)
    slopes = [float(np.polyfit(np.log(SIZES), np.log(taken), 1)[0]) for taken in zip(*times[:-1], strict=True)]
    last = [float(np.log(large / middle) / np.log(SIZES[2] / SIZES[1])) for _, middle, large in zip(*times[:-1], strict=True)]
    return [
        median("costing_exponent", slopes, "", "growth of the costing's time from 1,000 to 100,000 orders, log on log"),
        median("costing_exponent_last_decade", last, "", "the same from 10,000 to 100,000 orders only"),
        median("costing_seconds", times[-1], "s", "the costing of the invented workshop as it is"),
        median("costing_seconds_100000", times[-2], "s", "the costing of 100,000 orders and their job cards"),
    ]


def many_times(shop: Shop, size: int) -> Shop:
    """Return a shop of `size` orders: copies of `shop` under other numbers, hours shrunk so that the same people do the work."""
    copies = -(-size // len(shop["orders"]))
    orders = pd.concat([_renamed(shop["orders"], copy) for copy in range(copies)], ignore_index=True)
    labour = pd.concat([_renamed(shop["labour"], copy) for copy in range(copies)], ignore_index=True)
    kept = np.sort(np.random.default_rng(1).permutation(len(orders))[:size])
    orders = orders.iloc[kept].reset_index(drop=True)
    known = labour["order_id"].isna() | labour["order_id"].str.split("; ").str[0].isin(set(orders["order_id"]))
    labour = labour.assign(hours=labour["hours"] * len(shop["orders"]) / size)[known.to_numpy()].reset_index(drop=True)
    return replace(shop, tables={**shop.tables, "orders": orders, "labour": labour})


def _renamed(table: pd.DataFrame, copy: int) -> pd.DataFrame:
    names = table["order_id"].astype(object)
    told = names.str.replace(r"(^|; )", rf"\g<1>{copy}.", regex=True)
    return table.assign(order_id=told.where(names.notna(), None))


BENCHES = {"costing_exponent": costing, "costing_seconds": costing}
