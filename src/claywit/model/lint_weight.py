"""Rules about weight: evidence counted twice, states that nothing parts, ratios too strong."""

from collections.abc import Iterator
from itertools import combinations

import numpy as np

from claywit.model.matching import match
from claywit.model.problems import Problem, of_node, subject
from claywit.model.schema import Model, Node
from claywit.model.tables import Row

RATIO = 100  # for each piece that the weaker row is worth; common practice, no source


def trait_counted_twice(model: Model) -> Iterator[Problem]:
    """Two traits have the same table: one trait under two names is weighed twice."""
    seen: dict[object, str] = {}
    for node in model.nodes:
        if node.examine and node.parents and node.rows and not node.is_noted:
            key = repr((node.parents, node.state_names, [_stated(row) for row in node.rows]))
            if key in seen:
                text = f"its rows are those of {seen[key]}; drop one, or part them by a cause"
                yield of_node(node.name, text)
            seen.setdefault(key, node.name)


def _stated(row: Row) -> object:
    return row.given, row.density or {s: p for s, p in (row.p or {}).items() if p}


def states_that_nothing_parts(model: Model) -> Iterator[Problem]:
    """Two states of a hidden node have the same consequences, so only the prior tells them."""
    for node in model.nodes:
        below = [child for child in model.nodes if node.name in child.all_parents]
        pairs = combinations(range(len(node.states)), 2) if below and not node.examine else ()
        for i, j in pairs:
            if all(_alike(model, child, node, i, j) for child in below):
                one, other = node.state_names[i], node.state_names[j]
                text = f"nothing below tells {other} from {one}; join them, or add what does"
                yield of_node(node.name, text, "states", other)


def _alike(model: Model, child: Node, parent: Node, i: int, j: int) -> bool:
    """Return whether *child* says the same under states number *i* and *j* of *parent*."""
    one, other = parent.state_names[i], parent.state_names[j]
    if child.is_noted:
        return False  # its even rows wait for cases that are to part them
    if child.visibility and child.visibility.parent == parent.name:
        return child.visibility.p[one] == child.visibility.p[other]
    if child.noisy:
        stated = {s: c.p for c in child.noisy.causes for s in c.given.get(parent.name, ())}
        return stated.get(one, {}) == stated.get(other, {})
    if child.dimensions:
        sizes = child.dimensions
        known = ({**sizes.cavity, **sizes.unfiled}, sizes.shrinkage)
        by_state = known[child.parents.index(parent.name)]
        return bool(by_state[one] == by_state[other])
    names = [model.node(name).state_names for name in child.parents]
    index = match(child.parents, names, child.rows).rows
    stated_rows = [repr(_stated(row)[1]) for row in child.rows]  # type: ignore[index]
    kind = np.array([stated_rows.index(text) for text in stated_rows])[index]
    axis = child.parents.index(parent.name)
    return bool((np.take(kind, i, axis=axis) == np.take(kind, j, axis=axis)).all())


def ratio_beyond_n(model: Model) -> Iterator[Problem]:
    """Two rows of a trait give a likelihood ratio that so few pieces can never have shown."""
    for node in model.nodes:
        for state in node.state_names if node.examine else ():
            shares = [
                (row.p[state], i, row.n)
                for i, row in enumerate(node.rows)
                if row.p and row.n and row.p.get(state, 0.0) > 0
            ]
            if shares:
                (least, i, n), (most, j, m) = min(shares), max(shares)
                if most > RATIO * (1 + min(n, m)) * least:
                    said = subject(node.name, node.rows[i].given)
                    text = f"{said}{state} has {least:g}, in row {j + 1} {most:g}: a ratio of"
                    worth = f"{most / least:,.0f} on n = {min(n, m):g}; bring them nearer"
                    yield Problem(("nodes", node.name, "rows", i), f"{text} {worth}")
