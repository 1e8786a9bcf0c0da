"""Do the measured leaves of a model say a size for every state of their parents?"""

from collections.abc import Iterable, Iterator

from claywit.errors import did_you_mean
from claywit.model.problems import Problem
from claywit.model.quantities import UNITS
from claywit.model.schema import Model, Node
from claywit.model.source import Path
from claywit.model.tables import Dimensions

# Keys of a finding; a measure of such a name could not be told from them.
RESERVED = frozenset(
    (
        *("state", "sure", "reading", "likelihood", "not_visible", "method", "where", "note"),
        *("value", "u", "below", "above", "between"),
    )
)


def density_problems(model: Model, node: Node) -> Iterator[Problem]:
    """Yield what is wrong with the units and the sizes of a measured leaf."""
    path: Path = ("nodes", node.name, "measured")
    for measure, unit in node.measured.items():
        if unit not in UNITS:
            hint = did_you_mean(unit, UNITS)
            yield Problem((*path, measure), f"{node.name}: unit {unit} is not known; {hint}")
        if measure in RESERVED:
            text = f"a measure cannot be called {measure}, a key of findings; rename it"
            yield Problem((*path, measure), f"{node.name}: {text}")
    if node.measured and not node.dimensions and len(node.measured) != 1:
        yield Problem(path, f"{node.name}: several measures need `dimensions`; rows hold one")
    if node.dimensions:
        yield from _dimension_problems(model, node, node.dimensions)


def _dimension_problems(model: Model, node: Node, sizes: Dimensions) -> Iterator[Problem]:
    path: Path = ("nodes", node.name, "dimensions")
    if len(node.parents) != 2:
        yield Problem(path, f"{node.name}: dimensions need two parents: the mould, then the paste")
        return
    if not node.measured:
        yield Problem(path, f"{node.name}: dimensions need `measured`, as {{height: mm}}")
        return
    moulds, pastes = (model.node(parent) for parent in node.parents)
    for state in moulds.state_names:
        if (state in sizes.cavity) == (state in sizes.unfiled):
            which = "both" if state in sizes.cavity else "neither"
            text = f"{moulds.name}={state} must be in cavity or in unfiled, not {which}"
            yield Problem(path, f"{node.name}: {text}")
    for state in pastes.state_names:
        if state not in sizes.shrinkage:
            yield Problem(path, f"{node.name}: no shrinkage for {pastes.name}={state}")
    yield from _strangers(path, moulds, [*sizes.cavity, *sizes.unfiled])
    yield from _strangers(path, pastes, sizes.shrinkage)
    yield from _measures(path, node, sizes)


def _measures(path: Path, node: Node, sizes: Dimensions) -> Iterator[Problem]:
    """Yield what is wrong with the measures themselves: named, in one unit, of a known finesse."""
    given = {state: list(stated) for state, stated in sizes.cavity.items()}
    given |= {state: list(entry.dimensions) for state, entry in sizes.unfiled.items()}
    for state, names in given.items():
        if set(names) != set(node.measured):
            found, wanted = ", ".join(names) or "nothing", ", ".join(node.measured)
            yield Problem(path, f"{node.name}: {state} gives {found}; expected {wanted}")
    units = set(node.measured.values())
    if len(units) > 1:
        yield Problem(path, f"{node.name}: sizes that shrink together are in one unit")
    elif any(unit in UNITS and UNITS[unit].kind != "length" for unit in units):
        yield Problem(path, f"{node.name}: {units.pop()} does not shrink; dimensions are lengths")
    count = len(node.measured)
    if count < 2:
        return
    for measure in node.measured:
        if measure not in node.u:
            hint = f"say how finely it is measured, as u: {{{measure}: 0.1}}"
            yield Problem(path, f"{node.name}: no u for {measure}; {hint}")
    for state, entry in sizes.unfiled.items():
        if entry.correlation <= -1 / (count - 1):
            text = f"{count} measures cannot all go together below {-1 / (count - 1):g}"
            yield Problem(path, f"{node.name}: {state}, correlation {entry.correlation:g}: {text}")


def _strangers(path: Path, parent: Node, states: Iterable[str]) -> Iterator[Problem]:
    for state in states:
        if state not in parent.state_names:
            hint = did_you_mean(state, parent.state_names)
            yield Problem(path, f"{path[1]}: {parent.name} has no state {state}; {hint}")
