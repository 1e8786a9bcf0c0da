"""The two sides of a dispute: what each wrote, and the model each goes by."""

from dataclasses import dataclass, replace

from claywit.errors import EvidenceError
from claywit.evidence.binding import Place
from claywit.evidence.priors import Priors
from claywit.evidence.written import Evidence
from claywit.model.schema import Model
from claywit.model.source import Path


@dataclass(frozen=True)
class Party:
    """One side: its evidence, how to name a line of it, its model, and what to call it."""

    evidence: Evidence
    place: Place
    model: Model
    name: str = ""


def with_priors(party: Party, priors: Priors, place: Place) -> Party:
    """Return *party* with other *priors*; *place* names the lines of their file."""

    def where(path: Path) -> str:
        return place(path) if path[:1] == ("priors",) else party.place(path)

    evidence = party.evidence.model_copy(update={"priors": priors.priors})
    return replace(party, evidence=evidence, place=where, name=priors.by)


def called(one: Party, other: Party) -> tuple[str, str]:
    """Return what to call the two sides, by the examiners' names where these differ."""
    names = tuple(party.name or party.evidence.examiner for party in (one, other))
    if names[0] != names[1] and all(names):
        return names[0], names[1]
    same_readings = one.evidence.findings == other.evidence.findings
    if same_readings and one.evidence.priors != other.evidence.priors:
        return "first priors", "second priors"
    if same_readings and one.model != other.model:
        return "first model", "second model"
    return "first examiner", "second examiner"


def refuse_two_pieces(one: Party, other: Party) -> None:
    """Refuse a joint statement about two pieces.

    Raises:
        EvidenceError: as said.
    """
    ids = one.evidence.piece.id, other.evidence.piece.id
    if ids[0] != ids[1]:
        raise EvidenceError(
            f"{other.place(('piece',))}: this file is about piece {ids[1]}, the other one about"
            f" {ids[0]}; a joint statement is about one piece"
        )


def refuse_other_answers(one: Party, other: Party, question: str) -> None:
    """Refuse models between which a question has not the same answers.

    Raises:
        EvidenceError: as said.
    """
    node = other.model.by_name.get(question)
    names = one.model.node(question).state_names
    if node is None or node.state_names != names:
        found = ", ".join(node.state_names) if node else "no such node"
        raise EvidenceError(
            f"{question} has the states {', '.join(names)} in model {one.model.name}"
            f" {one.model.version}, and {found} in {other.model.name} {other.model.version}; two"
            " models can be compared only on a question to which they know the same answers"
        )
