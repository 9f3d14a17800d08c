"""Rows of the answer's tables as the page needs them."""

from __future__ import annotations

from typing import Any

import pandas as pd

from ..answer import Answer


def rows_of(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the rows as plain mappings, missing values None."""
    values = frame.astype(object).where(frame.notna(), None)
    return [dict(zip(map(str, frame.columns), row, strict=True)) for row in values.itertuples(index=False, name=None)]


def metals_of(answer: Answer) -> list[str]:
    """Return the metals, the one shown first first."""
    return [str(metal) for metal in answer.table("metals").sort_values("rank")["metal"]] if answer.tables["metals"].rows else []


def balance_rows(answer: Answer, metal: str) -> pd.DataFrame:
    """Return all balances of one metal."""
    frame = answer.table("balance")
    return frame[frame["metal"] == metal]


def between_rows(answer: Answer, metal: str) -> pd.DataFrame:
    """Return the balances of one metal between counts, oldest first."""
    frame = balance_rows(answer, metal)
    return frame[frame["span"] == "between counts"].sort_values("to")
