"""What can be asked of a piece: a question, or two propositions to weigh."""

from collections.abc import Mapping

from claywit.errors import did_you_mean
from claywit.model.propositions import Proposition, overlap
from claywit.model.schema import Model


def check_question(question: str, model: Model, found: Mapping[str, object]) -> None:
    """Refuse a question about what is measured, can be seen, or was observed.

    Raises:
        ValueError: as said.
    """
    node = model.by_name.get(question)
    askable = [n.name for n in model.nodes if n.states and not n.visibility]
    if node is None:
        near = did_you_mean(question, askable)
        hint = near if near.startswith("did") else f"ask about {', '.join(model.targets)}"
        raise ValueError(f"question {question}: no node that is asked about has this name; {hint}")
    if question not in askable:
        why = "it is measured" if node.measured else "it can be not visible"
        others = [name for name in model.targets if name in askable] or askable
        hint = f"ask about {', '.join(others[:8])}" if others else "this model has nothing to ask"
        raise ValueError(f"question {question}: {why}, and a question is about a state; {hint}")
    if question in found:
        raise ValueError(
            f"the question is {question}, so it cannot have a finding; drop it, or weigh it"
            " with --for and --against"
        )


def check_propositions(
    for_: Proposition, against: Proposition, found: Mapping[str, object], model: Model
) -> None:
    """Refuse two propositions that could both hold, or one about what was or can be observed.

    Raises:
        ValueError: as said.
    """
    if overlap(for_, against):
        raise ValueError("a piece could be both propositions; they must exclude each other")
    for name in [*for_, *against]:
        if model.node(name).visibility:
            raise ValueError(
                f"{name} can be hidden, so it may be neither; propose what caused it instead"
            )
        if name in found:
            raise ValueError(f"a proposition is about what was not observed; {name} has a finding")
