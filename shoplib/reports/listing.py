"""What `shoplib list` says: each report's question and its parameters."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pydantic_core import PydanticUndefined

from .discover import Report, reports


def lines(known: Sequence[Report] | None = None) -> Iterator[str]:
    """Return the lines: name and question of each report, then its parameters with default and meaning."""
    for report in known if known is not None else reports():
        yield f"{report.name}: {report.module.QUESTION}"
        for name, info in report.module.Parameters.model_fields.items():
            default = "" if info.default in (None, PydanticUndefined) else f" = {info.default}"
            yield f"    {name}{default}    {info.description or ''}".rstrip()
