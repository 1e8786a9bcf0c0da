"""Do the rows or the noisy gate of a node answer for every state of its parents, once?"""

from collections.abc import Iterator

from claywit.errors import did_you_mean
from claywit.model.matching import MAX_CONFIGURATIONS, configurations, many, match
from claywit.model.problems import Problem, subject
from claywit.model.schema import Model, Node
from claywit.model.source import Path
from claywit.model.tables import Cause, Noisy


def row_problems(model: Model, node: Node) -> Iterator[Problem]:
    """Yield what is wrong with the rows or the noisy gate of *node*; its names are known."""
    path: Path = ("nodes", node.name)
    for i, row in enumerate(node.rows):
        where, said = (*path, "rows", i), subject(node.name, row.given)
        if bool(row.p) == bool(node.measured):
            wanted = "normal, student_t or log_normal" if node.measured else "p"
            yield Problem(where, f"{said}a row of this node states {wanted}")
            continue
        for state in row.p or ():
            if not node.can_be(state):
                hint = did_you_mean(state, node.state_names)
                yield Problem((*where, "p", state), f"{said}no state {state}; {hint}")
    if node.noisy:
        yield from _gate(model, node, node.noisy)
    elif node.rows:
        yield from _coverage(model, node)


def _coverage(model: Model, node: Node) -> Iterator[Problem]:
    path = ("nodes", node.name, "rows")
    defaults = [i for i, row in enumerate(node.rows) if not row.given]
    if len(defaults) > 1:
        yield Problem((*path, defaults[1]), f"{node.name}: two rows without `given`; one is enough")
        return
    states = [model.node(parent).state_names for parent in node.parents]
    try:
        matching = match(node.parents, states, node.rows)
    except OverflowError as wrong:
        yield Problem(path, f"{node.name}: {wrong}; use noisy_max or fewer parents")
        return
    if matching.clash:
        given, first, second = matching.clash
        yield Problem(
            (*path, second),
            f"{subject(node.name, given)}rows {first + 1} and {second + 1} both match",
        )
    elif matching.gap:
        yield Problem(
            path,
            f"{subject(node.name, matching.gap)}no row matches; "
            "add one, or a default row `given: {}`",
        )


def _gate(model: Model, node: Node, gate: Noisy) -> Iterator[Problem]:
    path: Path = ("nodes", node.name, node.noisy_key)
    if node.noisy_or and len(node.states) != 2:
        yield Problem(path, f"{node.name}: noisy_or has two states; use noisy_max for more")
    size = configurations(len(model.node(parent).states) for parent in node.parents)
    if size > MAX_CONFIGURATIONS:
        yield Problem(path, f"{node.name}: {many(size)} parent configurations; use fewer parents")
    if gate.leak.given:
        text = f"{node.name}, leak: the leak depends on nothing; drop its `given`"
        yield Problem((*path, "leak"), text)
    yield from _levels(node, (*path, "leak"), f"{node.name}, leak: ", gate.leak)
    seen: set[tuple[str, str]] = set()
    for i, cause in enumerate(gate.causes):
        where, said = (*path, "causes", i), subject(node.name, cause.given)
        if len(cause.given) != 1:
            yield Problem(where, f"{said}a cause is a state of one parent")
        yield from _levels(node, where, said, cause)
        for pair in ((parent, s) for parent, names in cause.given.items() for s in names):
            if pair in seen:
                yield Problem(where, f"{said}{'='.join(pair)} is given twice")
            seen.add(pair)


def _levels(node: Node, path: Path, said: str, cause: Cause) -> Iterator[Problem]:
    raised = node.state_names[1:]
    for state in cause.p:
        if state == node.state_names[0]:
            yield Problem(path, f"{said}{state} is the lowest level, it takes what is left")
        elif state not in raised:
            yield Problem(path, f"{said}no level {state}; {did_you_mean(state, raised)}")
