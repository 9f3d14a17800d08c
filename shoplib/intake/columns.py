"""Every table and column once: unit, need, parser and meaning.

Templates, the dictionary, the checks and the reading itself come from this page.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Kind = Literal["text", "code", "codes", "choice", "date", "timestamp", "month", "number", "count", "yes_no"]
"""How a cell is read. ``text`` is free; ``code`` is text compared without case and outer spaces; ``codes`` may hold
several, parted by semicolons; ``number`` covers money, grams, hours and shares; ``month`` is read as its first day."""

DTYPES: dict[Kind, str] = {
    "text": "object", "code": "object", "codes": "object", "choice": "object", "date": "datetime64[s]",
    "timestamp": "datetime64[s]", "month": "datetime64[s]", "number": "float64", "count": "float64", "yes_no": "bool",
}
"""The dtype of an accepted column. Text may arrive as pandas' own string type; missing text is None or NaN."""


@dataclass(frozen=True)
class Column:
    """One column of one table.

    Attributes
    ----------
    name : str
        The tool's own heading.
    kind : Kind
        How a cell is read.
    meaning : str
        One sentence for the dictionary.
    unit : str
        Unit, empty for text.
    need : {'yes', 'column', 'no'}
        ``yes``: the column and a value in each row; ``column``: the column, cells may be blank; ``no``: optional.
    default : object
        What a blank cell means; None leaves it missing.
    options : tuple of str
        Allowed words of a ``choice``.
    low, high : float
        Bounds of a number, both allowed.
    above_zero : bool
        Zero is refused as well as anything below `low`.
    """

    name: str
    kind: Kind
    meaning: str
    unit: str = ""
    need: Literal["yes", "column", "no"] = "no"
    default: object = None
    options: tuple[str, ...] = ()
    low: float = 0.0
    high: float = float("inf")
    above_zero: bool = False


@dataclass(frozen=True)
class Table:
    """One table of the shop.

    Attributes
    ----------
    name : str
        File stem or sheet name.
    meaning : str
        What one row is.
    columns : tuple of Column
        In the order of the template.
    need : bool
        A run stops without it.
    key : str
        Column whose values must be unique, or empty.
    one_of : tuple of tuple of tuple of str
        For each rule, groups of columns of which a row must fill at least one whole group.
    """

    name: str
    meaning: str
    columns: tuple[Column, ...]
    need: bool = False
    key: str = ""
    one_of: tuple[tuple[tuple[str, ...], ...], ...] = ()
    by_name: dict[str, Column] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "by_name", {column.name: column for column in self.columns})


KINDS_OF_ORDER = ("order", "stock", "repair", "guarantee")
METAL_TERMS = ("fixed", "at_delivery", "customer_metal")
LEDGER_KINDS = (
    "bought", "sold", "customer_in", "customer_out", "refining_sent", "filings_sent", "refined_back",
    "refining_charge", "borrowed", "returned", "priced", "bought_forward", "stock_count",
)

ORDERS = Table(
    "orders",
    "One row an order line.",
    (
        Column("order_id", "code", "The number on the job card.", need="yes"),
        Column("ordered_on", "date", "Day the customer committed.", need="yes"),
        Column("style", "code", "Curb, anchor, wheat, rope, Byzantine … free text, grouped as written; case and spaces are folded, aliases stand in shop.toml.", need="yes"),
        Column("alloy", "code", "Code of an alloy in shop.toml, e.g. 18k yellow; blank only for a repair or a guarantee.", need="column"),
        Column("price", "number", "Agreed price before tax for the whole line; for at_delivery and customer_metal the making charge.", "money", need="yes"),
        Column("kind", "choice", "What was ordered; repair and guarantee need no alloy or weight.", default="order", options=KINDS_OF_ORDER),
        Column("pieces", "count", "Pieces in the line; weights and price are for the whole line.", "count", default=1, above_zero=True),
        Column("length_cm", "number", "Finished length.", "cm", above_zero=True),
        Column("width_mm", "number", "Finished width.", "mm", above_zero=True),
        Column("quoted_weight_g", "number", "Weight expected when the price was quoted.", "g gross", above_zero=True),
        Column("finished_weight_g", "number", "Weight on the scale at delivery.", "g gross", above_zero=True),
        Column("not_metal_g", "number", "Stones, steel springs and the like inside the finished weight.", "g", default=0.0),
        Column("findings_g", "number", "Bought-in clasps and rings inside the finished weight.", "g", default=0.0),
        Column("metal_terms", "choice", "When the metal price was struck; customer_metal: the customer's own metal is worked.", default="fixed", options=METAL_TERMS),
        Column("fixed_on", "date", "Day the metal price was struck, if not ordered_on."),
        Column("fixed_price_per_g", "number", "Metal price struck, if not spot.", "money per g fine", above_zero=True),
        Column("settled_by", "choice", "Whether the price follows the finished weight.", default="piece", options=("piece", "weight")),
        Column("deposit", "number", "Paid at order.", "money", default=0.0),
        Column("stones_cost", "number", "Cost of stones.", "money", default=0.0),
        Column("outwork_cost", "number", "Cost of work sent out.", "money", default=0.0),
        Column("findings_cost", "number", "Cost of bought-in findings.", "money", default=0.0),
        Column("first_promised_on", "date", "First promise given to the customer."),
        Column("promised_on", "date", "Present promise."),
        Column("rush", "yes_no", "Goes first.", default=False),
        Column("delivered_on", "date", "Day of delivery, blank while open."),
        Column("cancelled_on", "date", "Day the order was called off."),
        Column("customer_type", "code", "Retail, trade …; never a name."),
    ),
    need=True,
    key="order_id",
    one_of=((("quoted_weight_g",), ("finished_weight_g",)),),
)

LABOUR = Table(
    "labour",
    "One row an entry on the job card.",
    (
        Column("order_id", "codes", "Order, or several parted by semicolons for one melt; blank for work shared by all."),
        Column("stage", "code", "Stage of the route; a blank is costed and left out of stage figures.", need="column"),
        Column("worker", "code", "Initials or a number, never a name.", need="yes"),
        Column("date", "date", "Day of the work."),
        Column("hours", "number", "Time worked.", "h", high=24.0),
        Column("start", "timestamp", "Begin of the work by the clock."),
        Column("finish", "timestamp", "End of the work by the clock."),
        Column("rework", "yes_no", "Work done a second time.", default=False),
        Column("links_redone", "count", "Broken links soldered again.", "count"),
        Column("rework_cause", "code", "Broken link, gap in a joint, pit, overheated …"),
        Column("weight_in_g", "number", "Weight before the stage.", "g gross", above_zero=True),
        Column("weight_out_g", "number", "Weight after the stage.", "g gross", above_zero=True),
        Column("scrap_back_g", "number", "Clean cut-offs of the same alloy, back to stock.", "g gross"),
        Column("solder", "code", "Code of a solder in shop.toml."),
        Column("solder_g", "number", "Solder added.", "g"),
    ),
    one_of=((("date",), ("start", "finish")),),
)

METAL_PRICES = Table(
    "metal_prices",
    "One row a metal and day.",
    (
        Column("date", "date", "Day, or month, of the price.", need="yes"),
        Column("metal", "choice", "Which metal.", need="yes", options=("gold", "silver", "platinum", "palladium")),
        Column("price", "number", "Price of the fine metal.", "money", need="yes", above_zero=True),
        Column("currency", "code", "ISO 4217 code; blank: the shop's currency."),
        Column("per", "choice", "Weight the price is for.", options=("ozt", "g", "kg"), default="g"),
    ),
    need=True,
)

FX = Table(
    "fx",
    "One row a currency and day.",
    (
        Column("date", "date", "Day of the rate.", need="yes"),
        Column("currency", "code", "Foreign currency, ISO 4217.", need="yes"),
        Column("rate", "number", "Shop currency for one unit of the foreign currency.", "money", need="yes", above_zero=True),
    ),
)

METAL_LEDGER = Table(
    "metal_ledger",
    "One row a movement of metal into or out of the safe, a forward purchase, a refiner's charge or a count.",
    (
        Column("date", "date", "Day of the movement.", need="yes"),
        Column("kind", "choice", "What happened.", need="yes", options=LEDGER_KINDS),
        Column("metal", "code", "A metal, or the code of an alloy.", need="column"),
        Column("gross_g", "number", "Weight of the movement.", "g gross"),
        Column("fineness", "number", "Fineness; blank: the alloy's, 999.9 for a metal.", "per mille", high=1000.0, above_zero=True),
        Column("cost", "number", "Money before tax for the whole row.", "money"),
        Column("lot", "code", "Number of a refiner's lot."),
        Column("order_id", "code", "Order of a customer's metal."),
        Column("due_on", "date", "Day by which it should be back or paid."),
    ),
)

METAL_BOOK = Table(
    "metal_book",
    "One row a period, stage and alloy: what was given out and what came back.",
    (
        Column("from", "date", "First day.", need="yes"),
        Column("to", "date", "Last day.", need="yes"),
        Column("stage", "code", "Stage, blank: the whole bench."),
        Column("alloy", "code", "Alloy.", need="yes"),
        Column("given_g", "number", "Given out.", "g gross", need="yes"),
        Column("work_back_g", "number", "Work that came back.", "g gross", need="yes"),
        Column("scrap_back_g", "number", "Clean scrap that came back.", "g gross", default=0.0),
        Column("filings_back_g", "number", "Filings that came back.", "g gross", default=0.0),
    ),
)

ABSENCES = Table(
    "absences",
    "One row a stretch of absence; never a reason.",
    (
        Column("worker", "code", "Initials or a number.", need="yes"),
        Column("from", "date", "First day.", need="yes"),
        Column("to", "date", "Last day.", need="yes"),
        Column("planned", "yes_no", "Known beforehand.", default=False),
        Column("paid", "yes_no", "Paid.", default=True),
    ),
)

HOLDS = Table(
    "holds",
    "One row a stretch in which an order could not be worked on.",
    (
        Column("order_id", "code", "The order.", need="yes"),
        Column("from", "date", "First day.", need="yes"),
        Column("to", "date", "Last day, blank while it lasts."),
        Column("why", "choice", "What was waited for.", options=("customer", "part", "assay", "outwork"), default="customer"),
    ),
)

OVERHEADS = Table(
    "overheads",
    "One row a cost that no order causes; bench wages do not belong here.",
    (
        Column("month", "month", "Month of the cost."),
        Column("month_from", "month", "First month of a cost that recurs."),
        Column("month_to", "month", "Last month of a cost that recurs."),
        Column("item", "text", "Rent, insurance, power …", need="yes"),
        Column("amount", "number", "Amount a month before tax.", "money", need="yes"),
    ),
    one_of=((("month",), ("month_from", "month_to")),),
)

QUOTES = Table(
    "quotes",
    "One row a quote given.",
    (
        Column("quote_id", "code", "Number of the quote.", need="yes"),
        Column("quoted_on", "date", "Day it was given.", need="yes"),
        Column("style", "code", "Style.", need="yes"),
        Column("alloy", "code", "Alloy.", need="yes"),
        Column("weight_g", "number", "Weight quoted.", "g gross", need="yes", above_zero=True),
        Column("price", "number", "Price quoted before tax.", "money", need="yes", above_zero=True),
        Column("lead_weeks", "number", "Weeks to delivery named in the quote.", "weeks"),
        Column("won", "yes_no", "Became an order; blank while unanswered.", need="column", default=None),
        Column("order_id", "code", "The order it became."),
    ),
    key="quote_id",
)

PAYMENTS = Table(
    "payments",
    "One row a payment by a customer.",
    (
        Column("order_id", "code", "The order.", need="yes"),
        Column("date", "date", "Day it came in.", need="yes"),
        Column("amount", "number", "Amount before tax.", "money", need="yes", low=float("-inf")),
    ),
)

PRICE_LIST = Table(
    "price_list",
    "One row a line of the price list.",
    (
        Column("style", "code", "Style.", need="yes"),
        Column("alloy", "code", "Alloy.", need="yes"),
        Column("width_mm", "number", "Width.", "mm", above_zero=True),
        Column("weight_g_per_cm", "number", "Weight of a centimetre.", "g gross per cm", above_zero=True),
        Column("price_per_cm", "number", "Price of a centimetre.", "money per cm", above_zero=True),
        Column("price_per_g", "number", "Price of a gram.", "money per g gross", above_zero=True),
        Column("struck_on", "date", "Day the price was struck.", need="yes"),
    ),
    one_of=((("price_per_cm",), ("price_per_g",)),),
)

TABLES: dict[str, Table] = {
    table.name: table
    for table in (
        ORDERS, LABOUR, METAL_PRICES, FX, METAL_LEDGER, METAL_BOOK, ABSENCES, HOLDS, OVERHEADS, QUOTES, PAYMENTS, PRICE_LIST,
    )
}
"""All tables by name, in the order in which they are read and reported."""
