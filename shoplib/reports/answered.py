"""What a report has said, kept for the reports that build on it."""

from __future__ import annotations

from types import ModuleType

from ..cache import cached
from ..intake.shop import Shop
from .answer import Answer, Parameters


def answer_of(report: ModuleType, shop: Shop, parameters: Parameters) -> Answer:
    """Return a report's answer, from the cache where it is kept: the monthly review reads what the others have said.

    Parameters
    ----------
    report : module
        With ``answer(shop, parameters)``.
    shop : Shop
        The cleaned tables.
    parameters : Parameters
        As validated by the report's model.
    """
    key = [shop.fingerprint, sorted(shop.inputs.items()), parameters.model_dump(mode="json")]
    answer: Answer = cached(f"answer_{report.__name__.rpartition('.')[2]}", key, lambda: report.answer(shop, parameters))
    return answer
