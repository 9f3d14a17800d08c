"""The tables of the metal balance: columns, units and meanings."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ...costing import Costing
from ...intake.shop import Shop
from ...metal.balance import IN, OUT
from ...metal.customers import customer_metal
from ...metal.losses import alloying_sheet, finished_pieces, stage_loss
from ...metal.missing import Missing
from ...metal.places import peak, places
from ...metal.whole import OneMetal, Whole
from ...settings import Settings
from ..answer import Table, TableColumn, table

FINE, GROSS, MONEY, PER_MILLE, DATE = "g fine", "g gross", "money", "‰", "date"
_BALANCE_MEANINGS = {
    "opening": "counted in the safe at the start", "in_process_opening": "on the benches at the start", "bought": "bought",
    "customer_in": "brought by customers", "borrowed": "borrowed", "refined_back": "back from the refiner", "sold": "sold",
    "delivered": "in pieces delivered", "customer_out": "given back to customers beside the piece", "returned": "borrowed metal given back",
    "refining_sent": "scrap out of the safe to the refiner", "recorded_loss": "lost on the benches by the job cards, gross of recovery",
    "in_process": "on the benches at the end", "closing": "counted in the safe at the end; none without a count",
}  # fmt: skip
METALS = (
    ("metal", "", "metal"),
    ("rank", "", "1 is shown first"),
    ("spot", "money per g fine", "last price; none without one"),
    ("cannot_tell", "", "why nothing can be called missing; empty when the test speaks"),
    ("alarm", "", "the test calls metal missing"),
    ("at_once", "", "it went between two counts"),
    ("missing_g", FINE, "missing, none without an alarm"),
    ("missing_low", FINE, "95 % range"),
    ("missing_high", FINE, "95 % range"),
    ("seen_at_once_g", FINE, "a loss between two counts that the test would have seen 9 times in 10"),
    ("fineness_tolerance", PER_MILLE, "half-width of the fineness of an alloy, from shop.toml"),
)
BALANCE = (
    ("metal", "", "metal"),
    ("from", DATE, "balance from the evening of this day"),
    ("to", DATE, "to the evening of this day"),
    *((name, FINE, _BALANCE_MEANINGS[name]) for name in (*IN, *OUT)),
    ("unexplained", FINE, "all that was there or came in less all that went out or is there; positive: missing; none without two counts"),
    ("unexplained_low", FINE, "95 % range by weighing and fineness"),
    ("unexplained_high", FINE, "95 % range by weighing and fineness"),
    ("span", "", "between counts, over all, or since the last count"),
    ("delivered_customers", FINE, "of delivered: customers' own metal"),
    ("assumed_loss", FINE, "of recorded loss: assumed, not weighed"),
)
TEST = (
    ("metal", "", "metal"),
    ("from", DATE, "balance from"),
    ("to", DATE, "balance to"),
    ("unexplained", FINE, "as in the balance"),
    ("fineness_explains", FINE, "explained by melts a little richer or poorer than stated, the same error in all melts of an alloy"),
    ("left", FINE, "what is left of it"),
    ("sd", FINE, "standard deviation such a balance has without a leak"),
    ("low", FINE, "what weighing can hide, 95 %"),
    ("high", FINE, "what weighing can hide, 95 %"),
    ("cusum", "sd", "running sum above half a standard deviation"),
    ("threshold", "sd", "an alarm above it; 2 in 100 histories without a leak pass it"),
    ("alarm", "", "metal most likely went, or began to go, in this balance"),
)
FILINGS = (
    ("metal", "", "metal"),
    ("lot", "", "refiner's lot"),
    ("sent_on", DATE, "sent"),
    ("expected_g", FINE, "recorded loss × share recovered, before the refiner's share; none for a first lot, which holds an unknown time"),
    ("settled_on", DATE, "last return; none while it is out"),
    ("settled_g", FINE, "came back"),
    ("overdue_days", "days", "calendar days late; 0 when settled or in time; none when no day is due"),
    ("sent", "", "filings and sweeps, or scrap out of the safe"),
    ("due_on", DATE, "due; without a day written, after the longest time a lot has taken"),
    ("recorded_g", FINE, "recorded loss since the lot before"),
    ("recovered", PER_MILLE, "came back ÷ recorded loss"),
)
ACCOUNT = (
    ("metal", "", "metal"),
    ("from", DATE, "stretch from"),
    ("to", DATE, "stretch to"),
    ("opening", FINE, "filings and sweeps held and at the refiner, as expected"),
    ("added", FINE, "recorded loss × share recovered"),
    ("settled_as_expected", FINE, "lots settled, as they were expected"),
    ("came_back", FINE, "what came back of them"),
    ("kept_or_short", FINE, "kept by the refiner or short"),
    ("closing", FINE, "opening + added − settled as expected"),
    ("beyond_recovery", FINE, "recorded loss that does not come back"),
    ("span", "", "between counts, over all, or since the last count"),
)
STAGE_LOSS = (
    ("stage", "", "stage; between the stages: no single stage can answer for it"),
    ("alloy", "", "alloy"),
    ("fine_g_in", FINE, "given to the stage in visits weighed before and after"),
    ("fine_g_lost", FINE, "lost, gross of recovery"),
    ("loss_per_mille", PER_MILLE, "grams lost ÷ grams given"),
    ("low", PER_MILLE, "80 % range"),
    ("high", PER_MILLE, "80 % range"),
    ("visits", "visits", "weighed before and after"),
)
PLACES = (
    ("place", "", "where the metal lies"),
    ("metal", "", "metal"),
    ("fine_g", FINE, "in the evening of the last day"),
    ("money", MONEY, "at spot"),
    ("owner", "", "shop, customers or lender"),
    ("capital_cost", "money a year", "of the shop's own metal, at the cost of capital"),
    ("basis", "", "how it is known"),
)
PEAK = (
    ("month", "", "month"),
    ("fine_g", FINE, "all metals in the house on the day worth most"),
    ("money", MONEY, "at spot of the day"),
    ("insured", MONEY, "sum insured; none when not told"),
    ("day", DATE, "that day"),
)
ALLOYING = (
    ("from_alloy", "", "melt at hand"),
    ("to_alloy", "", "alloy wanted"),
    ("add_metal", "", "metal to add: fine metals as bought (999.9), other metals of the recipe"),
    ("g_per_100g", "g gross", "to 100 g of the melt; none where a metal would have to come out again"),
    ("total_g", "g gross", "the melt afterwards"),
)
CUSTOMER_METAL = (
    ("order_id", "", "order"),
    ("received_g", FINE, "brought"),
    ("piece_g", FINE, "in the piece"),
    ("allowance_g", FINE, "most loss the customer bears"),
    ("returned_g", FINE, "given back beside the piece"),
    ("owed_g", FINE, "received − piece − loss borne − returned; negative: the customer owes the shop"),
    ("loss_borne_g", FINE, "loss the customer bears, at most the allowance"),
    ("metal", "", "metal"),
    ("open", "", "still on the bench: piece and loss as far as its card tells"),
)
FINISHED = (
    ("alloy", "", "alloy"),
    ("metal", "", "metal"),
    ("mark", PER_MILLE, "mark"),
    ("melted", PER_MILLE, "fineness really melted"),
    ("gross_g", GROSS, "metal delivered, solder in it"),
    ("solder_share", "share", "solder ÷ metal delivered; none when no card notes any"),
    ("finished", PER_MILLE, "fineness of the whole article with its solder"),
    ("given_away_g", FINE, "above the mark"),
    ("given_away_money", MONEY, "at spot"),
    ("solder_unknown_g", GROSS, "solder whose fineness is not in shop.toml"),
)
BOOK_COST = (
    ("month", "", "month in which the orders closed"),
    ("metal", "", "metal"),
    ("fine_g", FINE, "charged to the orders: in the pieces and lost for good"),
    ("book_metal", MONEY, "at what it cost the shop, as in the margin report"),
)
MELT = (("take", "", "from stock"), ("gross_g", GROSS, "to melt"), ("fine_g", FINE, "fine in it"))
RECOVERY = (
    ("metal", "", "metal"),
    ("recovered", PER_MILLE, "came back ÷ recorded loss over all settled lots"),
    ("low", PER_MILLE, "80 % range"),
    ("high", PER_MILLE, "80 % range"),
    ("lots", "lots", "settled, the first one left out"),
    ("expected", PER_MILLE, "share recovered × what the refiner leaves, by shop.toml"),
)


def made(frame: pd.DataFrame, columns: tuple[tuple[str, str, str], ...], currency: str) -> Table:
    """Return `frame` as an answer's table; ``money`` in a unit becomes the shop's currency."""
    return table(frame, [TableColumn(name=name, unit=unit.replace("money", currency), meaning=meaning) for name, unit, meaning in columns])


Columns = tuple[tuple[str, str, str], ...]


def frames(shop: Shop, costing: Costing, found: Whole, first: pd.Timestamp, last: pd.Timestamp) -> dict[str, tuple[pd.DataFrame, Columns]]:
    """Return every table of the report as a frame with its columns; the year looked at runs from `first` to `last`."""
    settings = shop.settings
    days = first.to_datetime64().astype("datetime64[D]"), last.to_datetime64().astype("datetime64[D]")
    return {
        "balance": (_joined([one.balance.rows for one in found.metals], ["metal", "from", "to"], BALANCE), BALANCE),
        "test": (_joined([test_rows(one) for one in found.metals], ["metal", "from"], TEST), TEST),
        "filings": (_joined([_recovered(one.lots) for one in found.metals], ["metal", "lot"], FILINGS), FILINGS),
        "filings_account": (_joined([one.accounts for one in found.metals], ["metal", "from", "to"], ACCOUNT), ACCOUNT),
        "stage_loss": (stage_loss(found.bench, settings, *days), STAGE_LOSS),
        "places": (_places(shop, found), PLACES),
        "peak": (_peak(shop, found), PEAK),
        "alloying": (alloying_sheet(settings), ALLOYING),
        "customer_metal": (_customers(shop, costing, found, first), CUSTOMER_METAL),
        "finished": (_finished(shop, found, *days), FINISHED),
        "book_cost": (book_cost(costing, first, last), BOOK_COST),
    }


def metals_table(found: Whole, first: OneMetal | None, settings: Settings) -> pd.DataFrame:
    """Return the metals, the one shown first with rank 1, with what the test says of each."""
    tolerance = settings.policy.fineness_tolerance_permille
    ranked = sorted(found.metals, key=lambda one: one is not first)
    rows = [(one.metal, rank, float(one.spot[-1]), one.cannot_tell, *_said(one.missing), tolerance) for rank, one in enumerate(ranked, 1)]
    return pd.DataFrame(rows, columns=[name for name, *_ in METALS])


def _said(test: Missing) -> tuple[bool, bool, float, float, float, float]:
    seen = test.seen_at_once_g if test.tested else np.nan
    return test.alarm, test.at_once, test.grams, test.low, test.high, seen


def _joined(parts: list[pd.DataFrame], by: list[str], columns: tuple[tuple[str, str, str], ...]) -> pd.DataFrame:
    kept = [part for part in parts if len(part)]
    if not kept:
        return pd.DataFrame(columns=[name for name, *_ in columns])
    return pd.concat(kept, ignore_index=True).sort_values(by, kind="stable", ignore_index=True)


def test_rows(one: OneMetal) -> pd.DataFrame:
    """Return the balances between counts of one metal as the sequential test sees them."""
    rows, found = one.balance.rows.iloc[one.balance.between].reset_index(drop=True), one.missing
    left = rows["unexplained"] - found.drift.grams
    band = 1.96 * found.sd
    alarm = np.arange(len(rows)) == (found.first if found.alarm else -1)
    limit = found.threshold if np.isfinite(found.threshold) else np.nan
    return rows[["metal", "from", "to", "unexplained"]].assign(
        fineness_explains=found.drift.grams, left=left, sd=found.sd, low=-band, high=band, cusum=found.cusum, threshold=limit, alarm=alarm
    )


def _recovered(lots: pd.DataFrame) -> pd.DataFrame:
    return lots.assign(recovered=1000.0 * lots["settled_g"] / lots["recorded_g"])


def _places(shop: Shop, found: Whole) -> pd.DataFrame:
    ledger, rate = shop["metal_ledger"], shop.settings.policy.cost_of_capital_percent / 100.0
    settings, benches, stage = shop.settings, found.bench, found.stage_now
    parts = [places(one.balance, one.held, benches, stage, ledger, settings, float(one.spot[-1])) for one in found.metals]
    rows = _joined(parts, ["place", "metal", "owner"], PLACES)
    return pd.DataFrame(rows.assign(capital_cost=(rows["money"] * rate).where(rows["owner"] == "shop")))


def _peak(shop: Shop, found: Whole) -> pd.DataFrame:
    spots = {one.metal: one.spot for one in found.metals}
    return peak([one.held for one in found.metals], spots, shop.settings.policy.insured_metal)


def _customers(shop: Shop, costing: Costing, found: Whole, first: pd.Timestamp) -> pd.DataFrame:
    """Return customers' metal of orders that are open, were delivered since `first`, or still owe metal."""
    lost = costing.known["gross_loss_g" if shop.settings.policy.customer_filings == "shop" else "net_loss_g"].to_numpy()
    rows = customer_metal(found.bench, shop["metal_ledger"], lost, shop.settings)
    delivered = costing.known.set_index("order_id")["delivered_on"].reindex(rows["order_id"]).to_numpy("datetime64[s]")
    lately = np.isnat(delivered) | (delivered >= first.to_datetime64())
    return pd.DataFrame(rows[lately | (rows["owed_g"].abs() > SMALL_DEBT_G).to_numpy()].reset_index(drop=True))


SMALL_DEBT_G = 0.05
"""Grams fine below which a balance with a customer is even: a few readings of the scale."""


def _finished(shop: Shop, found: Whole, first: np.datetime64, last: np.datetime64) -> pd.DataFrame:
    rows = finished_pieces(found.bench, shop.settings, first, last)
    spot = {one.metal: float(one.spot[-1]) for one in found.metals}
    return rows.assign(given_away_money=rows["given_away_g"] * rows["metal"].map(spot).astype(float))


def book_cost(costing: Costing, first: pd.Timestamp, last: pd.Timestamp) -> pd.DataFrame:
    """Return what the metal of the orders closed from `first` to `last` cost, by month and metal, as the margin report has it."""
    closed = pd.concat([costing.orders, costing.cancelled], ignore_index=True)
    closed = closed[closed["closed_on"].between(first, last) & (closed["metal"] != "")]
    months = closed["closed_on"].dt.strftime("%Y-%m")
    sums = closed.assign(month=months).groupby(["month", "metal"])[["book_fine_g", "book_metal"]].sum().reset_index()
    return pd.DataFrame(sums.rename(columns={"book_fine_g": "fine_g"}))
