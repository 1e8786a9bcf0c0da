"""The cautions that every answer carries, whatever it was asked."""

from collections.abc import Sequence

from claywit.report.report import ModelUsed

ELICITED = "elicited, no reference pieces"
ALWAYS = (
    (
        "This is a statistical opinion about manufacture, not a guarantee, a valuation, or a"
        " statement of title or export status."
    ),
    (
        "Cultural-property law, appraisal standards and licensed practice come first."
        " Examine without harm: no wetting, scratching, tape, solvent or sampling."
    ),
)


def grounds(models: Sequence[ModelUsed]) -> list[str]:
    """Return what an answer by the *models* rests on, or does not."""
    found = []
    if any(model.status == "demonstration" for model in models):
        found.append(
            "Demonstration model of an invented tradition: no real piece, no real opinion."
        )
    if not all(model.reference_pieces for model in models):
        found.append(
            "The model's numbers are elicited judgement; no reference pieces stand behind them."
        )
    return found


def limits(models: Sequence[ModelUsed]) -> tuple[str, ...]:
    """Return what the *models* rest on, and what an opinion is not."""
    return (*grounds(models), *ALWAYS)
