"""The limiting bench as the margin page names it."""

from __future__ import annotations

from ..answer import Answer


def limiting(answer: Answer) -> tuple[str, float, bool]:
    """Name and load of the limiting bench, and whether an hour there is scarce; an empty name when none is known."""
    loads = answer.table("loads")
    row = loads[loads["limits"].astype(bool)]
    if row.empty:
        return "", 0.0, False
    return str(row["skill"].iloc[0]), float(row["load"].iloc[0] or 0.0), bool(row["scarce"].iloc[0])


def bench_of(answer: Answer) -> str:
    """Return the name of the limiting bench, or words for it when none is known."""
    return limiting(answer)[0] or "the limiting bench"


def first_up(text: str) -> str:
    """Return `text` with a capital first letter."""
    return text[:1].upper() + text[1:]
