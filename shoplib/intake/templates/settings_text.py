"""The shop.toml a shop starts with: every key with its unit and default, switched off by a leading ``#`` but for two."""

from __future__ import annotations

STAGES = ("melt", "roll", "draw", "coil", "cut", "assemble", "solder", "tighten", "file", "polish", "finish")
ALLOYS = ("9k yellow", "14k yellow", "18k yellow", "18k white", "925")

SETTINGS = """# What the tables cannot say. Only [shop] is needed; take the # away from a line to switch it on.
# The value shown is the default, or an example where there is none. A unit stands at the end of each name.
# Where a report's parameter is given in several places: --set, then --settings, then [reports.NAME], then [hire] or [policy].

[shop]
name = "Our workshop"      # stands on every page
currency = "EUR"           # three letters, ISO 4217; all money is in it

# ---- when the shop works ----
#[calendar]
#working_days = ["mon", "tue", "wed", "thu", "fri"]
#day_start = "08:00"
#day_end = "16:30"
#hours_per_day = 8
#holidays = "AT"                              # a country's public holidays; "AT-9" adds those of a region. None when left out.
#closures = [["2026-08-03", "2026-08-14"]]    # first and last day shut, both included

# ---- alloys: left out, metal and fineness are read from the name ----
#[[alloys]]
#code = "18k white"            # as the orders write it
#metal = "gold"                # gold, silver, platinum or palladium
#fineness = 750                # the mark, per mille of that metal: what is billed. Local law says what a mark must hold.
#melted_fineness = 752         # what is really melted; left out: the mark
#parts = { palladium = 125 }   # other metals that have a price, per mille
#other_metals_per_g = 0.02     # money for the rest, a gram of alloy

#[[solders]]
#code = "18k white hard"
#metal = "gold"
#fineness = 750                # per mille
#cost_per_g = 0.0              # beside its precious metal

# ---- stages, in the order in which work usually passes them ----
#[[stages]]
#name = "solder"
#skill = "solder"              # left out: the stage's own name
#fixed_hours = 1.2             # standard hours an order
#hours_per_g = 0.038           # and a gross gram
#takes_metal = false           # true where metal is given out
#cuts = false                  # true where clean cut-offs arise
#recovery_percent = 90         # of the fine metal lost here that comes back
#loss_fine_share_percent = 100 # share of the loss here that is alloy; less where base metal burns off
#expected_visits = 1           # further visits count as rework
#rework_of = ""                # for a name that only ever means work done again: the stage it repeats

# ---- people, by initials or a number, never by name ----
#[[workers]]
#code = "EV"
#skills = ["solder", "assemble"]  # left out: as booked
#hours = { mon = 8, tue = 8, wed = 8, thu = 8, fri = 6 }   # left out: the calendar's
#wage_per_hour = 28.5
#on_costs_percent = 22         # what the employer pays on top
#started_on = 2021-02-01
#left_on = 2026-05-31          # only for who has left
#owner = false                 # true: the wage is what a stand-in would cost
#pay = [{ from = 2025-01-01, wage_per_hour = 27.0 }]   # earlier wages, each from a day on

# ---- the shop's own rules and assumptions ----
#[policy]
#overtime_multiple = 1.5
#overtime_hours_per_week = 6            # a person, above own hours; no plan goes beyond. Working-time law may say less.
#quote_valid_days = 14
#target = "keep_making_charge"          # or "percent_of_price", "per_limiting_hour", "per_g_fine"
#target_making_margin_percent = 25      # for "percent_of_price"
#target_per_limiting_hour = 60          # money, for "per_limiting_hour"
#target_per_g_fine = 12                 # money, for "per_g_fine"
#price_step = 5                         # prices are rounded up to a multiple of it
#metal_premium_percent = 0              # what the supplier adds to spot
#filings_recovery_percent = 92          # of fine metal lost, when neither refiner's lots nor stages tell
#loss_percent = 3                       # gross, of grams given out less clean scrap, when nothing measured tells
#refining_charge_percent = 1.5          # kept by the refiner in metal
#customer_metal_allowance_percent = 3   # of the finished weight
#customer_filings = "customer"          # or "shop": who keeps the filings of customers' metal
#cost_of_capital_percent = 8            # a year
#borrowed_metal_percent = 4             # a year
#service_level_percent = 90             # of promises kept
#consumables_per_hour = 0               # money
#metal_cost = "average"                 # or "fifo"
#overheads_by = "limiting_hours"        # or "labour_hours"
#work_order = "auto"                    # or "promise", "order_date", "queue": what is taken in hand next
#answer_to_price_prior = [-4.0, -1.0]   # 80 % range: how orders answer to ln(price ÷ metal)
#answer_to_wait_prior = [-0.4, 0.0]     # 80 % range: and to a week more of waiting
#quote_margin_at_risk_percent = 20      # of the making charge
#quote_risk_percent = 10                # the chance taken while a quote stands
#scale_readability_g = 0.01
#fineness_tolerance_permille = 1
#in_process_tolerance_percent = 2       # of metal on the benches that is not weighed
#insured_metal = 250000                 # money; left out: not compared

# ---- what another pair of hands would be ----
#[hire]
#stages = ["solder"]                # shown first; the other benches are compared as well
#wage_per_hour = 24
#on_costs_percent = 22
#equipment = 3500                   # money, once
#start_on = 2027-01-04
#skilled = true                     # false: 78 weeks to standard hours instead of 26
#ramp_up_weeks = 26
#learning_rate_percent = 85         # time a piece falls to this share when the count doubles
#teacher_hours_per_week = 4
#part_time_hours_per_week = 20
#search_weeks = 8
#leaves_first_year_percent = 15
#spoilage_percent = 1
#horizon_months = 24
#outwork_price_per_order = { polish = 38 }   # money an order, a stage sent out

# ---- your headings and words, where they differ ----
#[headings.orders]                  # left our column, right your heading
#order_id = "Job No."

#[aliases.style]                    # left what is written, right what is meant
#cable = "anchor"

# ---- how cells are written, where a file can be read in two ways ----
#[formats]
#decimal = ","
#date_order = "dmy"                 # or "mdy", "ymd"
#null_marks = ["-", "–", "n/a", "na", "null", "none"]   # cells that mean nothing
#[[formats.metal_prices.series]]    # a column of a wide price sheet
#heading = "Gold PM"
#metal = "gold"
#currency = "USD"
#per = "ozt"                        # or "g", "kg"
#[formats.fx]
#inverse = false                    # true when the table gives foreign currency for one unit of yours

#[page]
#decimal = "."
#thousands = ","

#[reports.hiring]                   # parameters of one report; `shoplib list` names them all
#horizon_months = 36
"""
