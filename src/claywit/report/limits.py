"""The cautions that every answer carries, whatever it was asked."""

from collections.abc import Iterable

from claywit.report.report import ModelUsed
from claywit.report.wording import ALWAYS


def limits(models: Iterable[ModelUsed]) -> tuple[str, ...]:
    """Return what the *models* rest on, and what an opinion is not."""
    used = list(models)
    found = []
    if any(model.status == "demonstration" for model in used):
        found.append(
            "Demonstration model of an invented tradition: no real piece, no real opinion."
        )
    if not all(model.reference_pieces for model in used):
        found.append(
            "The model's numbers are elicited judgement; no reference pieces stand behind them."
        )
    return (*found, *ALWAYS)
