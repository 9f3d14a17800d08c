"""The tables of the throughput report: columns, units and meanings."""

from __future__ import annotations

from ..margin.tables import HOURS, MONEY, PER_HOUR, SHARE

DAYS, ORDERS, A_WEEK = "days", "orders", "orders a week"
MORE = "orders a year per h a week"
STAGES = (
    ("stage", "", "stage in route order; the last row: no bench limits, demand does"),
    ("skill", "", "skill the stage asks for; stages that share one show its load and its limit"),
    ("hours_booked", HOURS, "hours booked in the period"),
    ("hours_available", HOURS, "present hours of all who have the skill, less what they booked elsewhere"),
    ("load", SHARE, "booked ÷ available hours of the skill"),
    ("visits", "visits", "visits begun in the period"),
    ("first_pass_yield", SHARE, "orders never sent back to the stage ÷ orders delivered that passed it; none under 20"),
    ("returns_found", "returns", "orders sent back by the stage, charged to another"),
    ("rework_hours", HOURS, "hours of work done again"),
    ("queue_hours_mean", HOURS, "mean working hours an order waited before a visit, holds left out"),
    ("longest_queue_share", SHARE, "share of weeks in which the skill's queue was the longest in hours"),
    ("longest_low", SHARE, "80 % range of that share"),
    ("longest_high", SHARE, "80 % range of that share"),
    ("limiting_probability", SHARE, "share of simulated futures in which an hour more is worth most here"),
    ("orders_per_extra_hour", MORE, "orders delivered a year more for one hour a week more, simulated"),
    ("low", MORE, "80 % range of its mean"),
    ("high", MORE, "80 % range of its mean"),
)
MONTHS = (
    ("month", "", "first day of the month"),
    ("partial", "", "the month is still running"),
    ("orders_in", ORDERS, "orders taken"),
    ("orders_out", ORDERS, "orders delivered"),
    ("grams_out", "g gross", "weight delivered"),
    ("wip_orders", ORDERS, "orders in process at the end of the month"),
    ("started_orders", ORDERS, "of them with an entry at a bench"),
    ("flow_days_mean", DAYS, "mean calendar days from order to delivery of the orders delivered"),
    ("flow_days_p50", DAYS, "half the orders delivered took no longer"),
    ("flow_days_p80", DAYS, "8 in 10 of the orders delivered took no longer"),
    ("touch_hours_mean", HOURS, "mean hours booked on an order delivered"),
    ("on_time_share", SHARE, "kept ÷ due, by the first promise, of those that fell due in the month"),
    ("on_time_last_share", SHARE, "kept ÷ due, by the last promise"),
    ("n_due", ORDERS, "first promises that fell due"),
    ("n_due_last", ORDERS, "last promises that fell due"),
    ("cancelled", ORDERS, "orders called off"),
    ("fine_out_g", "g fine", "fine metal delivered"),
    ("money_out", MONEY, "agreed prices of the orders delivered"),
    ("wip_mean_orders", ORDERS, "mean orders in process on a day"),
)
REWORK = (
    ("cause", "", "cause named on the card"),
    ("stage", "", "stage the order went back to, which is charged"),
    ("alloy", "", "alloy"),
    ("returns", "returns", "orders sent back in the period"),
    ("hours", HOURS, "hours of work done again, stages passed again with them"),
    ("labour", MONEY, "those hours at their pay, on-costs and overtime premium in it"),
    ("metal", MONEY, "metal lost in that work, net of what comes back"),
    ("weighed_share", SHARE, "share of that work weighed before and after"),
    ("delay_contribution", MONEY, "contribution others lose by waiting, simulated without the cause; 0 when its range reaches 0"),
    ("delay_low", MONEY, "80 % range of its mean"),
    ("delay_high", MONEY, "80 % range of its mean"),
    ("cost", MONEY, "labour + metal + delay"),
)
WITHOUT_ONE = (
    ("skill", "", "skill of the one away: who books most hours at it"),
    ("away", "", "how long, from tomorrow on"),
    ("others", "people", "others who have the skill"),
    ("orders_late", ORDERS, "promises due within a year and missed, more than with everybody there"),
    ("orders_late_low", ORDERS, "80 % range"),
    ("orders_late_high", ORDERS, "80 % range"),
    ("wait_days_change", DAYS, "change of the days in the shop of orders that come in within half a year; none when nobody else can"),
    ("wait_days_change_low", DAYS, "80 % range"),
    ("wait_days_change_high", DAYS, "80 % range"),
    ("contribution_lost", MONEY, "contribution within a year, less than with everybody there; pay saved not taken off"),
    ("contribution_lost_low", MONEY, "80 % range"),
    ("contribution_lost_high", MONEY, "80 % range"),
)
LIMITS = (
    ("skill", "", "skill; the last row: no bench limits, demand does"),
    ("stages", "", "its stages"),
    ("hours_booked", HOURS, "hours booked in the period"),
    ("load", SHARE, "booked ÷ available hours"),
    ("orders_per_extra_hour", MORE, "orders delivered a year more for one hour a week more, simulated"),
    ("low", MORE, "80 % range of its mean"),
    ("high", MORE, "80 % range of its mean"),
    ("limiting_probability", SHARE, "share of simulated futures in which an hour more is worth most here"),
)
MAKE_FIRST = (
    ("group", "", "style and alloy"),
    ("n", ORDERS, "orders delivered in the period"),
    ("contribution", MONEY, "throughput contribution: margin before regular wages, sum"),
    ("limiting_hours", HOURS, "hours at the limiting bench, sum"),
    ("contribution_per_limiting_hour", PER_HOUR, "sum ÷ sum"),
    ("low", PER_HOUR, "80 % range"),
    ("high", PER_HOUR, "80 % range"),
    ("rank", "", "what to make first while that bench limits; none under 5 orders"),
)
HOLDS = (
    ("why", "", "what the order waited for"),
    ("holds", "holds", "holds that touch the period"),
    ("orders", ORDERS, "orders held"),
    ("days", DAYS, "calendar days on hold in the period"),
    ("open", "holds", "still on hold in the end"),
)
LITTLE = (
    ("wip_mean", ORDERS, "orders in process on a mean day of the period"),
    ("out_per_day", "orders a day", "orders delivered a calendar day"),
    ("flow_by_law_days", DAYS, "orders in process ÷ orders delivered a day"),
    ("flow_mean_days", DAYS, "mean days of the orders delivered"),
    ("gap_days", DAYS, "the one less the other: above 0 the shop fills up or old orders are still inside"),
)
CURVE = (
    ("wip", ORDERS, "orders in process"),
    ("best", A_WEEK, "output when nothing varies"),
    ("practical_worst", A_WEEK, "output when every spread of the orders over the benches is as likely"),
    ("worst", A_WEEK, "output when all orders move as one batch"),
)
CURVE_POINT = (
    ("wip", ORDERS, "orders in process on a mean day of the period"),
    ("output", A_WEEK, "orders delivered"),
    ("practical_worst", A_WEEK, "output of the practical worst case with so many orders in process"),
    ("rate", A_WEEK, "orders at the busiest skill if it were always booked"),
    ("raw_time_weeks", "weeks", "time an order takes when it never waits"),
    ("critical_wip", ORDERS, "rate × that time: with so many a line without variation reaches its rate"),
)
CONTROL = (
    ("measure", "", "what is watched: loss ‰ of the weight in, right first time as a share, hours per g, weight ÷ quote"),
    ("item", "", "stage or style"),
    ("month", "", "first day of the month"),
    ("value", "as measured", "value of the month"),
    ("n", "pieces", "visits or orders behind it"),
    ("centre", "as measured", "centre line"),
    ("lower", "as measured", "lower limit; none: not judged"),
    ("upper", "as measured", "upper limit; none: not judged"),
    ("unusual", "", "outside its limits"),
)
