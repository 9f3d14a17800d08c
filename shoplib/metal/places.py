"""Where the metal lies and what it is worth: safe, benches, filings, refiner; and the most that was in the house."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..costing.totals import total_by
from ..settings import Settings
from .balance import MetalBalance, in_process_g, until
from .cards import Bench, Days, Floats, Ints
from .filings import held_g
from .ledger import INTO, OUT_OF, counts, fine_share, moved

SAFE, FILINGS, REFINER = "safe", "filings and sweeps", "refiner"
SHOP, CUSTOMERS, LENDER = "shop", "customers", "lender"


@dataclass(frozen=True)
class Held:
    """Fine grams of one metal day by day.

    Attributes
    ----------
    metal : str
    days : ndarray(datetime64[D]), shape (n_days,)
        Every day from the first count to the as-of date; none without a count.
    safe_g, bench_g, filings_g, refiner_g : ndarray, shape (n_days,)
        In the evening: by the last count and what moved since, on the benches, filings and at the refiner as expected.
    """

    metal: str
    days: Days
    safe_g: Floats
    bench_g: Floats
    filings_g: Floats
    refiner_g: Floats

    @property
    def house_g(self) -> Floats:
        """All metal in the house, g fine."""
        return np.asarray(np.maximum(self.safe_g, 0.0) + self.bench_g + self.filings_g, dtype=float)


def held(balance: MetalBalance, bench: Bench, lots: pd.DataFrame, ledger: pd.DataFrame, settings: Settings, as_of: date) -> Held:
    """Return where one metal was, day by day."""
    share = fine_share(ledger, balance.metal, settings)
    counted_on, counted, _ = counts(ledger, share)
    last = np.datetime64(as_of, "D")
    days = np.arange(counted_on[0], last + 1) if len(counted_on) else np.array([last])
    net = _net_into_safe(balance, bench, ledger, share, days)
    if len(counted_on):
        place = np.searchsorted(counted_on, days, side="right") - 1
        safe = counted[place] + net - net[(counted_on[place] - days[0]).astype(np.int64)]
    else:
        safe = np.full(len(days), np.nan)
    filings, refiner = held_g(balance, bench, lots, settings, days)
    return Held(balance.metal, days, safe, in_process_g(bench, balance.fine, days), filings, refiner)


def _net_into_safe(balance: MetalBalance, bench: Bench, ledger: pd.DataFrame, share: Floats, days: Days) -> Floats:
    grams = np.nan_to_num(ledger["gross_g"].to_numpy()) * share
    into = [until(*moved(ledger, kind, grams), days) for kind in INTO]
    out = [until(*moved(ledger, kind, grams), days) for kind in OUT_OF]
    issued = until(bench.pieces["issued_on"].to_numpy("datetime64[D]"), balance.fine.issued_g, days)
    back = until(bench.events["day"].to_numpy("datetime64[D]"), balance.fine.scrap_g - balance.fine.solder_g, days)
    net: Floats = sum(into) - sum(out) - issued + back
    return net


def places(
    balance: MetalBalance, held: Held, bench: Bench, stage_now: Ints, ledger: pd.DataFrame, settings: Settings, spot: float
) -> pd.DataFrame:
    """Return where one metal lies at the as-of date, and whose it is.

    Parameters
    ----------
    stage_now : ndarray(int), shape (n_orders,)
        Stage (row of the settings) of each order's last entry, −1 without one.
    spot : float
        Money per g fine, NaN when the metal has no price.

    Returns
    -------
    DataFrame
        place (safe, bench: <stage>, filings and sweeps, refiner), metal, owner (shop, customers, lender), fine_g, money (at
        spot), basis (counted and moved, weighed, expected). The safe is left out without a count.
    """
    safe = _in_safe(balance, held, bench, ledger, settings)
    rows = [(name, owner, grams, "last count and what moved since") for name, owner, grams in safe]
    names = np.array([*(f"bench: {stage.name}" for stage in settings.stages), "bench: stage not noted"], dtype=object)
    customers = bench.pieces["customers"].to_numpy()
    for owner, mine in ((SHOP, ~customers), (CUSTOMERS, customers)):
        for stage in np.unique(stage_now[bench.on_bench & mine]):
            grams = float(balance.fine.end_g[bench.on_bench & mine & (stage_now == stage)].sum())
            rows.append((names[stage], owner, grams, "job cards"))
    rows += [(FILINGS, SHOP, float(held.filings_g[-1]), "expected"), (REFINER, SHOP, float(held.refiner_g[-1]), "expected")]
    table = pd.DataFrame(rows, columns=["place", "owner", "fine_g", "basis"]).assign(metal=balance.metal)
    table = table[table["fine_g"].abs() > 5e-4]
    table["money"] = table["fine_g"] * spot
    return table[["place", "metal", "owner", "fine_g", "money", "basis"]].reset_index(drop=True)


def _in_safe(balance: MetalBalance, held: Held, bench: Bench, ledger: pd.DataFrame, settings: Settings) -> list[tuple[str, str, float]]:
    total = float(held.safe_g[-1])
    if np.isnan(total):
        return []
    grams = np.nan_to_num(ledger["gross_g"].to_numpy()) * fine_share(ledger, balance.metal, settings)
    kind = {name: float(moved(ledger, name, grams)[1].sum()) for name in ("customer_in", "customer_out", "borrowed", "returned", "priced")}
    issued = balance.fine.issued_g - total_by(
        bench.events["order"].to_numpy(), balance.fine.scrap_g - balance.fine.solder_g, len(bench.pieces)
    )
    taken = float(issued[bench.pieces["customers"].to_numpy()].sum())
    customers = min(max(0.0, kind["customer_in"] - kind["customer_out"] - taken), max(total, 0.0))
    lent = min(max(0.0, kind["borrowed"] - kind["returned"] - kind["priced"]), max(total - customers, 0.0))
    return [(SAFE, SHOP, total - customers - lent), (SAFE, CUSTOMERS, customers), (SAFE, LENDER, lent)]


def peak(helds: Sequence[Held], spots: Mapping[str, Floats], insured: float | None) -> pd.DataFrame:
    """Return the most metal that was in the house in each month, all metals together.

    Parameters
    ----------
    helds : sequence of Held
        One a metal.
    spots : mapping of str to ndarray
        Money per g fine of each metal on each of its days.
    insured : float, optional
        Sum insured.

    Returns
    -------
    DataFrame
        month (first day), day (on which the money was highest), fine_g, money, insured (NaN when not told). Metals without a
        price or a count are left out.
    """
    told = [one for one in helds if len(one.days) and not np.isnan(one.house_g).any() and not np.isnan(spots[one.metal]).any()]
    columns = ["month", "day", "fine_g", "money", "insured"]
    if not told:
        return pd.DataFrame(columns=columns)
    first, last = min(one.days[0] for one in told), max(one.days[-1] for one in told)
    days = np.arange(first, last + 1)
    grams, money = np.zeros(len(days)), np.zeros(len(days))
    for one in told:
        start = int((one.days[0] - first).astype(np.int64))
        grams[start:] += one.house_g
        money[start:] += one.house_g * spots[one.metal]
    months = days.astype("datetime64[M]").astype("datetime64[s]")
    table = pd.DataFrame({"month": months, "day": days.astype("datetime64[s]"), "fine_g": grams, "money": money})
    highest = table.loc[table.groupby("month")["money"].idxmax()]
    return highest.assign(insured=np.nan if insured is None else insured)[columns].reset_index(drop=True)


def stage_now(frame: pd.DataFrame, n_orders: int) -> NDArray[np.int64]:
    """Return the stage of each order's last entry with a stage, −1 without one; `frame` from `costing.labour.entries`."""
    known = frame[(frame["order"] >= 0) & (frame["stage"] >= 0)].drop_duplicates("order", keep="last")
    stage = np.full(n_orders, -1, dtype=np.int64)
    stage[known["order"].to_numpy()] = known["stage"].to_numpy()
    return stage
