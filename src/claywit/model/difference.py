"""What changed from one model to another, in words, part by part in the order of the file."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from claywit.model.matching import match
from claywit.model.problems import subject
from claywit.model.renaming import Renamed, under_new_names
from claywit.model.schema import Model, Node
from claywit.model.tables import Row
from claywit.model.values import Value

Ints = NDArray[np.intp]
SHOWN = 6  # configurations named one by one
LONG = 80  # letters of a text that are shown
APART = ("nodes", "states", "parents", "rows", "name")  # keys told in words of their own
GUESS = "renamed (a guess by the nearest name)"


@dataclass(frozen=True)
class Change:
    """One thing that changed: of which node ("" for the model itself), and a sentence."""

    node: str
    text: str


def changes(old: Model, new: Model, names: Renamed) -> tuple[Change, ...]:
    """Return what changed from *old* to *new*; nothing where they say the same.

    *names* says what only has another name: it is told as a guess, and the rest is compared
    under the new names.
    """
    known = under_new_names(old, names)
    return (*_of_model(known, new), *_of_nodes(known, new, names))


def _of_model(old: Model, new: Model) -> Iterator[Change]:
    if old.name != new.name:
        yield Change("", f"name: {new.name}, was {old.name}")
    for text in _steps("", _told(old), _told(new)):
        yield Change("", text)
    shared = [node.name for node in old.nodes if node.name in new.by_name]
    if shared != [node.name for node in new.nodes if node.name in old.by_name]:
        yield Change("", "nodes: they stand in another order, which changes no answer")
    for node in old.nodes:
        if node.name not in new.by_name:
            yield Change(node.name, f"{node.name}: dropped{_outline(node)}")


def _of_nodes(old: Model, new: Model, names: Renamed) -> Iterator[Change]:
    was = {now: name for name, now in names.nodes.items()}
    for node in new.nodes:
        if node.name in was:
            yield Change(node.name, f"{node.name}: was {was[node.name]}, {GUESS}")
        if node.name not in old.by_name:
            yield Change(node.name, f"{node.name}: new{_outline(node)}")
            continue
        before, renamed = old.node(node.name), names.states.get(node.name, {})
        for text in (*_of_states(before, node, renamed), *_of_parents(before, node)):
            yield Change(node.name, f"{node.name}: {text}")
        for text in _of_rows(old, new, before, node):
            yield Change(node.name, text)
        for text in _steps(node.name, _told(before), _told(node)):
            yield Change(node.name, text)


def _outline(node: Node) -> str:
    if node.measured:
        return f", measured: {', '.join(node.measured)}"
    return f", states {', '.join(node.state_names)}"


def _of_states(before: Node, after: Node, renamed: Mapping[str, str]) -> Iterator[str]:
    for state, now in renamed.items():
        yield f"state {now} was {state}, {GUESS}"
    yield from _of_list("state", before.state_names, after.state_names)
    for kept in before.states:
        if kept.name in after.state_names:
            told = _told(kept), _told(after.state(kept.name))
            yield from _steps(f"state {kept.name}", *told)


def _of_parents(before: Node, after: Node) -> Iterator[str]:
    yield from _of_list("parent", before.parents, after.parents)


def _of_list(what: str, before: Sequence[str], after: Sequence[str]) -> Iterator[str]:
    """Yield what was dropped, what is new, and whether the rest stands in another order."""
    yield from (f"{what} {name} dropped" for name in before if name not in after)
    yield from (f"new {what} {name}" for name in after if name not in before)
    if [n for n in before if n in after] != [n for n in after if n in before]:
        yield f"{what}s stand in another order: {', '.join(after)}"


def _of_rows(old: Model, new: Model, before: Node, after: Node) -> Iterator[str]:
    """Yield how rows differ, once for each two that answer for the same configurations."""
    if not before.rows or not after.rows:
        if before.rows or after.rows:
            yield f"{after.name}: its table is now {_kind(after)}, was {_kind(before)}"
        return
    if set(before.parents) != set(after.parents):
        rows = f"{len(after.rows)} rows, were {len(before.rows)}"
        yield f"{after.name}: its rows hang on other parents now ({rows})"
        return
    shared = [
        [s for s in new.node(p).state_names if s in old.node(p).state_names] for p in after.parents
    ]
    was, now = _rows(old, before, after.parents, shared), _rows(new, after, after.parents, shared)
    for pair in np.unique(was * len(after.rows) + now).tolist():
        i, j = divmod(pair, len(after.rows))
        said = list(_of_row(before.rows[i], after.rows[j], after))
        if said:
            which = (was == i) & (now == j)
            whole = after.rows[j].given if which.sum() == (now == j).sum() else None
            yield f"{_said(after, shared, which, whole)}{'; '.join(said)}"


def _rows(model: Model, node: Node, parents: Sequence[str], shared: Sequence[list[str]]) -> Ints:
    """Return which row of *node* holds for the *shared* states of *parents*, an axis for each."""
    names = [model.node(parent).state_names for parent in node.parents]
    index = match(node.parents, names, node.rows).rows
    index = index.transpose([node.parents.index(parent) for parent in parents])
    own = [model.node(parent).state_names for parent in parents]
    return index[np.ix_(*[[o.index(s) for s in kept] for o, kept in zip(own, shared, strict=True)])]


def _said(node: Node, states: Sequence[list[str]], which: NDArray[np.bool_], given: object) -> str:
    """Return how a message names the configurations of *which*: by a row's *given*, or each."""
    if given or not node.parents:
        return subject(node.name, given)
    places = np.argwhere(which).tolist()
    listed = [
        " and ".join(f"{p}={s[k]}" for p, s, k in zip(node.parents, states, place, strict=True))
        for place in places[:SHOWN]
    ]
    more = f" and {len(places) - SHOWN} more" if len(places) > SHOWN else ""
    return f"{node.name}, given {' or '.join(listed)}{more}: "


def _of_row(before: Row, after: Row, node: Node) -> Iterator[str]:
    if before.p and after.p:
        for state in dict.fromkeys([*node.state_names, *before.p]):
            one, other = before.p.get(state, 0.0), after.p.get(state, 0.0)
            if one != other:
                yield f"{state} {_value(other)}, was {_value(one)}"
    elif before.density != after.density:
        yield f"{_density(after)}, was {_density(before)}"
    for key in ("n", "source", "note"):
        one, other = getattr(before, key), getattr(after, key)
        if one != other:
            yield f"{key} {_value(other)}, was {_value(one)}"


def _density(row: Row) -> str:
    if row.density is None:
        return "shares"
    numbers = ", ".join(f"{k} {v:g}" for k, v in row.density.model_dump().items())
    kind = next(k for k in ("normal", "student_t", "log_normal") if getattr(row, k))
    return f"{kind} {numbers}"


def _kind(node: Node) -> str:
    if node.dimensions:
        return "dimensions"
    return f"a {node.noisy_key}" if node.noisy else f"{len(node.rows)} rows"


def _told(value: Value) -> dict[str, Any]:
    """Return a value as plain data, without what is told in words of its own."""
    data = value.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    return {key: entry for key, entry in data.items() if key not in APART}


def _steps(where: str, before: Any, after: Any) -> Iterator[str]:
    """Yield what differs between two plain values, with the way to it."""
    if before == after:
        return
    one, other = _keyed(before), _keyed(after)
    if not isinstance(one, dict) or not isinstance(other, dict):
        yield f"{where}: {_value(after)}, was {_value(before)}"
        return
    if one == other:
        yield f"{where}: in another order"
    for key in dict.fromkeys([*one, *other]):
        path = f"{where}, {key}" if where else str(key)
        if key not in other:
            yield f"{path}: dropped (was {_value(one[key])})"
        elif key not in one:
            yield f"{path}: new: {_value(other[key])}"
        else:
            yield from _steps(path, one[key], other[key])


def _keyed(value: Any) -> Any:
    """Return a list of named or conditional values as a mapping, anything else as it is."""
    if not isinstance(value, list) or not all(isinstance(entry, dict) for entry in value):
        return value
    keys = [entry.get("name") or _condition(entry) for entry in value]
    if not value or len(set(keys)) < len(keys):
        return value
    own = ({k: v for k, v in entry.items() if k != "name"} for entry in value)
    return dict(zip(keys, own, strict=True))


def _condition(entry: Mapping[str, Any]) -> str:
    if "before" in entry:
        return f"{entry['before']} under {entry['after']}, of {entry['node']}"
    return subject("", entry.get("given")).removeprefix(", ").removesuffix(": ")


def _value(value: Any) -> str:
    if value is None or value == "":
        return "nothing"
    if isinstance(value, float):
        return f"{value:.9g}"
    if isinstance(value, dict):
        return ", ".join(f"{k} {_value(v)}" for k, v in value.items()) or "nothing"
    if isinstance(value, list):
        return ", ".join(_value(entry) for entry in value) or "nothing"
    text = str(value)
    return f"{text[:LONG]}…" if len(text) > LONG else text
