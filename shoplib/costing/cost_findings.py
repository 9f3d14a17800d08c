"""What the reader of a costing must know: what was assumed, what is doubted and what cannot be told."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..intake.shop import Finding
from ..settings import Pay, Settings
from .labour import wage_known
from .pool_entries import pool_findings

LOSS_WORDS = {
    "weighings": "by weighings on the card",
    "metal_book": "by the metal book",
    "ledger": "by the ledger between two counts",
    "policy": "by the percentage in shop.toml, an assumption",
}
RECOVERY_WORDS = {
    "lots": "measured from settled lots",
    "stages": "the stages' percentage × what the refiner leaves, an assumption",
    "policy": "the percentage in shop.toml × what the refiner leaves, an assumption",
}


def findings_of(
    settings: Settings,
    frame: pd.DataFrame,
    weighed: pd.DataFrame,
    orders: pd.DataFrame,
    pool: pd.DataFrame,
    moves: pd.DataFrame,
    unborne: NDArray[np.float64],
    rework_basis: str,
) -> tuple[Finding, ...]:
    """Return the findings of a costing.

    Parameters
    ----------
    settings : Settings
        shop.toml.
    frame, weighed : DataFrame
        Costed entries and weighed visits.
    orders : DataFrame
        All orders known, with their figures.
    pool, moves : DataFrame
        Movements of the pool, and the ledger.
    unborne : ndarray(float)
        Shared work no order bears, by month.
    rework_basis : str
        From `labour.mark_rework`.
    """
    found = [
        *_pay(settings),
        *_hours(orders, frame, unborne, rework_basis),
        *_losses(orders, weighed),
        *_prices(orders),
        *pool_findings(pool, moves),
    ]
    return tuple(found)


def _pay(settings: Settings) -> Iterator[Finding]:
    missing = [worker.code for worker in settings.workers if not wage_known(worker)]
    if settings.workers and len(missing) == len(settings.workers):
        text = "No wage is written; labour costs nothing in these figures. Set wage_per_hour for each of [[workers]]."
        yield Finding("warn", "no_wages", text, "shop.toml, workers")
    elif missing:
        text = f"{len(missing)} of {len(settings.workers)} workers have no wage; the mean of the others stands in. Set their wage_per_hour."
        yield Finding("warn", "wage_missing", text, "shop.toml, workers")
    since = [worker.code for worker in settings.workers if worker.pay and worker.wage_per_hour not in (None, _last_wage(worker.pay))]
    if since:
        text = (
            f"For {len(since)} workers the day from which wage_per_hour is paid is not told; the last wage under pay is used to the end. "
            "Add the present wage to pay with its first day."
        )
        yield Finding("warn", "wage_since_unknown", text, "shop.toml, workers.pay")


def _last_wage(pay: tuple[Pay, ...]) -> float:
    return max(pay, key=lambda step: step.from_).wage_per_hour


def _hours(orders: pd.DataFrame, frame: pd.DataFrame, unborne: NDArray[np.float64], rework_basis: str) -> Iterator[Finding]:
    standard = int((orders["hours_basis"] == "standard").sum())
    if standard:
        text = (
            f"{standard:,} delivered orders have no hours on their card; their stages' standard hours are used, standard, not measured. "
            "Book hours by order to see what they really took."
        )
        yield Finding("warn", "standard_hours", text, "labour")
    bare = int((orders["delivered_on"].notna() & (orders["hours_basis"] == "none")).sum())
    if bare:
        text = f"{bare:,} delivered orders have neither hours on a card nor standard hours; their labour counts as nothing."
        yield Finding("warn", "no_hours", text, "labour")
    if rework_basis == "inferred":
        text = "Rework is nowhere marked; work back at a stage beyond its expected_visits counts as rework. Mark it (rework = y)."
        yield Finding("note", "rework_inferred", text, "labour")
    if unborne.sum() > 0:
        text = f"Work shared by all for {unborne.sum():,.2f} fell into months without work on any order; it stands in unbooked pay."
        yield Finding("note", "shared_unborne", text, "labour")
    unknown = int(((frame["worker"] < 0) & (frame["row"] > 0)).sum())
    if unknown:
        text = f"{unknown:,} entries are by a worker not in shop.toml; they cost the mean wage. Add the worker to [[workers]]."
        yield Finding("warn", "worker_unknown", text, "labour")


def _losses(orders: pd.DataFrame, weighed: pd.DataFrame) -> Iterator[Finding]:
    delivered = orders[orders["delivered_on"].notna()]
    for column, words, code, what in (
        ("loss_basis", LOSS_WORDS, "loss_basis", "Loss of delivered orders"),
        ("recovery_basis", RECOVERY_WORDS, "recovery_basis", "What comes back of it"),
    ):
        counts = delivered.loc[delivered["loss_basis"] != "none", column].value_counts()
        told = "; ".join(f"{counts[name]:,} {words[name]}" for name in words if name in counts)
        if told:
            yield Finding("note", code, f"{what}: {told}.")
    wrong = int(orders["contradicted"].sum())
    if wrong:
        text = (
            f"The weighings of {wrong:,} orders show a gain or an impossible loss; they are left aside. "
            "Look for a weight given out twice, or a slip of the pen."
        )
        yield Finding("warn", "weighings_contradict", text, "labour")
    far = weighed[weighed["unusual"]]
    if len(far):
        rows = ", ".join(str(row) for row in far["row"].head(5))
        text = (
            f"{len(far):,} drops at a cutting stage are unusually large and no scrap is noted; they are taken as scrap, not as loss. "
            "Note clean scrap on the card."
        )
        yield Finding("warn", "unusual_drop", text, f"labour, rows {rows}" + (" …" if len(far) > 5 else ""))


def _prices(orders: pd.DataFrame) -> Iterator[Finding]:
    worked = orders["own"] | orders["customers"]
    for metal, rows in orders[worked & orders["fix_price_per_g"].isna()].groupby("metal"):
        text = f"There is no price for {metal}; {len(rows):,} orders in it cannot be costed and are in no sum. Add {metal} to metal_prices."
        yield Finding("stop", "metal_unpriced", text, "metal_prices")
    free = orders[(orders["kind"] == "stock") & orders["delivered_on"].notna() & (orders["price"] == 0)]
    if len(free):
        text = f"{len(free):,} pieces made for stock have no price and show as a loss. Write the price once they are sold."
        yield Finding("note", "stock_unpriced", text, "orders")
