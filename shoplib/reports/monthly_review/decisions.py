"""What is to be decided: each decision read from the report that knows it, with odds, money, reason and that report's name.

To add a decision: one function here that takes the answers and returns a `Decision` or None, and its name in `ASKED`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import pandas as pd

from ...settings import Settings
from ..answer import Answer
from ..hiring.headline import horizon
from ..sentences import Writing, count, listed

Answers = Mapping[str, Answer]


@dataclass(frozen=True)
class Decision:
    """One thing to decide: question, answer, odds that it is right (None: counted), money at stake, reason, report.

    ``cash``: the money is a purchase, neither gained nor lost.
    """

    question: str
    answer: str
    odds: float | None
    money: float | None
    because: str
    report: str
    cash: bool = False


Ask = Callable[[Answers, Settings, Writing], Decision | None]


def hire(answers: Answers, settings: Settings, writing: Writing) -> Decision | None:
    """Another person, or what else: the first plan with people, as the hiring report ranks it."""
    told = answers.get("hiring")
    plans = _table(told, "candidates")
    able = plans[plans["npv"].notna() & ~plans["kind"].isin(["nothing", "price"])] if len(plans) else plans
    if told is None or able.empty:
        return None
    best = able.iloc[0]
    pays = float(best["npv"]) > 0 and float(best["payback_probability"]) >= 0.66
    answer = str(best["candidate"]) if pays else "Not now"
    money = writing.money_span(float(best["npv_low"]), float(best["npv_high"]))
    because = f"Over {horizon(settings.hire.horizon_months)} it leaves {money} more than doing nothing, 8 times in 10."
    return Decision("Another pair of hands?", answer, float(best["payback_probability"]), float(best["npv"]), because, "hiring")


def prices(answers: Answers, settings: Settings, writing: Writing) -> Decision | None:
    """Which lines to reprice: those short of the target, and what new prices would bring a year."""
    lines = _table(answers.get("price_sensitivity"), "price_list")
    if lines.empty:
        return None
    short = lines[lines["change_share"] > 0]
    if short.empty:
        return Decision("New prices?", "None this month", None, 0.0, "Every line reaches its target at today's metal.", "price_sensitivity")
    money = float(short["money_at_stake"].fillna(0.0).sum())
    first = short.sort_values("money_at_stake", ascending=False)["line"].astype(str).tolist()
    all_of = f"All {writing.number(len(lines))}"
    who = all_of if len(short) == len(lines) else f"{writing.number(len(short))} of {writing.number(len(lines))}"
    because = f"{who} lines miss the target at today's metal; new prices bring this a year, if customers order as before."
    answer = f"Raise {listed([_spoken(line) for line in first[:2]])} first"
    return Decision("New prices?", answer, None, money, because, "price_sensitivity")


def calls(answers: Answers, settings: Settings, writing: Writing) -> Decision | None:
    """Whom to call: open orders likely late, in the order of days late × price."""
    orders = _table(answers.get("lead_time"), "open_orders")
    late = orders[orders["late_probability"].fillna(0.0) >= 0.5].sort_values("call_rank") if len(orders) else orders
    if late.empty:
        return None
    ids = late["order_id"].astype(str).tolist()
    odds = float(late["late_probability"].mean())
    worth = writing.money(float(late["price"].fillna(0.0).sum()), step=1000.0)
    about = writing.number(float(orders["late_probability"].sum()))
    many = f"{count(len(late), 'open order', writing=writing)}, worth {worth}, {'is' if len(late) == 1 else 'are'}"
    because = f"{many} more likely late than not; by the sum of all odds {about} will be late."
    return Decision("Which promises to renew?", f"Call {listed(ids[:3])} first", odds, None, because, "lead_time")


def take_first(answers: Answers, settings: Settings, writing: Writing) -> Decision | None:
    """What to take first and refuse last while the limiting bench is full."""
    told = answers.get("margin")
    groups, loads = _table(told, "groups"), _table(told, "loads")
    full = loads[loads["limits"].astype(bool) & (loads["load"] >= 0.9)] if len(loads) else loads
    if groups.empty or full.empty:
        return None
    in_alloy = groups["group"].astype(str).str.contains(" · ", regex=False)
    ranked = groups[(groups["by"] == "style_alloy") & groups["rank"].notna() & in_alloy].sort_values("rank")
    if len(ranked) < 2 or not ranked["low"].iloc[0] > ranked["high"].iloc[-1]:
        return None
    best, worst, bench = ranked.iloc[0], ranked.iloc[-1], str(full["skill"].iloc[0])
    gap = float(best["contribution_per_limiting_hour"] - worst["contribution_per_limiting_hour"])
    answer = f"{_capital(_spoken(best['group']))} first, {_spoken(worst['group'])} last"
    because = f"An hour at {bench}, which is full, brings {writing.money(gap, step=1.0)} more on the first."
    return Decision("Which orders first?", answer, None, None, because, "margin")


def metal(answers: Answers, settings: Settings, writing: Writing) -> Decision | None:
    """Metal to buy in the next four weeks and the cash it takes."""
    weeks = _table(answers.get("price_sensitivity"), "metal_to_buy")
    if weeks.empty:
        return None
    near = weeks[weeks["week"].isin(sorted(weeks["week"].unique())[:4])]
    main = near.groupby("metal")[["fine_g", "money"]].sum().sort_values("money", ascending=False)
    if main.empty or not main["money"].iloc[0] > 0:
        return None
    grams, money = float(main["fine_g"].iloc[0]), float(main["money"].sum())
    because = "Work that starts in the next four weeks needs it; in half of the simulated runs it needs more."
    answer = f"Buy {writing.unit(grams, f'g of fine {main.index[0]}')} within four weeks"
    return Decision("Metal to buy?", answer, 0.5, money, because, "price_sensitivity", cash=True)


def refiner(answers: Answers, settings: Settings, writing: Writing) -> Decision | None:
    """Lots at the refiner that are overdue."""
    told = answers.get("metal_balance")
    lots = _table(told, "filings")
    late = lots[lots["overdue_days"].fillna(0) > 0] if len(lots) else lots
    if late.empty:
        return None
    longest = late.sort_values("overdue_days", ascending=False)
    grams = float(late["expected_g"].fillna(0.0).sum())
    because = f"{writing.grams(grams)} are expected; the longest is {writing.unit(float(longest['overdue_days'].iloc[0]), 'days')} overdue."
    lots_named = listed(list(dict.fromkeys(longest["lot"].astype(str))), 2)
    return Decision("Remind the refiner?", f"Ask for lot {lots_named}", None, None, because, "metal_balance")


def missing(answers: Answers, settings: Settings, writing: Writing) -> Decision | None:
    """Metal that weighing cannot explain: what to check first."""
    told = answers.get("metal_balance")
    whole = _table(told, "balance")
    if told is None or whole.empty or "not explained" not in told.headline:
        return None
    return Decision("Where is the metal?", "Check scale, fineness, scrap and the filings lot", 0.95, None, told.headline, "metal_balance")


def one_head(answers: Answers, settings: Settings, writing: Writing) -> Decision | None:
    """Skills that only one person has."""
    there = [one for one in settings.workers if one.left_on is None]
    needed = list(dict.fromkeys(stage.needs for stage in settings.stages))
    alone = [skill for skill in needed if sum(skill in one.skills for one in there) == 1]
    if not alone:
        return None
    away = _table(answers.get("throughput"), "without_one")
    cost = away[away["skill"].isin(alone)]["contribution_lost"].dropna() if len(away) else pd.Series(dtype=float)
    money = float(cost.max()) if len(cost) else None
    because = "If that person is away nobody else can do it."
    return Decision("Who learns what?", f"Teach a second person to {listed(alone, 3)}", None, money, because, "throughput")


ASKED: tuple[Ask, ...] = (hire, prices, calls, take_first, metal, refiner, missing, one_head)
"""In the order in which equal stakes are listed."""


def decisions(answers: Answers, settings: Settings, writing: Writing) -> pd.DataFrame:
    """Return table ``decisions``, ranked by money at stake; what metal costs comes after that, those without an amount last.

    Parameters
    ----------
    answers : mapping of str to Answer
        What the other reports say; reports that could not be made are left out.
    settings : Settings
        Skills of the workers.
    writing : Writing
        How the shop writes numbers.
    """
    found = [one for one in (ask(answers, settings, writing) for ask in ASKED) if one is not None]
    order = sorted(range(len(found)), key=lambda at: (found[at].money is None, found[at].cash, -abs(found[at].money or 0.0), at))
    rows = [
        (rank, one.question, one.answer, one.odds, one.money, one.because, one.report)
        for rank, one in enumerate([found[at] for at in order], 1)
    ]
    return pd.DataFrame(rows, columns=["rank", "question", "answer", "odds", "money", "because", "report"])


def _table(answer: Answer | None, name: str) -> pd.DataFrame:
    return answer.table(name) if answer is not None and name in answer.tables else pd.DataFrame()


def _spoken(name: object) -> str:
    """Return the name of a line or group as a sentence says it: ``curb 18k yellow 7 mm``."""
    return str(name).replace(" · ", " ")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
