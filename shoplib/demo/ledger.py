"""The metal ledger of the invented workshop: what was bought, borrowed, lent by customers, counted and refined.

The safe holds fine gold, palladium, a box of clean scrap for each alloy and the shop's own solder. Every gram of the
play passes through it, so the books balance but for the counting.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from random import Random

from ..units import FINEST
from .catalogue import ALLOYS
from .metal import Flows
from .order import Order
from .parameters import World
from .people import is_open
from .prices import Spot

FINE = FINEST / 1000
OPENING_G = {"gold": 1800.0, "palladium": 160.0}
OPENING_BOX_G = 130.0
SOLDER_MADE_G = 120.0
SCRAP_IN_A_MELT, SCRAP_FROM_A_FULL_BOX, FULL_BOX_G = 0.05, 0.5, 260.0
"""Share of a melt that is clean scrap, and the share when the box is full."""
LEAST_G = {"gold": 420.0, "palladium": 45.0}
BAR_G = {"gold": 1000.0, "palladium": 100.0}
MONTHLY_COUNTS_FROM = date(2025, 4, 1)
OPENING_BELOW_SPOT = 0.985
LEAST_LOT_G = 1.0
SCRAP_SENT_SHARE = 0.6
REFINED_FROM_SCRAP = 0.996
SCRAP_SENT_ON = (date(2025, 2, 10), date(2026, 2, 9))
SCRAP_BOXES_SENT = (0, 1)


@dataclass(frozen=True)
class Row:
    """One row of metal_ledger."""

    day: date
    kind: str
    metal: str = ""
    gross_g: float | None = None
    fineness: float | None = None
    cost: float | None = None
    lot: str = ""
    order: int = -1
    due_on: date | None = None


@dataclass
class Lot:
    """A parcel of filings or scrap on its way to the refiner."""

    name: str
    sent: date
    gold_g: float
    palladium_g: float
    share_back: float
    settled: date


class Safe:
    """Grams in the safe, moved day by day through the history; `rows` is the ledger."""

    def __init__(self, world: World, spot: Spot, flows: Flows, orders: list[Order]) -> None:
        self.world, self.spot, self.flows = world, spot, flows
        self.luck = Random(f"{world.seed} ledger")
        self.rows: list[Row] = []
        self.lots: list[Lot] = []
        self.fine = dict(OPENING_G)
        self.box = [OPENING_BOX_G] * len(ALLOYS)
        self.solder = [SOLDER_MADE_G] * len(ALLOYS)
        self.filings = [0.0, 0.0]
        self._next_lot = world.metal.lot_days
        self._customers = _customers_gold(world, orders, self.luck)

    def run(self) -> list[Row]:
        """Move the safe through the whole history and return the ledger, oldest row first."""
        self._count(self.world.first_day, opening=True)
        for index in range(self.world.days):
            day = self.world.day(index)
            self._dealings(day)
            self._from_refiner(day)
            self._customers_in(index)
            self._buy(index, day)
            self._work(index)
            self._customers_out(index)
            self._to_refiner(index, day)
            if _counts(day):
                self._count(day)
        return self.rows

    def _add(self, day: date, kind: str, metal: str = "", gross_g: float | None = None, **more: float | str | int | date | None) -> None:
        self.rows.append(Row(day, kind, metal, gross_g, **more))  # type: ignore[arg-type]

    def _count(self, day: date, opening: bool = False) -> None:
        """Count each drawer; the scale and the counter are a little off."""
        for metal, fine in self.fine.items():
            self._counted(day, metal, fine / FINE, None, opening)
        for alloy, grams in zip(ALLOYS, self.box, strict=True):
            self._counted(day, alloy.code, grams, alloy.melted_fineness, False)
        for fineness in sorted({alloy.fineness for alloy in ALLOYS}):
            grams = sum(held for alloy, held in zip(ALLOYS, self.solder, strict=True) if alloy.fineness == fineness)
            self._counted(day, "gold", grams, fineness, opening)

    def _counted(self, day: date, metal: str, grams: float, fineness: float | None, costed: bool) -> None:
        gross = round(max(0.0, grams + self.luck.gauss(0.0, self.world.metal.count_error_g)), 2)
        fine = gross * (fineness or FINEST) / 1000
        cost = round(fine * self.spot.on(day, metal) * OPENING_BELOW_SPOT, 2) if costed else None
        self._add(day, "stock_count", metal, gross, fineness=fineness, cost=cost)

    def _work(self, index: int) -> None:
        """Metal given out, clean scrap back and solder of one day."""
        for number, alloy in enumerate(ALLOYS):
            self._melt(number, self.flows.issued[number][index])
            self.box[number] += self.flows.scrap[number][index]
            self.solder[number] -= self.flows.solder[number][index]
            if self.solder[number] < SOLDER_MADE_G / 4:
                self.fine["gold"] -= SOLDER_MADE_G * alloy.fineness / 1000
                self.solder[number] += SOLDER_MADE_G
            self.filings[0] += self.flows.lost[number][index] * alloy.melted_fineness / 1000
            self.filings[1] += self.flows.lost[number][index] * alloy.palladium / 1000

    def _melt(self, number: int, grams: float) -> None:
        alloy = ALLOYS[number]
        share = SCRAP_FROM_A_FULL_BOX if self.box[number] > FULL_BOX_G else SCRAP_IN_A_MELT
        old = min(self.box[number], share * grams)
        self.box[number] -= old
        self.fine["gold"] -= (grams - old) * alloy.melted_fineness / 1000
        self.fine["palladium"] -= (grams - old) * alloy.palladium / 1000

    def _needs(self, index: int, days: int, metal: str) -> float:
        """Fine grams the melts of the next days take."""
        per_g = [a.melted_fineness / 1000 if metal == "gold" else a.palladium / 1000 for a in ALLOYS]
        return sum(share * sum(given[index : index + days]) for share, given in zip(per_g, self.flows.issued, strict=True))

    def _buy(self, index: int, day: date) -> None:
        """Buy by the bar, once a week or when the day's melts would empty the safe."""
        for metal in self.fine:
            weekly = day.weekday() == 1 and self.fine[metal] < LEAST_G[metal] + self._needs(index, 7, metal)
            if not weekly and self.fine[metal] - self._needs(index, 1, metal) > LEAST_G[metal] / 2:
                continue
            bars = 1 + int((self._needs(index, 8, metal) + LEAST_G[metal] - self.fine[metal]) / BAR_G[metal])
            gross = max(1, bars) * BAR_G[metal]
            price = self.spot.on(day, metal) * (1 + self.world.metal.premium_over_spot)
            self._add(day, "bought", metal, gross, cost=round(gross * FINE * price, 2))
            self.fine[metal] += gross * FINE

    def _dealings(self, day: date) -> None:
        """What happens once: a sale, a loan priced in part and returned, a forward purchase, two parcels of scrap."""
        spot = self.spot.on(day)
        if day == date(2025, 5, 20):
            self._gold(day, "sold", -200.0, cost=round(200 * FINE * spot * 0.994, 2))
        elif day == date(2025, 9, 15):
            self._gold(day, "borrowed", 900.0, due_on=date(2025, 12, 15))
        elif day == date(2025, 10, 20):
            self._add(day, "priced", "gold", 500.0, cost=round(500 * FINE * spot, 2))
        elif day == date(2025, 12, 10):
            self._gold(day, "returned", -400.0)
        elif day == date(2026, 9, 21):
            self._add(day, "bought_forward", "gold", 1000.0, cost=round(1000 * FINE * spot * 1.007, 2), due_on=date(2026, 12, 15))
        elif day in SCRAP_SENT_ON:
            for number in SCRAP_BOXES_SENT:
                self._send_scrap(number, day)

    def _gold(self, day: date, kind: str, gross_g: float, **more: float | date) -> None:
        self._add(day, kind, "gold", abs(gross_g), **more)
        self.fine["gold"] += gross_g * FINE

    def _send_scrap(self, number: int, day: date) -> None:
        alloy, gross = ALLOYS[number], round(SCRAP_SENT_SHARE * self.box[number], 2)
        if gross <= 0:
            return
        self.box[number] -= gross
        share_back = REFINED_FROM_SCRAP * (1 - self.world.metal.refiner_keeps)
        lot = Lot(f"S{day:%y%m}-{number + 1}", day, gross * alloy.melted_fineness / 1000, 0.0, share_back, day + timedelta(days=22))
        self._add(day, "refining_sent", alloy.code, gross, fineness=alloy.melted_fineness, lot=lot.name, due_on=lot.settled)
        self.lots.append(lot)

    def _to_refiner(self, index: int, day: date) -> None:
        """Filings and sweeps go to the refiner every few weeks."""
        metal = self.world.metal
        if index < self._next_lot or not is_open(day) or sum(self.filings) < LEAST_LOT_G:
            return
        self._next_lot = index + metal.lot_days
        low, high = metal.settled_after_days
        share = self.luck.gauss(metal.recovery, metal.recovery_spread) * (1 - metal.refiner_keeps)
        settled = day + timedelta(days=self.luck.randint(low, high))
        while not is_open(settled):
            settled += timedelta(days=1)
        lot = Lot(f"F{day:%y%m%d}", day, self.filings[0], self.filings[1], share, settled)
        fineness = 410.0 + 10 * self.luck.randrange(8)
        gross = round(self.filings[0] * metal.recovery / fineness * 1000, 1)
        self._add(day, "filings_sent", "gold", gross, fineness=fineness, lot=lot.name, due_on=day + timedelta(days=42))
        self.filings = [0.0, 0.0]
        self.lots.append(lot)

    def _from_refiner(self, day: date) -> None:
        late = self._late_lot()
        for lot in self.lots:
            if lot.settled != day or lot is late:
                continue
            for metal, grams in (("gold", lot.gold_g), ("palladium", lot.palladium_g)):
                gross = round(grams * lot.share_back / FINE, 2)
                if gross > 0:
                    self._add(day, "refined_back", metal, gross, lot=lot.name)
                    self.fine[metal] += gross * FINE
            self._add(day, "refining_charge", "", None, cost=round(65 + 0.55 * lot.gold_g, 2), lot=lot.name)

    def _late_lot(self) -> Lot | None:
        """The lot sent about nine weeks before the end: the refiner has forgotten it."""
        return next((lot for lot in self.lots if lot.name[0] == "F" and 48 <= (self.world.last_day - lot.sent).days < 90), None)

    def _customers_in(self, index: int) -> None:
        for order, grams in self._customers.get(index, []):
            if grams > 0:
                alloy = ALLOYS[order.piece.alloy]
                self._add(self.world.day(index), "customer_in", alloy.code, grams, fineness=alloy.melted_fineness, order=order.number)
                self.box[order.piece.alloy] += grams

    def _customers_out(self, index: int) -> None:
        for order, grams in self._customers.get(index, []):
            if grams < 0:
                alloy = ALLOYS[order.piece.alloy]
                self._add(self.world.day(index), "customer_out", alloy.code, -grams, fineness=alloy.melted_fineness, order=order.number)
                lacking = max(0.0, -grams - self.box[order.piece.alloy])
                self._melt_into_box(order.piece.alloy, lacking)
                self.box[order.piece.alloy] += grams

    def _melt_into_box(self, number: int, grams: float) -> None:
        self.fine["gold"] -= grams * ALLOYS[number].melted_fineness / 1000
        self.fine["palladium"] -= grams * ALLOYS[number].palladium / 1000
        self.box[number] += grams


def _customers_gold(world: World, orders: list[Order], luck: Random) -> dict[int, list[tuple[Order, float]]]:
    """Gold customers bring (above 0) and take back beside the piece (below 0), by day; a few still have some to come."""
    found: dict[int, list[tuple[Order, float]]] = {}
    for order in orders:
        if order.terms != "customer_metal":
            continue
        brought = round(order.piece.metal_g * luck.uniform(1.06, 1.35), world.digits)
        found.setdefault(order.ordered, []).append((order, brought))
        if order.cancelled >= 0:
            found.setdefault(order.cancelled, []).append((order, -brought))
        elif 0 <= order.delivered < world.days and luck.random() < 0.9:
            back = round(brought - order.finished_g * (1 + world.metal.customer_allowance), world.digits)
            if back > 0:
                found.setdefault(order.delivered, []).append((order, -back))
    return found


def _counts(day: date) -> bool:
    """Counts stand on the last open day of each quarter, later of each month."""
    nxt = day + timedelta(days=1)
    while nxt.month == day.month and not is_open(nxt):
        nxt += timedelta(days=1)
    last = is_open(day) and nxt.month != day.month
    return last and (day >= MONTHLY_COUNTS_FROM or day.month % 3 == 0)
