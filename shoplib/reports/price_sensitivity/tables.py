"""The tables of the price report: columns, units and meanings."""

from __future__ import annotations

import pandas as pd

from ..answer import Table, TableColumn, table

MONEY, FINE, SHARE = "money", "g fine", "share"
PER_G = "money per g fine"

PRICE_LIST = (
    ("line", "", "style · alloy · width"),
    ("pieces_12_months", "pieces", "sold in the last 12 months"),
    ("price_now", MONEY, "list price of the usual piece"),
    ("metal_when_struck", MONEY, "metal of the usual piece, net loss and supplier's premium included, on the day the price was struck"),
    ("metal_now", MONEY, "the same today"),
    ("making_charge_now", MONEY, "price now − metal now"),
    ("making_margin_now", MONEY, "making charge now − wages − base metals, consumables, findings, outwork"),
    ("price_to_target", MONEY, "price that meets the target, rounded up to the price step"),
    ("change_share", SHARE, "price to target ÷ price now − 1"),
    ("floor_idle", MONEY, "below it an idle bench earns nothing: throughput contribution 0"),
    ("floor_full", MONEY, "below it a full bench should make something else"),
    ("money_at_stake", MONEY, "change × pieces of 12 months, if customers order as before"),
    ("price_exact", MONEY, "meets the target to the cent, not rounded"),
    ("short", "", "misses the target by a price step or more"),
    ("struck_on", "date", "day the price was struck"),
)
SPOT_GRID = (
    ("spot_change", SHARE, "change of spot from today"),
    ("line", "", "style · alloy · width"),
    ("price_to_target", MONEY, "price that meets the target at that spot, rounded up"),
    ("making_margin_at_present_price", MONEY, "making margin at the price of today's list"),
    ("making_charge_at_present_price", MONEY, "price of today's list − metal at that spot"),
    ("making_charge_at_target", MONEY, "making charge that meets the target"),
    ("floor_full", MONEY, "below it a full bench should make something else"),
    ("short", "", "misses the target by a price step or more"),
    ("metal", "", "the metal whose spot changes; the others stay as today"),
)
QUOTE_SHEET = (
    ("line", "", "style · alloy · width"),
    ("g_per_cm", "g gross per cm", "weight of a centimetre"),
    ("weight_g", "g gross", "weight of the usual piece"),
    ("metal", MONEY, "metal today with net loss and supplier's premium"),
    ("hours", "h", "bench hours, rework included"),
    ("making_charge", MONEY, "price − metal"),
    ("price", MONEY, "price that meets the target, rounded up"),
    ("promise_on", "date", "earliest day that holds at the service level"),
    ("valid_days", "days", "calendar days the price may stand, at most the shop's own limit"),
    ("deposit", MONEY, "covers the metal, rounded up"),
    ("length_cm", "cm", "length of the usual piece"),
)
NEW_LIST = (
    ("line", "", "style · alloy · width"),
    ("style", "", "style"),
    ("alloy", "", "alloy"),
    ("width_mm", "mm", "width"),
    ("g_per_cm", "g gross per cm", "weight of a centimetre"),
    ("per", "", "the price is for a cm or a g gross"),
    ("old_price", MONEY, "price in the list"),
    ("new_price", MONEY, "price that meets the target, rounded up to the cent"),
    ("change_share", SHARE, "new ÷ old − 1"),
    ("usual_old", MONEY, "usual piece at the old price"),
    ("usual_new", MONEY, "usual piece at the new price"),
    ("struck_on", "date", "day the old price was struck"),
)
EXPOSURE = (
    ("metal", "", "metal"),
    ("in_house_g", FINE, "in the house, whoever owns it"),
    ("ours_priced_g", FINE, "the shop's own at a price of its own: safe, issued, filings as expected back, at the refiner"),
    ("needed_g", FINE, "needed by open orders at a fixed price, net loss included"),
    ("net_g", FINE, "ours priced + bought forward − needed; negative: sold, not bought"),
    ("bought_forward_g", FINE, "bought forward, still to come"),
    ("money_per_percent", MONEY, "what 1 % on spot brings; negative: lost when spot rises"),
    ("spot", PER_G, "today"),
    ("safe_g", FINE, "own, priced, in the safe"),
    ("issued_g", FINE, "own, issued to open orders"),
    ("filings_g", FINE, "filings and sweeps, as expected back"),
    ("refiner_g", FINE, "at the refiner, as expected back"),
    ("borrowed_g", FINE, "borrowed and not priced: no cover"),
    ("customers_g", FINE, "customers': no cover"),
)
OPEN_QUOTES = (
    ("quote_id", "", "number of the quote"),
    ("quoted_on", "date", "day it was given"),
    ("style", "", "style"),
    ("alloy", "", "alloy"),
    ("metal", "", "the alloy's own metal"),
    ("price", MONEY, "price quoted"),
    ("fine_g", FINE, "of that metal if it is taken, net loss included; no exposure until then"),
    ("metal_when_quoted", MONEY, "all its metals on the day it was given, supplier's premium included"),
    ("metal_now", MONEY, "the same today"),
    ("making_charge_when_quoted", MONEY, "price − metal when quoted"),
    ("making_charge_now", MONEY, "price − metal now"),
    ("stands_until", "date", "last day it stands by quote_valid_days"),
    ("stands", "", "it has not lapsed"),
)
OPEN_FIXED = (
    ("order_id", "", "number on the job card"),
    ("price", MONEY, "agreed price"),
    ("fine_g_uncovered", FINE, "needed, not in hand at our price"),
    ("breakeven_spot", PER_G, "spot at which the order earns nothing; none: covered"),
    ("making_margin_at_spot", MONEY, "making margin with all its metal at today's spot"),
    ("deposit_that_covers", MONEY, "would have bought the uncovered grams when the price was struck"),
    ("metal", "", "metal"),
    ("fine_g_needed", FINE, "fine metal with net loss"),
    ("spot_now", PER_G, "today"),
    ("money_per_percent", MONEY, "what 1 % on spot brings"),
    ("other_costs", MONEY, "wages done and to come, other metals, findings, outwork, stones"),
)
METAL_TO_BUY = (
    ("week", "date", "first day of the week"),
    ("metal", "", "metal"),
    ("fine_g", FINE, "to buy beyond what is at hand at our price, mean of simulated futures"),
    ("money", MONEY, "at today's spot with the supplier's premium"),
    ("deposits_and_balances_due", MONEY, "all metals together, the same in each row of a week; open orders at P50 of delivery"),
    ("low_g", FINE, "80 % range"),
    ("high_g", FINE, "80 % range"),
    ("issued_g", FINE, "taken by orders, mean"),
)
QUOTE_DAYS = (
    ("line", "", "style · alloy · width"),
    ("margin_at_risk_share", SHARE, "share of the making charge at the target that must not be lost"),
    ("odds", SHARE, "chance allowed"),
    ("days", "days", "calendar days a quote may stand"),
    ("method", "", "how the spread of spot is told"),
)
RESPONSE = (
    ("what", "", "answer_to_price: coefficient of ln (price ÷ metal); answer_to_wait: of weeks quoted"),
    ("estimate", "log odds", "of winning a quote"),
    ("low", "log odds", "80 % range"),
    ("high", "log odds", "80 % range"),
    ("n", "quotes", "answered quotes"),
    ("basis", "", "how it is told"),
)
MOVES = (
    ("metal", "", "metal"),
    ("struck_on", "date", "day prices were struck"),
    ("currency", "", "currency of the metal price"),
    ("spot_when_struck", PER_G, "in the shop's currency"),
    ("spot_now", PER_G, "in the shop's currency"),
    ("change_share", SHARE, "(1 + metal)(1 + currency) − 1"),
    ("from_metal_share", SHARE, "the metal in its own currency"),
    ("from_currency_share", SHARE, "the currency against the shop's"),
)
SPOT = (("date", "date", "day"), ("spot", PER_G, "main metal, shop currency"), ("struck", "", "prices of the list were struck that day"))
CHANCES = (("days", "days", "calendar days a quote stands"), ("odds", SHARE, "chance of losing the share at risk on the usual line"))
IF_ANSWERED = (
    ("elasticity", "% per %", "pieces sold for a per cent on the price"),
    ("basis", "", "assumed, or the shop's own quotes"),
    ("pieces", "pieces", "a year at the new prices"),
    ("contribution_change", MONEY, "a year's throughput contribution against leaving prices as they are"),
    ("low", MONEY, "80 % range"),
    ("high", MONEY, "80 % range"),
)
MARK_UP = (
    ("mark_up_share", SHARE, "added to the making part of every price"),
    ("contribution_change", MONEY, "a year, against no mark-up, wait answered"),
    ("low", MONEY, "80 % range"),
    ("high", MONEY, "80 % range"),
    ("orders_a_year", "orders", "delivered"),
    ("days_in_shop", "days", "from order to delivery, second year"),
    ("best_odds", SHARE, "replications in which this level earns most"),
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
