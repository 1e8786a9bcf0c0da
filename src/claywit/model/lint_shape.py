"""Rules about how nodes hang together: what can be seen, what is hidden, what is open."""

from collections.abc import Iterable, Iterator
from itertools import pairwise
from math import inf

from claywit.model.graph import reached
from claywit.model.problems import Problem
from claywit.model.schema import Model, Node


def _of(node: Node, text: str, *path: str | int) -> Problem:
    return Problem(("nodes", node.name, *path), f"{node.name}: {text}")


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
            yield _of(node, "no trait and no target depends on it; give it one, or leave it out")


def leaf_not_examinable(model: Model) -> Iterator[Problem]:
    """Nothing depends on this node and it has no `examine`: it is not seen and changes nothing."""
    useful = _useful(model)
    parents = {name for node in model.nodes for name in node.all_parents}
    for node in model.nodes:
        if node.name not in useful and node.name not in parents:
            yield _of(node, "nobody's parent and no `examine`; add `examine: {view: lens}`")


def trait_without_question(model: Model) -> Iterator[Problem]:
    """No path of parents joins this trait to a target, so it can never say anything of one."""
    joined = _joined(model, model.targets)
    for node in model.nodes:
        if node.examine and node.name not in joined:
            targets = " or ".join(model.targets)
            yield _of(node, f"nothing joins it to {targets}; give it a parent that is joined")


def target_without_trait(model: Model) -> Iterator[Problem]:
    """No path joins this target to a trait, so nothing seen can move it from its prior."""
    joined = _joined(model, [node.name for node in model.nodes if node.examine])
    for i, name in enumerate(model.targets):
        if name not in joined:
            text = f"target {name}: no trait is joined to it, so nothing seen can answer it"
            yield Problem(("targets", i), text)


def applies_if_unseen(model: Model) -> Iterator[Problem]:
    """Whether a trait applies depends on a node that cannot be examined, so it is never known."""
    for node in model.nodes:
        for name in node.applies_if:
            if not model.node(name).examine:
                text = f"applies_if names {name}, which has no `examine`; name a trait"
                yield _of(node, text, "applies_if", name)


def nothing_open(model: Model) -> Iterator[Problem]:
    """Sizes that shrink together know no "not in the file", so a stranger gets a named mould."""
    for node in model.nodes:
        if node.dimensions and not node.dimensions.unfiled:
            yield _of(node, "no unfiled mould; without one a stranger is given to a filed mould")


def unfiled_not_marked_open(model: Model) -> Iterator[Problem]:
    """A mould whose sizes are unfiled is not marked `open`, so reports cannot say what it is."""
    for node in model.nodes:
        mould = model.node(node.parents[0]) if node.dimensions else node
        for name in node.dimensions.unfiled if node.dimensions else ():
            if not mould.state(name).open:
                text = f"state {name} is unfiled in {node.name}; mark it open: true"
                yield _of(mould, text, "states", name)


def open_state_with_lighter_tails(model: Model) -> Iterator[Problem]:
    """What is not in the file has lighter tails than a filed mould: a stranger gets a name."""
    for node in model.nodes:
        sizes = node.dimensions
        for state, entry in sizes.unfiled.items() if sizes else ():
            if sizes and _freedom(entry.tails) > _freedom(sizes.tails):
                text = (
                    f"{state} has tails {_shown(entry.tails)}, filed moulds {_shown(sizes.tails)};"
                    f" give {state} {_shown(sizes.tails)} or fewer"
                )
                yield _of(node, text, "dimensions", "unfiled", state)


def _freedom(tails: float | str) -> float:
    return inf if isinstance(tails, str) else tails


def _shown(tails: float | str) -> str:
    return tails if isinstance(tails, str) else f"{tails:g}"


def visibility_falls(model: Model) -> Iterator[Problem]:
    """A trait is hidden less often under a later state of the obstruction node."""
    for node in model.nodes:
        if node.visibility:
            names = model.node(node.visibility.parent).state_names
            for clear, thick in pairwise(names):
                before, after = node.visibility.p[clear], node.visibility.p[thick]
                if after < before:
                    text = (
                        f"not visible with {before:g} under {clear}, {after:g} under {thick};"
                        f" the states of {node.visibility.parent} run from clear to hidden"
                    )
                    yield _of(node, text, "visibility")


def always_visible_or_never(model: Model) -> Iterator[Problem]:
    """A visibility of 0 or 1 makes one look exclude a state of the obstruction node."""
    for node in model.nodes:
        for state, share in (node.visibility.p if node.visibility else {}).items():
            if share in (0.0, 1.0):
                text = f"visibility {share:g} under {state} allows no exception; leave it a little"
                yield _of(node, text, "visibility", "p", state)


def reading_no_better_than_chance(model: Model) -> Iterator[Problem]:
    """A reading matrix reads some state right no more often than a guess would."""
    for name, matrix in model.reading_matrices.items():
        k = len(matrix.p)
        for true, read in matrix.p.items():
            right = read.get(true, 0.0)
            if right <= 1 / k:
                text = f"{name}: {true} is read right with {right:g}, a guess has 1/{k}"
                yield Problem(("reading_matrices", name, "p", true), text)


def order_of_one_event(model: Model) -> Iterator[Problem]:
    """An order entry names one event on both sides, so it can never be met."""
    for i, entry in enumerate(model.order):
        if entry.before == entry.after:
            yield Problem(("order", i), f"order {i + 1}: {entry.before} cannot lie under itself")


def order_given_twice(model: Model) -> Iterator[Problem]:
    """Two order entries say something of one node for one pair of events."""
    seen: set[tuple[str, str, str]] = set()
    for i, entry in enumerate(model.order):
        key = (entry.before, entry.after, entry.node)
        if key in seen:
            pair = f"{entry.before} under {entry.after}"
            text = f"order {i + 1}: {pair} is already said of {entry.node}; keep one entry"
            yield Problem(("order", i), text)
        seen.add(key)
