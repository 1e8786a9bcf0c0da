"""Rules about how nodes hang together: what reaches a question, and what nothing reaches."""

from collections.abc import Iterable, Iterator

from claywit.model.graph import reached
from claywit.model.problems import Problem, of_node, subject
from claywit.model.schema import Model


def _useful(model: Model) -> frozenset[str]:
    """Return the traits, the targets, and all that they depend on."""
    traits = (node.name for node in model.nodes if node.is_trait)
    return reached([*model.targets, *traits], lambda name: model.node(name).all_parents)


def _joined(model: Model, names: Iterable[str]) -> frozenset[str]:
    """Return *names* and all that a path of useful nodes joins to them, either way round.

    A path through a useful node is open under some findings: where two parents meet in it,
    a trait below it makes them depend on each other.
    """
    useful = _useful(model)
    near: dict[str, set[str]] = {name: set() for name in useful}
    for name in useful:
        for parent in model.node(name).all_parents:
            near[name].add(parent)
            near[parent].add(name)
    return reached(names, lambda name: near[name])


def unreachable_node(model: Model) -> Iterator[Problem]:
    """No trait and no target depends on this hidden node, so it says nothing of a piece."""
    useful = _useful(model)
    parents = {name for node in model.nodes for name in node.all_parents}
    for node in model.nodes:
        if node.name not in useful and node.name in parents:
            yield of_node(
                node.name, "no trait and no target depends on it; give it one, or leave it out"
            )


def leaf_not_examinable(model: Model) -> Iterator[Problem]:
    """Nothing depends on this node and it has no `examine`: it is not seen and changes nothing."""
    useful = _useful(model)
    parents = {name for node in model.nodes for name in node.all_parents}
    for node in model.nodes:
        if node.name not in useful and node.name not in parents:
            yield of_node(
                node.name, "nobody's parent and no `examine`; add `examine: {view: lens}`"
            )


def trait_without_question(model: Model) -> Iterator[Problem]:
    """No path of parents joins this trait to a target, so it can never say anything of one."""
    joined = _joined(model, model.targets)
    for node in model.nodes:
        if node.examine and node.name not in joined:
            targets = " or ".join(model.targets)
            yield of_node(
                node.name, f"nothing joins it to {targets}; give it a parent that is joined"
            )


def target_without_trait(model: Model) -> Iterator[Problem]:
    """No path joins this target to a trait, so nothing seen can move it from its prior."""
    joined = _joined(model, [node.name for node in model.nodes if node.examine])
    for i, name in enumerate(model.targets):
        if name not in joined:
            text = f"target {name}: no trait is joined to it, so nothing seen can answer it"
            yield Problem(("targets", i), text)


def target_can_be_seen(model: Model) -> Iterator[Problem]:
    """A target is itself a trait: what can be looked at needs no opinion, only a look."""
    for i, name in enumerate(model.targets):
        if model.node(name).examine:
            text = f"target {name}: it has an `examine`; ask about what cannot be seen"
            yield Problem(("targets", i), text)


def cause_of_nothing(model: Model) -> Iterator[Problem]:
    """A cause of a noisy gate raises no level, so it reads like knowledge and does nothing."""
    for node in model.nodes:
        for i, cause in enumerate(node.noisy.causes if node.noisy else ()):
            if not any(cause.p.values()):
                text = f"{subject(node.name, cause.given)}it raises no level; drop it"
                yield Problem(("nodes", node.name, node.noisy_key, "causes", i), text)
