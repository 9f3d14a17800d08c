"""Filings and sweeps: an account of what was lost on the benches and should come back, and the refiner's lots.

Recorded loss × ρ, the share recovery brings back, goes in, before the refiner's share. A lot takes with it all that was
expected since the lot before; when it is settled it goes out as it was expected, whatever came back.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..costing.totals import total_by
from ..settings import Settings
from .balance import MetalBalance, until
from .cards import Bench, Days, Floats
from .ledger import fine_share

FEWEST_LOTS = 2
"""Settled lots from which the refiner's usual time is told."""


@dataclass(frozen=True)
class Account:
    """One stretch of the filings account, g fine.

    Attributes
    ----------
    opening, added, settled_as_expected, closing : float
        closing = opening + added − settled_as_expected.
    came_back : float
        What the refiner returned of the settled lots.
    kept_or_short : float
        Kept by the refiner or short: settled_as_expected − came_back.
    beyond_recovery : float
        Recorded loss that recovery does not bring back.
    """

    opening: float
    added: float
    settled_as_expected: float
    came_back: float
    kept_or_short: float
    closing: float
    beyond_recovery: float


def account(opening_g: float, recorded_g: float, recovered_share: float, settled_as_expected_g: float, came_back_g: float) -> Account:
    """Return one stretch of the filings account.

    Parameters
    ----------
    opening_g : float
        Held and at the refiner, as expected, g fine.
    recorded_g : float
        Recorded loss of the stretch, g fine.
    recovered_share : float
        ρ, 0 to 1.
    settled_as_expected_g, came_back_g : float
        Lots settled in the stretch: as they were expected, and as they came back, g fine.
    """
    added = recorded_g * recovered_share
    closing = opening_g + added - settled_as_expected_g
    return Account(opening_g, added, settled_as_expected_g, came_back_g, settled_as_expected_g - came_back_g, closing, recorded_g - added)


def recovered_shares(settings: Settings) -> Floats:
    """Return ρ of each stage, the last one for losses no single stage can answer for: recovery_percent, else policy's."""
    policy = settings.policy.filings_recovery_percent
    own = [policy if stage.recovery_percent is None else stage.recovery_percent for stage in settings.stages]
    return np.array([*own, policy]) / 100.0


def lots(balance: MetalBalance, bench: Bench, ledger: pd.DataFrame, settings: Settings, as_of: date) -> pd.DataFrame:
    """Return one row a lot sent to the refiner, filings and scrap.

    Returns
    -------
    DataFrame
        metal, lot, sent (``filings`` or ``scrap``; ``not told`` when only its return is in the ledger), sent_on, expected_g
        (before the refiner's share; NaN for the first lot of filings, which holds an unknown time before the records, and
        where not told), settled_on (last return), settled_g, due_on, overdue_days (0 while in time or settled; NaN when no
        day is due), recorded_g (loss it came from; NaN for scrap), as_expected_g (expected_g; the first lot at what is
        recorded before it, or what came back if that is more).
    """
    table = _parcels(ledger, fine_share(ledger, balance.metal, settings))
    table = _named(table.sort_values(["date", "row"], kind="stable"))
    sent, back = table[table["kind"] != "refined_back"], table[table["kind"] == "refined_back"]
    first = sent.groupby("lot", sort=False).agg(
        kind=("kind", "first"), sent_on=("date", "min"), due_on=("due_on", "max"), fine_g=("fine_g", "sum")
    )  # fmt: skip
    settled = back.groupby("lot", sort=False).agg(settled_on=("date", "max"), settled_g=("fine_g", "sum"))
    found = first.join(settled, how="outer").reset_index()
    found = found.sort_values(["sent_on", "lot"], kind="stable", na_position="first", ignore_index=True)
    found["sent"] = found["kind"].map({"filings_sent": "filings", "refining_sent": "scrap"}).fillna("not told")
    found = found.assign(metal=balance.metal, **_expected(found, balance, bench, settings))
    found["due_on"], found["overdue_days"] = _overdue(found, np.datetime64(as_of, "D"))
    return found[list(_LOT)].sort_values(["metal", "lot"], kind="stable", ignore_index=True)


_LOT = (
    "metal", "lot", "sent", "sent_on", "expected_g", "settled_on", "settled_g", "due_on", "overdue_days", "recorded_g", "as_expected_g",
)  # fmt: skip


def _parcels(ledger: pd.DataFrame, share: Floats) -> pd.DataFrame:
    """Return what was sent and came back of a metal, with fine_g.

    A parcel of filings written under one metal may hold others: where they come back under its number, every parcel does.
    """
    own, filings = share > 0, (ledger["kind"] == "filings_sent").to_numpy()
    returned = ledger.loc[own & (ledger["kind"] == "refined_back").to_numpy(), "lot"].dropna()
    mixed = ledger["lot"][filings & ~own].isin(returned).any()
    kept = ledger["kind"].isin(["filings_sent", "refining_sent", "refined_back"]).to_numpy() & (own | (filings & mixed))
    grams = np.nan_to_num(ledger["gross_g"].to_numpy()) * np.where(own, share, 1.0)
    parcels: pd.DataFrame = ledger.assign(fine_g=grams)[kept & (grams > 0)]
    return parcels


def _named(table: pd.DataFrame) -> pd.DataFrame:
    """Name lots without a number after their day; a return without one settles the oldest lot that is still out."""
    lot = table["lot"].astype(object).to_numpy().copy()
    days = table["date"].dt.strftime("%Y-%m-%d").to_numpy()
    out: list[object] = []
    for k, kind in enumerate(table["kind"].to_numpy()):
        blank = not isinstance(lot[k], str)
        if kind == "refined_back":
            lot[k] = (out[0] if out else f"returned {days[k]}") if blank else lot[k]
            out = [name for name in out if name != lot[k]]
        else:
            lot[k] = f"sent {days[k]}" if blank else lot[k]
            out.append(lot[k])
    return table.assign(lot=lot)


def _expected(found: pd.DataFrame, balance: MetalBalance, bench: Bench, settings: Settings) -> dict[str, Floats]:
    """Return expected_g, recorded_g and as_expected_g of each lot; lots sent on one day share by weight."""
    days = bench.events["day"].to_numpy("datetime64[D]")
    rho = recovered_shares(settings)[bench.events["stage"].to_numpy()]
    filings = np.flatnonzero((found["sent"] == "filings").to_numpy())
    sent_on, weight = found["sent_on"].to_numpy("datetime64[D]")[filings], found["fine_g"].to_numpy()[filings]
    ends, place = np.unique(sent_on, return_inverse=True)
    part = weight / total_by(place, weight, len(ends))[place]
    gone = balance.fine.lost_g
    added, lost = (np.diff(until(days, values, ends), prepend=0.0)[place] * part for values in (gone * rho, gone))
    settled = found["settled_g"].fillna(0.0).to_numpy()
    told = np.where(found["sent"] == "scrap", found["fine_g"], np.nan).astype(float)
    expected, recorded, taken = told.copy(), np.full(len(found), np.nan), np.where(np.isnan(told), settled, told)
    expected[filings], recorded[filings] = np.where(place > 0, added, np.nan), np.where(place > 0, lost, np.nan)
    taken[filings] = np.where(place > 0, added, np.maximum(added, settled[filings]))
    return {"expected_g": expected, "recorded_g": recorded, "as_expected_g": taken}


def _overdue(found: pd.DataFrame, as_of: np.datetime64) -> tuple[NDArray[np.datetime64], Floats]:
    """Return when each lot is due and the days it is late; without a day written the longest time a lot has taken so far."""
    sent, due, settled = (found[name].to_numpy("datetime64[D]") for name in ("sent_on", "due_on", "settled_on"))
    took = (settled - sent)[~np.isnat(settled) & ~np.isnat(sent)]
    if len(took) >= FEWEST_LOTS:
        due = np.where(np.isnat(due), sent + took.max(), due)
    late = np.where(np.isnat(due), np.nan, np.maximum(0, (as_of - due).astype(np.int64)))
    return due.astype("datetime64[s]"), np.where(np.isnat(settled), late, 0.0)


def accounts(balance: MetalBalance, bench: Bench, lots: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """Return the filings account over the stretches of the balance: metal, from, to, span and the columns of `Account`."""
    days, added = _added(balance, bench, settings)
    filings = lots[lots["sent"] == "filings"]
    settled_on = filings["settled_on"].to_numpy("datetime64[D]")
    columns = (
        (days, balance.fine.lost_g), (days, added), (settled_on, filings["as_expected_g"].to_numpy()),
        (settled_on, filings["settled_g"].fillna(0.0).to_numpy()),
    )  # fmt: skip
    ends = balance.rows[["from", "to"]].to_numpy("datetime64[D]")
    early, late = (np.column_stack([until(when, values, ends[:, side]) for when, values in columns]) for side in (0, 1))
    held = _before_records(filings, days, added) + early[:, 1] - early[:, 2]
    rows = [_account_row(opening, *change) for opening, change in zip(held, late - early, strict=True)]
    return balance.rows[["metal", "from", "to", "span"]].assign(**pd.DataFrame([vars(row) for row in rows], index=balance.rows.index))


def _added(balance: MetalBalance, bench: Bench, settings: Settings) -> tuple[Days, Floats]:
    rho = recovered_shares(settings)[bench.events["stage"].to_numpy()]
    return bench.events["day"].to_numpy("datetime64[D]"), balance.fine.lost_g * rho


def _before_records(filings: pd.DataFrame, days: Days, added: Floats) -> float:
    """Return what the first lots held from before the records, g fine: what came back above all that was recorded till then."""
    if not len(filings):
        return 0.0
    first = filings["sent_on"].min()
    taken = float(filings.loc[filings["sent_on"] == first, "as_expected_g"].sum())
    return max(0.0, taken - float(until(days, added, np.array([first], dtype="datetime64[D]"))[0]))


def _account_row(opening: float, lost: float, added: float, as_expected: float, back: float) -> Account:
    return account(opening, lost, added / lost if lost else 0.0, as_expected, back)


def held_g(balance: MetalBalance, bench: Bench, lots: pd.DataFrame, settings: Settings, ends: Days) -> tuple[Floats, Floats]:
    """Return filings and sweeps in the house, and all that is at the refiner, as expected, g fine, in the evening of each of `ends`."""
    days, added = _added(balance, bench, settings)
    sent = np.sort(lots.loc[lots["sent"] == "filings", "sent_on"].to_numpy("datetime64[D]"))
    last_sent = np.append(np.datetime64("1000-01-01", "D"), sent)[np.searchsorted(sent, ends, side="right")]
    house = until(days, added, ends) - until(days, added, last_sent)
    away = lots[lots["sent"] != "not told"]
    left, back = (away[name].to_numpy("datetime64[D]") for name in ("sent_on", "settled_on"))
    grams = away["as_expected_g"].to_numpy()
    return house, until(left, grams, ends) - until(back, grams, ends)


def recovery_by_lot(lots: pd.DataFrame) -> tuple[float, float, float, int]:
    """Return the share of recorded loss that settled lots brought back, its 80 % range and the number of lots; NaN without."""
    from .losses import loss_rate

    known = lots[(lots["sent"] == "filings") & lots["settled_on"].notna() & (lots["recorded_g"] > 0)]
    if not len(known):
        return math.nan, math.nan, math.nan, 0
    share, low, high = loss_rate(known["settled_g"].to_numpy(), known["recorded_g"].to_numpy())
    return share, low, high, len(known)
