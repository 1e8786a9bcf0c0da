"""The text of a model file after a fit."""

from collections.abc import Sequence
from dataclasses import dataclass

from claywit.evidence.cases import Cases
from claywit.inference.rehearsal import drawn_among
from claywit.learning.effective import effective
from claywit.learning.fit import Fit
from claywit.learning.unseen import Open, by_state, opened
from claywit.learning.writing import Changed, changes, edits
from claywit.model.rewriting import next_version, rewrite
from claywit.model.schema import Model
from claywit.model.source import Path

MEASURED = 30  # pieces, below which a model that was elicited stays so


@dataclass(frozen=True)
class Refitted:
    """A model file's new text, what changed in it, and its open states."""

    text: str
    changed: Sequence[Changed]
    opened: Sequence[Open]


def refitted(
    text: str, fit: Fit, used: Cases, file: tuple[str, str], *, floor: bool = True
) -> Refitted:
    """Return the file of a fitted model, comments, order and sources as they were.

    Args:
        text: the file as it was.
        fit: the fit.
        used: the pieces that it used.
        file: the name of the cases' file, and its SHA-256.
        floor: whether an open state gets at least the share that the file leaves uncovered.
    """
    before, after = fit.start.numbers, fit.numbers
    found: tuple[Open, ...] = ()
    if floor:
        after, found = opened(before, after, used)
    model = fit.start.model
    changed = changes(model, before, after, effective(fit))
    new: dict[Path, object] = {
        **edits(changed),
        ("version",): next_version(model.version),
        ("reference",): _reference(model, used, file),
    }
    if drawn_among(used.names):  # a piece that nobody held makes nothing known
        new["status",] = "demonstration"
    elif model.status == "elicited" and model.reference.pieces + len(used) >= MEASURED:
        # A demonstration is never promoted: its pieces may be as invented as its numbers.
        new["status",] = "measured"
    return Refitted(rewrite(text, new, model.name), changed, found)


def _reference(model: Model, used: Cases, file: tuple[str, str]) -> dict[str, object]:
    stood, found = model.reference.by_state, by_state(model, used)
    counts = {
        name: {
            state: stood.get(name, {}).get(state, 0) + found.get(name, {}).get(state, 0)
            for state in dict.fromkeys([*stood.get(name, {}), *found.get(name, {})])
        }
        for name in dict.fromkeys([*stood, *found])
    }
    name, digest = file
    files = [one.model_dump() for one in model.reference.files]
    return {
        "pieces": model.reference.pieces + len(used),
        "by_state": counts,
        "files": [*files, {"name": name, "digest": digest, "pieces": len(used)}],
    }
