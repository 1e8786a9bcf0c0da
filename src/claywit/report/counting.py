"""What counting pieces cannot tell, said beside every answer that rests on a count."""

from collections.abc import Iterable, Iterator
from textwrap import fill

from claywit.learning.refit import MEASURED

WIDTH = 100
ALIKE = (
    "Every piece was counted by itself. Pieces of one find, one stock or one collection resemble"
    " each other, so where some are, the counts are worth less than they seem."
)


def fit_cautions(status: str, drawn: int) -> Iterator[str]:
    """Yield what a fit leaves open: *drawn* of its pieces bear ids as `simulate` gives them."""
    if drawn:
        yield (
            f"Pieces whose ids are as `claywit simulate` gives them: {drawn:,}. Nobody held them,"
            " so the new model is a demonstration."
        )
    elif status == "demonstration":
        yield "The model stays a demonstration. If its pieces are real, say so in `status`."
    elif status == "elicited":
        yield f"The model stays elicited: it has counted fewer than {MEASURED} pieces."
    yield (
        "Priors move too, towards how often each state stands in the file. Where somebody chose"
        " the pieces, that is the chooser's share and not that of what you will meet: look at the"
        " priors again."
    )
    yield f"{ALIKE} Intervals then come out too narrow."


def mould_cautions() -> Iterator[str]:
    """Yield what a count of moulds leaves open."""
    yield f"{ALIKE} Coverage is then too high, and the number of moulds too low."
    yield "Nothing is said of moulds whose pieces do not reach the places where these were met."


def bulleted(cautions: Iterable[str]) -> Iterator[str]:
    """Yield each caution as a bullet of lines that fit a terminal."""
    for caution in cautions:
        yield fill(caution, WIDTH, initial_indent=" · ", subsequent_indent="   ")


def share_said(share: float) -> str:
    """Return a share for people, never as 0 % or 100 %."""
    if share <= 0:
        return "none seen"
    if share >= 1:
        return "all"
    percent = f"{share:.1%}".replace("%", " %")
    return {"0.0 %": "under 0.1 %", "100.0 %": "over 99.9 %"}.get(percent, percent)
