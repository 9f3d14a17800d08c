"""The tables of the monthly review."""

from __future__ import annotations

from ..margin.tables import BRIDGE

__all__ = ["AHEAD", "BRIDGE", "DECISIONS", "FORECASTS", "HEADLINES", "LAST_TIME", "MONTHS", "RECORD"]

DECISIONS = (
    ("rank", "", "by money at stake; metal to buy, which is cash and no gain, after it"),
    ("question", "", "what is to be decided"),
    ("answer", "", "what the figures say"),
    ("odds", "share", "chance that it is right, where there is one"),
    ("money", "money", "at stake"),
    ("because", "", "reason"),
    ("report", "", "report with the whole reasoning"),
)
FORECASTS = (
    ("made_on", "date", "as-of date"),
    ("what", "", "of what"),
    ("due_on", "date", "last day it covers"),
    ("low", "", "1 in 10 below, in `unit`"),
    ("mid", "", "middle, in `unit`"),
    ("high", "", "1 in 10 above, in `unit`"),
    ("level", "share", "chance to fall between low and high"),
    ("unit", "", "unit"),
    ("replayed", "", "made when a newer review was already there"),
)
AHEAD = FORECASTS
LAST_TIME = (
    ("forecast_on", "date", "as-of date of the forecast"),
    ("what", "", "of what"),
    ("forecast_low", "", "1 in 10 below, in `unit`"),
    ("forecast_mid", "", "middle, in `unit`"),
    ("forecast_high", "", "1 in 10 above, in `unit`"),
    ("happened", "", "what came, in `unit`"),
    ("inside", "", "between low and high"),
    ("due_on", "date", "last day it covered"),
    ("unit", "", "unit"),
)
RECORD = LAST_TIME
MONTHS = (
    ("month", "", "month"),
    ("partial", "", "the month is still running"),
    ("orders", "orders", "orders delivered"),
    ("fine_g", "g fine", "fine metal delivered"),
    ("making_margin", "money", "what the benches earned"),
    ("metal_result", "money", "metal at the fix less what it cost"),
    ("corrections", "money", "true-ups, refiner, counts"),
    ("unbooked_pay", "money", "pay that no job card shows"),
    ("cancelled", "money", "orders called off"),
    ("overheads", "money", "overheads"),
    ("result", "money", "what was left"),
    ("on_time_share", "share", "promises due in the month that were kept, first promise"),
    ("n_due", "orders", "promises due"),
    ("wip_orders", "orders", "open at the end of the month"),
)
HEADLINES = (("report", "", "report"), ("headline", "", "what it says"))
