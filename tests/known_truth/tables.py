"""What the shop's owner would have written down of a play: the tables of DATA, with the noise of real cards."""

from __future__ import annotations

import json
import random
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd

from . import parameters as p
from .paths import stream
from .people import closures, first_played
from .things import Order, Played

WRITING_LUCK = 31


def day_text(day: int) -> str:
    """Return the date of a day counted from the first day played."""
    return (first_played() + timedelta(days=day)).isoformat()


def as_of_day(played: Played) -> int:
    """Return the last day of the records: the last played."""
    return played.n_days - 1


def write(played: Played, folder: Path, until: int | None = None) -> None:
    """Write one CSV file a table, shop.toml and truth.json into `folder`, records up to day `until` (default: the last played)."""
    folder.mkdir(parents=True, exist_ok=True)
    last = as_of_day(played) if until is None else until
    tables = frames(played, last)
    for name, frame in tables.items():
        frame.to_csv(folder / f"{name}.csv", index=False)
    (folder / "shop.toml").write_text(settings_text(played), encoding="utf-8")
    (folder / "truth.json").write_text(
        json.dumps({"kind": played.truth.kind, "limiting": played.truth.limiting, "seed": played.truth.seed})
    )


def frames(played: Played, last: int) -> dict[str, pd.DataFrame]:
    """Return the tables as the owner keeps them, rows up to day `last`."""
    first = p.WARM_UP_DAYS
    kept = {o.number: o for o in played.orders if o.day <= last and o.delivered >= first}
    tables = {
        "orders": _orders(played, list(kept.values()), last),
        "labour": _labour(played, kept, first, last),
        "metal_prices": _prices(played, last),
    }
    optional = {
        "quotes": _quotes(played, kept, first, last),
        "absences": _absences(played, first, last),
        "holds": _holds(played, kept, last),
    }
    return tables | {name: frame for name, frame in optional.items() if name in played.truth.tables}


def order_code(number: int) -> str:
    """Return the number on the job card."""
    return f"N{number:05d}"


def _orders(played: Played, orders: list[Order], last: int) -> pd.DataFrame:
    t, rows = played.truth, []
    for o in orders:
        done = o.delivered <= last
        weight = o.grams * float(np.exp(stream(t, WRITING_LUCK, o.number).gauss(0.0, p.WEIGHT_GAIN_SD)))
        rows.append(
            {
                "order_id": order_code(o.number),
                "ordered_on": day_text(o.day),
                "style": t.styles[o.style].name,
                "alloy": t.alloys[o.alloy].code,
                "price": o.price,
                "quoted_weight_g": o.grams,
                "finished_weight_g": round(weight, 2) if done else None,
                "first_promised_on": day_text(o.promised),
                "promised_on": day_text(o.promised),
                "rush": "y" if o.rush else "n",
                "delivered_on": day_text(o.delivered) if done else None,
            }
        )
    return pd.DataFrame(rows)


def _labour(played: Played, kept: dict[int, Order], first: int, last: int) -> pd.DataFrame:
    luck, t = random.Random(played.truth.seed * 37 + WRITING_LUCK), played.truth
    rows: list[dict[str, object]] = []
    carried: dict[tuple[int, int], float] = {}
    for e in played.entries:
        day, key = int(e.start // 24), (e.order, e.place)
        hours = e.hours + carried.pop(key, 0.0)
        written = round(hours / p.ROUNDING_H) * p.ROUNDING_H
        if not e.last and written == 0:
            carried[key] = hours
            continue
        if e.order not in kept or not first <= day <= last or luck.random() < p.FORGOTTEN_SHARE:
            continue
        order = kept[e.order]
        row: dict[str, object] = {
            "order_id": order_code(e.order),
            "stage": t.benches[e.stage].name,
            "worker": played.people[e.person].code,
            "rework": "y" if order.path[e.place].again else "n",
        }
        row |= _clock(day, e.start, e.finish) if t.clock else {"date": day_text(day)}
        row["hours"] = max(p.ROUNDING_H, written)
        if t.weighed:
            row["weight_out_g"] = round(order.grams * 1.02, 2) if e.last else None
        rows.append(row)
    return pd.DataFrame(rows)


def _clock(day: int, start: float, finish: float) -> dict[str, str]:
    step = p.CLOCK_ROUNDING_MIN
    minutes = [round((time - 24.0 * day) * 60 / step) * step for time in (start, finish)]
    minutes[1] = max(minutes[1], minutes[0] + step)
    return dict(zip(("start", "finish"), (f"{day_text(day)} {m // 60:02d}:{m % 60:02d}" for m in minutes), strict=True))


def _prices(played: Played, last: int) -> pd.DataFrame:
    days = [day for day in range(last + 1) if (first_played().weekday() + day) % 7 < 5]
    return pd.DataFrame({"date": [day_text(day) for day in days], "metal": "gold", "price": played.spot[days], "per": "g"})


def _quotes(played: Played, kept: dict[int, Order], first: int, last: int) -> pd.DataFrame:
    t = played.truth
    return pd.DataFrame(
        [
            {
                "quote_id": f"Q{q.number:05d}",
                "quoted_on": day_text(q.day),
                "style": t.styles[q.style].name,
                "alloy": t.alloys[q.alloy].code,
                "weight_g": q.grams,
                "price": q.price,
                "lead_weeks": q.weeks,
                "won": ("y" if q.won else "n") if _answered(q.number, q.won, q.day, kept, last) else None,
                "order_id": order_code(q.number) if q.won and q.number in kept else None,
            }
            for q in played.quotes
            if first <= q.day <= last
        ]
    )


def _answered(number: int, won: bool, day: int, kept: dict[int, Order], last: int) -> bool:
    return number in kept if won else day + p.ANSWER_DAYS <= last


def _absences(played: Played, first: int, last: int) -> pd.DataFrame:
    rows = []
    for person, days in zip(played.people, played.days, strict=True):
        owed = np.flatnonzero(days.owed_h > 0)
        for planned in (True, False):
            away = (days.planned if planned else days.unplanned & ~days.planned)[owed]
            starts = np.flatnonzero(away & ~np.concatenate([[False], away[:-1]]))
            ends = np.flatnonzero(away & ~np.concatenate([away[1:], [False]]))
            rows += [
                {"worker": person.code, "from": day_text(int(owed[a])), "to": day_text(int(owed[b])), "planned": "y" if planned else "n"}
                for a, b in zip(starts, ends, strict=True)
                if owed[b] >= first and owed[a] <= last
            ]
    return pd.DataFrame(rows, columns=["worker", "from", "to", "planned"])


def _holds(played: Played, kept: dict[int, Order], last: int) -> pd.DataFrame:
    return pd.DataFrame(
        [
            {"order_id": order_code(n), "from": day_text(a), "to": day_text(b) if b <= last else None, "why": "part"}
            for n, a, b in played.holds
            if n in kept and a <= last
        ],
        columns=["order_id", "from", "to", "why"],
    )


def settings_text(played: Played) -> str:
    """Return the shop's shop.toml."""
    t = played.truth
    shut = ", ".join(f'["{a.isoformat()}", "{b.isoformat()}"]' for a, b in closures(played.n_days + 3 * 366))
    lines = [f'[shop]\nname = "{t.name}"\ncurrency = "EUR"\n', f"[calendar]\nclosures = [{shut}]\n"]
    lines += [f'[[alloys]]\ncode = "{a.code}"\nmetal = "gold"\nfineness = {a.fineness:g}\n' for a in t.alloys]
    lines += [
        f'[[stages]]\nname = "{b.name}"\nskill = "{b.skill}"\n' + ("takes_metal = true\n" if i == 0 else "")
        for i, b in enumerate(t.benches)
    ]
    names = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
    for person in played.people:
        hours = ", ".join(f"{n} = {h:g}" for n, h in zip(names, person.week, strict=True) if h)
        skills = ", ".join(f'"{skill}"' for skill in person.skills)
        lines.append(
            f'[[workers]]\ncode = "{person.code}"\nskills = [{skills}]\nhours = {{ {hours} }}\nwage_per_hour = 26\non_costs_percent = 22\n'
        )
    lines.append(
        f'[hire]\nstages = ["solder"]\nwage_per_hour = 24\non_costs_percent = 22\nequipment = 3500\nstart_on = {_next_quarter(played)}\n'
    )
    return "\n".join(lines)


def _next_quarter(played: Played) -> str:
    last = date.fromisoformat(day_text(as_of_day(played)))
    return (last + timedelta(days=1)).isoformat()
