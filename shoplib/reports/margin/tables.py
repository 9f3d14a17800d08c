"""The tables of the margin report: columns, units and meanings."""

from __future__ import annotations

import pandas as pd

from ..answer import Table, TableColumn, table

MONEY, PER_HOUR, HOURS, GROSS, FINE, SHARE = "money", "money per h", "h", "g gross", "g fine", "share"

ORDERS = (
    ("order_id", "", "number on the job card"),
    ("closed_on", "date", "day it was delivered or called off"),
    ("delivered_on", "date", "day of delivery"),
    ("style", "", "style"),
    ("alloy", "", "alloy"),
    ("metal_terms", "", "when the metal price was struck"),
    ("price", MONEY, "agreed price before tax"),
    ("metal_billed", MONEY, "metal billed beside the price (at_delivery)"),
    ("making_charge", MONEY, "price less metal at the fix for fixed, the price otherwise"),
    ("metal_at_fix", MONEY, "fine metal in the piece at the spot struck"),
    ("metal_lost", MONEY, "net loss at the spot struck"),
    ("other_metals", MONEY, "other alloy metals, solder and consumables"),
    ("findings", MONEY, "bought-in clasps and rings"),
    ("labour", MONEY, "first work, overtime premium and shared work"),
    ("rework_labour", MONEY, "work done a second time"),
    ("stones", MONEY, "stones"),
    ("outwork", MONEY, "work sent out"),
    ("making_margin", MONEY, "what the benches earned"),
    ("book_metal", MONEY, "metal at what it cost the shop"),
    ("metal_result", MONEY, "metal struck and lost less book metal"),
    ("book_margin", MONEY, "making margin + metal result"),
    ("weight_over_quote_money", MONEY, "metal given above the weight quoted, inside metal at the fix"),
    ("overtime_premium", MONEY, "in labour"),
    ("capital_cost", MONEY, "cost of metal tied up, below the margin"),
    ("hours", HOURS, "bench hours"),
    ("limiting_hours", HOURS, "hours at the limiting bench"),
    ("contribution", MONEY, "throughput contribution: margin before regular wages"),
    ("contribution_per_limiting_hour", PER_HOUR, "contribution ÷ limiting hours; none without limiting hours"),
)
MONTHS = (
    ("month", "", "month of delivery"),
    ("partial", "", "the month is still running"),
    ("orders", "orders", "orders delivered"),
    ("fine_g", FINE, "fine metal delivered"),
    ("price", MONEY, "agreed prices"),
    ("making_charge", MONEY, "making charges"),
    ("making_margin", MONEY, "what the benches earned"),
    ("metal_result_move", MONEY, "metal result from spot moving between purchase and fix"),
    ("metal_result_premium", MONEY, "metal result from what was paid over spot"),
    ("metal_result", MONEY, "both"),
    ("book_margin", MONEY, "making margin + metal result"),
    ("corrections", MONEY, "true-ups, refiner, counts known in the month"),
    ("unbooked_pay", MONEY, "pay that no job card shows"),
    ("cancelled", MONEY, "deposits kept less work and loss of orders called off"),
    ("overheads_absorbed", MONEY, "overheads borne by the orders at the rate of an hour"),
    ("overheads", MONEY, "overheads of the month"),
    ("result", MONEY, "book margin + corrections + cancelled − unbooked pay − overheads"),
    ("capital_cost", MONEY, "cost of metal tied up, below the result"),
)
BRIDGE = (
    ("month", "", "month explained"),
    ("compared_with", "", "month it is compared with"),
    ("cause", "", "cause, in the order of substitution"),
    ("amount", MONEY, "change of making margin it explains"),
)
GROUPS = (
    ("by", "", "what the orders are grouped by"),
    ("group", "", "group"),
    ("n", "orders", "orders delivered in the period"),
    ("making_charge", MONEY, "sum"),
    ("making_margin", MONEY, "sum"),
    ("contribution", MONEY, "sum"),
    ("contribution_per_limiting_hour", PER_HOUR, "sum ÷ sum of limiting hours"),
    ("low", PER_HOUR, "80 % range"),
    ("high", PER_HOUR, "80 % range"),
    ("limiting_hours", HOURS, "hours at the limiting bench"),
    ("hours", HOURS, "bench hours"),
    ("rank", "", "within `by`; none under 5 orders"),
)
OPEN_ORDERS = (
    ("order_id", "", "number on the job card"),
    ("style", "", "style"),
    ("alloy", "", "alloy"),
    ("cost_so_far", MONEY, "labour and other costs so far"),
    ("loss_so_far_g", GROSS, "loss so far"),
    ("expected_cost", MONEY, "costs expected to the end"),
    ("expected_margin", MONEY, "making margin expected"),
    ("over_share", SHARE, "costs expected over those of its style, as a share"),
)
PRICE_PARTS = (
    ("style", "", "style"),
    ("n", "orders", "orders delivered in the period"),
    ("metal", SHARE, "metal at the fix, share of price and metal billed"),
    ("labour", SHARE, "labour with rework"),
    ("metal_lost", SHARE, "lost metal"),
    ("other", SHARE, "other metals, findings, stones, outwork"),
    ("left", SHARE, "making margin"),
)
LOADS = (
    ("skill", "", "skill a bench asks for"),
    ("booked_h", HOURS, "hours booked in the last twelve months"),
    ("available_h", HOURS, "present hours of all who have the skill, less what they booked elsewhere"),
    ("load", SHARE, "booked ÷ available"),
    ("limits", "", "taken for the limiting bench in this report"),
    ("scarce", "", "it limits output as simulated, or nine tenths of its hours are booked: an hour there ranks what to make"),
)


def made(frame: pd.DataFrame, columns: tuple[tuple[str, str, str], ...], currency: str) -> Table:
    """Return `frame` as an answer's table; ``money`` units become the shop's currency.

    Parameters
    ----------
    frame : DataFrame
        Holds every column named.
    columns : tuple of (name, unit, meaning)
        One of the tuples above.
    currency : str
        ISO code.
    """
    heads = [TableColumn(name=name, unit=unit.replace(MONEY, currency), meaning=meaning) for name, unit, meaning in columns]
    return table(frame, heads)


def price_parts(orders: pd.DataFrame) -> pd.DataFrame:
    """Return what the price pays for by style: shares of price and metal billed, columns as `PRICE_PARTS`.

    Parameters
    ----------
    orders : DataFrame
        Costed orders delivered in the period.
    """
    money = orders.assign(
        paid=orders["price"] + orders["metal_billed"],
        all_labour=orders["labour"] + orders["rework_labour"],
        other=orders[["other_metals", "findings", "stones", "outwork"]].sum(axis=1),
    )
    grouped = money.groupby("style", sort=True)
    sums = grouped[["paid", "metal_at_fix", "all_labour", "metal_lost", "other", "making_margin"]].sum().assign(n=grouped.size())
    sums = sums[sums["paid"] > 0]
    shares = sums[["metal_at_fix", "all_labour", "metal_lost", "other", "making_margin"]].div(sums["paid"], axis=0)
    shares.columns = pd.Index(["metal", "labour", "metal_lost", "other", "left"])
    return shares.assign(n=sums["n"]).reset_index()
