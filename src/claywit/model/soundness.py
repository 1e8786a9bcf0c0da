"""Do the parts of a model fit each other? Every misfit has a place and a way out."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from graphlib import CycleError, TopologicalSorter
from itertools import islice
from math import fsum

from claywit.errors import ModelError, did_you_mean
from claywit.model.coverage import row_problems
from claywit.model.densities import density_problems
from claywit.model.problems import Problem, subject
from claywit.model.schema import NOT_VISIBLE, Model, Node
from claywit.model.source import Document, Path, read_document
from claywit.model.tables import TOLERANCE, Visibility
from claywit.model.typed import MOST_MESSAGES, all_of, typed
from claywit.model.values import Given, duplicates

LISTED = "; `claywit check` lists them"
MOST_STATES = 10_000  # of a node; a column of cases holds numbers of states up to 32,767
MOST_VALUES = 200_000  # the demonstration has 4,000; what is wrong takes 600 bytes each
RESERVED = {
    NOT_VISIBLE: "not_visible comes from visibility",
    "not_applicable": "not_applicable says that there is nothing to read",
}


def read_model(text: bytes, name: str) -> Model:
    """Return the sound model that *text* holds; *name* is what messages call the file.

    Raises:
        ModelError: the text cannot be read, or the model is not sound; the message is the
            first thing found, `details` holds all of them.
    """
    return read_with_lines(text, name)[0]


def read_with_lines(text: bytes, name: str) -> tuple[Model, Document]:
    """Do as `read_model`, and return the document that knows the lines of the file too."""
    document = read_document(text, name, ModelError)
    model = typed(Model, document, ModelError, rest=LISTED)
    first = islice(problems(model), MOST_MESSAGES)
    found = [f"{document.place(problem.path)}: {problem.text}" for problem in first]
    if found:
        raise all_of(found, ModelError, rest=LISTED)
    return model, document


def problems(model: Model) -> Iterator[Problem]:
    """Yield what keeps *model* from being sound, in the order of the file."""
    names = _name_problems(model)
    for first in names:
        yield first
        yield from names
        return  # the rest would only repeat them
    yield from _cycle(model)
    for node in model.nodes:
        yield from row_problems(model, node)
        yield from density_problems(model, node)


def read_data(source: object, name: str) -> Model:
    """Return the model in JSON data of anybody's making, sound or not.

    Raises:
        ModelError: it holds more values than any model; each that is wrong would take room.
        ValidationError: it is no model.
    """
    waiting, count = [source], 0
    while waiting:
        one = waiting.pop()
        more = one.values() if isinstance(one, Mapping) else one if isinstance(one, list) else ()
        count += len(more)
        if count > MOST_VALUES:
            raise ModelError(
                f"{name}: more than the {MOST_VALUES:,} values that are read of a model"
            )
        waiting.extend(more)
    return Model.model_validate(source)


def sound(model: Model, name: str) -> Model:
    """Return *model* if it is sound, for models that did not come from a YAML file.

    Raises:
        ModelError: as `read_model`.
    """
    found = [f"{name}: {problem.text}" for problem in islice(problems(model), MOST_MESSAGES)]
    if found:
        raise all_of(found, ModelError, rest=LISTED)
    return model


def _name_problems(model: Model) -> Iterator[Problem]:
    parents = {parent for node in model.nodes for parent in node.all_parents}
    for node in model.nodes:
        yield from _shape(node)
        if node.reading_error == "in_rows" and node.name in parents:
            text = (
                "its rows hold reading error, so nothing can depend on it; add a node for the truth"
            )
            yield Problem(("nodes", node.name, "reading_error"), f"{node.name}: {text}")
        yield from _parent_names(model, node)
        for state in node.states:
            if state.after and (not node.can_be(state.after) or state.after == state.name):
                text = f"{node.name}: {state.name} is after {state.after}; name another state of it"
                yield Problem(("nodes", node.name, "states", state.name, "after"), text)
    yield from _twice(("targets",), "target", model.targets)
    for i, target in enumerate(model.targets):
        yield from _known(("targets", i), "target", target, model.by_name)
        if target in model.by_name and model.node(target).measured:
            yield Problem(("targets", i), f"{target} is measured; a question is about a state")
    yield from _group_names(model)
    yield from _reference(model)
    for i, order in enumerate(model.order):
        yield from _pairs(model, ("order", i, "node"), {order.node: order.state}, "order")
    for name, matrix in model.reading_matrices.items():
        path = ("reading_matrices", name)
        yield from _pairs(model, path, {matrix.node: tuple(matrix.p)}, name)
        if matrix.node in model.by_name:
            yield from _matrix(model.node(matrix.node), path, matrix.p)


def _shape(node: Node) -> Iterator[Problem]:
    path = ("nodes", node.name)
    kinds = [k for k in ("rows", "noisy_max", "noisy_or", "dimensions") if getattr(node, k)]
    if len(kinds) != 1:
        found = " and ".join(kinds) or "no table"
        yield Problem(
            path,
            f"{node.name}: {found}; write one of rows, noisy_max, noisy_or"
            " or, for sizes that shrink together, dimensions",
        )
    if bool(node.measured) == bool(node.states):
        yield Problem(path, f"{node.name}: write either states or measured")
    elif node.states and len(node.states) < 2:
        yield Problem(path, f"{node.name}: one state only; a node needs two")
    yield from _too_many(node)
    yield from _twice((*path, "states"), f"{node.name}: state", node.state_names)
    for name, why in RESERVED.items():
        if name in node.state_names:
            yield Problem((*path, "states"), f"{node.name}: no state can be called {name}; {why}")
    if node.dimensions and not node.measured:
        yield Problem(path, f"{node.name}: dimensions need `measured`, as {{height: mm}}")
    if node.measured and node.noisy:
        yield Problem(path, f"{node.name}: a measured leaf has rows with densities, no noisy gate")
    for measure in node.u:
        if measure not in node.measured:
            yield Problem((*path, "u", measure), f"{node.name}: no measure {measure} to give u for")


def _too_many(node: Node) -> Iterator[Problem]:
    if len(node.states) > MOST_STATES:
        text = f"{len(node.states):,} states; at most {MOST_STATES:,} are read"
        yield Problem(("nodes", node.name, "states"), f"{node.name}: {text}")


def _parent_names(model: Model, node: Node) -> Iterator[Problem]:
    path: Path = ("nodes", node.name)
    for i, parent in enumerate(node.parents):
        where = (*path, "parents", i)
        yield from _known(where, f"{node.name}: parent", parent, model.by_name)
        yield from _leaf_only(model, where, node, parent)
    yield from _twice((*path, "parents"), f"{node.name}: parent", node.parents)
    if node.visibility:
        yield from _visibility_names(model, node, node.visibility)
    yield from _pairs(model, (*path, "applies_if"), node.applies_if, node.name)
    for row, given in _givens(node):
        said = subject(node.name, given)
        for parent in given:
            if parent not in node.parents:
                hint = did_you_mean(parent, node.parents)
                yield Problem(row, f"{said}{parent} is not a parent; {hint}")
        own = {parent: states for parent, states in given.items() if parent in node.parents}
        yield from _pairs(model, row, own, said.removesuffix(": "))


def _leaf_only(model: Model, path: Path, node: Node, parent: str) -> Iterator[Problem]:
    """Yield why *parent* cannot be one: how a piece is seen does not decide how it is."""
    above = model.by_name.get(parent)
    if above and above.measured:
        yield Problem(path, f"{node.name}: parent {parent} is measured; only a leaf may be")
    if above and above.visibility:
        text = (
            f"{node.name}: parent {parent} can be not visible; only a leaf may be,"
            " so let both depend on what is hidden"
        )
        yield Problem(path, text)


def _visibility_names(model: Model, node: Node, seen: Visibility) -> Iterator[Problem]:
    path: Path = ("nodes", node.name, "visibility")
    yield from _pairs(model, path, {seen.parent: tuple(seen.p)}, node.name)
    if seen.parent in node.parents:
        yield Problem(path, f"{node.name}: {seen.parent} comes from visibility; drop it in parents")
    yield from _leaf_only(model, path, node, seen.parent)
    if seen.parent in model.by_name:
        for state in model.node(seen.parent).state_names:
            if state not in seen.p:
                text = f"{node.name}: visibility says nothing of {seen.parent}={state}"
                yield Problem((*path, "p"), text)


def _givens(node: Node) -> Iterator[tuple[Path, Given]]:
    for i, row in enumerate(node.rows):
        yield ("nodes", node.name, "rows", i), row.given
    for i, cause in enumerate(node.noisy.causes if node.noisy else ()):
        yield ("nodes", node.name, node.noisy_key, "causes", i), cause.given


def _group_names(model: Model) -> Iterator[Problem]:
    taken: dict[str, str] = {}
    yield from _twice(("groups",), "group", [group.name for group in model.groups])
    for group in model.groups:
        for i, name in enumerate(group.nodes):
            path = ("groups", group.name, i)
            yield from _known(path, f"group {group.name}:", name, model.by_name)
            if name in taken:
                yield Problem(path, f"group {group.name}: {name} is already in {taken[name]}")
            taken[name] = group.name


def _reference(model: Model) -> Iterator[Problem]:
    for name, counts in model.reference.by_state.items():
        path = ("reference", "by_state", name)
        yield from _pairs(model, path, {name: tuple(counts)}, "reference")


def _twice(path: Path, what: str, names: Sequence[str]) -> Iterator[Problem]:
    for name in dict.fromkeys(duplicates(names)):
        yield Problem(path, f"{what} {name} stands twice")


def _known(
    path: tuple[str | int, ...], what: str, name: str, known: Iterable[str]
) -> Iterator[Problem]:
    if name not in known:
        yield Problem(path, f"{what} {name} is not a node; {did_you_mean(name, known)}")


def _pairs(
    model: Model,
    path: tuple[str | int, ...],
    pairs: Mapping[str, tuple[str, ...]],
    where: str,
) -> Iterator[Problem]:
    """Yield the nodes and states of *pairs* that the model does not have."""
    for name, states in pairs.items():
        if name not in model.by_name:
            yield from _known(path, f"{where}:", name, model.by_name)
            continue
        node = model.node(name)
        for state in states:
            if not node.can_be(state):
                hint = did_you_mean(state, node.state_names)
                yield Problem(path, f"{where}: {name} has no state {state}; {hint}")


def _matrix(
    node: Node, path: tuple[str | int, ...], p: Mapping[str, Mapping[str, float]]
) -> Iterator[Problem]:
    for true in node.state_names:
        if true not in p:
            yield Problem(path, f"{path[-1]}: no row for the true state {true} of {node.name}")
            continue
        total = fsum(p[true].values())
        if abs(total - 1) > TOLERANCE:
            yield Problem(path, f"{path[-1]}, true state {true}: sums to {total:.6g}, must be 1")
        for read in p[true]:
            if not node.can_be(read):
                hint = did_you_mean(read, node.state_names)
                yield Problem(path, f"{path[-1]}: {node.name} has no state {read}; {hint}")


def _cycle(model: Model) -> Iterator[Problem]:
    try:
        TopologicalSorter({n.name: n.all_parents for n in model.nodes}).prepare()
    except CycleError as wrong:
        around = list(reversed(wrong.args[1]))
        yield Problem(
            ("nodes", around[0], "parents"), f"parents go round in a circle: {' -> '.join(around)}"
        )
