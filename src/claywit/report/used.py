"""Which model and which evidence an answer rests on, and their names for a reader."""

from claywit.evidence.binding import Examined
from claywit.model.once import once
from claywit.model.schema import Model, Node
from claywit.report.digest import digest
from claywit.report.report import EvidenceUsed, ModelUsed, NodeText, StateText


def model_used(model: Model) -> ModelUsed:
    """Return which model this is, and on what it rests."""
    return ModelUsed(
        name=model.name,
        version=model.version,
        title=model.title,
        status=model.status,
        digest=digest(model),
        reference_pieces=model.reference.pieces,
    )


def evidence_used(examined: Examined) -> EvidenceUsed:
    """Return which evidence this is."""
    evidence = examined.evidence
    return EvidenceUsed(
        piece=evidence.piece.id,
        digest=digest(evidence),
        examiner=evidence.examiner,
        object=evidence.piece.model_dump(mode="json", exclude_defaults=True),
    )


@once(4)
def node_texts(model: Model) -> dict[str, NodeText]:
    """Return how a person reads the nodes of *model*."""
    return {node.name: _text(node) for node in model.nodes}


def _text(node: Node) -> NodeText:
    states = {
        s.name: StateText(label=s.label or s.name.replace("_", " "), date=s.date, open=s.open)
        for s in node.states
    }
    return NodeText(label=node.title, states=states)
