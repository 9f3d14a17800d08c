"""Orders over plan and orders unlike their style."""

from __future__ import annotations

from ..answer import Answer
from ..blocks import Table, Text
from ..compose import Show, table_of

OUTLIERS = 60


def open_table(answer: Answer) -> Table | Text:
    """Return the open orders furthest over plan, or a sentence when none is open."""
    frame = answer.table("open_orders")
    if frame.empty:
        return Text("open_orders", ("No order is open.",))
    shows = [
        Show("order_id", "Order"), Show("style", "Style"), Show("alloy", "Alloy", narrow=False),
        Show("cost_so_far", "Cost so far", "money", narrow=False), Show("loss_so_far_g", "Lost so far", "grams", "g gross", narrow=False),
        Show("expected_cost", "Expected cost", "money", narrow=False), Show("expected_margin", "Expected margin", "money"),
        Show("over_share", "Over plan", "share_change"),
    ]  # fmt: skip
    over = frame.assign(key=frame["over_share"].fillna(-9.0)).sort_values(["key", "order_id"], ascending=[False, True]).head(25)
    late = int((frame["over_share"] > 0.2).sum())
    counts = f"{answer.writing.number(late)} of {answer.writing.number(len(frame))}"
    note = f"{counts} open orders cost over 20% more than planned; the 25 furthest over are shown."
    return table_of(answer, "open_orders", "Open orders, furthest over plan first", shows, rows=over, note=note)


def unlike_table(answer: Answer) -> Table | Text:
    """Return the orders furthest from their style's usual margin."""
    frame = answer.table("orders")
    sold = frame[frame["delivered_on"].notna() & (frame["making_charge"] > 0)]
    if sold.empty:
        return Text("orders", ("No order was delivered in the period.",))
    share = sold["making_margin"] / sold["making_charge"]
    away = (share - share.groupby(sold["style"]).transform("median")).abs()
    shown = sold.assign(away=away).sort_values(["away", "order_id"], ascending=[False, True]).head(OUTLIERS)
    shows = [
        Show("order_id", "Order"), Show("style", "Style"), Show("alloy", "Alloy", narrow=False),
        Show("delivered_on", "Delivered", "day", narrow=False),
        Show("making_charge", "Making charge", "money"), Show("labour", "Labour", "money", narrow=False),
        Show("rework_labour", "Rework", "money", narrow=False), Show("making_margin", "Making margin", "money"),
    ]  # fmt: skip
    note = f"The {len(shown)} orders furthest from their style's usual margin; all {answer.writing.number(len(frame))} are in the workbook."
    return table_of(answer, "orders", "Orders unlike their style", shows, rows=shown, note=note)
