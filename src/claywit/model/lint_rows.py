"""Rules about tables: zeros, sums, and rows or parents that say nothing of their own."""

from collections.abc import Iterator
from math import fsum

import numpy as np

from claywit.model.matching import match
from claywit.model.problems import Problem, subject
from claywit.model.schema import Model, Node
from claywit.model.support import Family, families
from claywit.model.tables import Row

NEARLY = 0.99


def prior_leaves_out_a_state(model: Model) -> Iterator[Problem]:
    """The prior of a node without parents gives a state probability 0: nothing can raise it."""
    for node in model.nodes:
        if not node.parents and len(node.rows) == 1 and node.rows[0].p:
            for state in node.state_names:
                if node.rows[0].p.get(state, 0.0) == 0:
                    text = f"{node.name}: no prior for {state}; nothing seen can raise a 0"
                    yield Problem(("nodes", node.name, "rows", 0, "p"), text)


def even_prior_without_note(model: Model) -> Iterator[Problem]:
    """A prior is even and no note says whether that is known or only not known."""
    for node in model.nodes:
        row = node.rows[0] if node.rows and not node.parents else None
        shares = [row.p.get(s, 0.0) for s in node.state_names] if row and row.p else []
        if shares and row and not row.note and max(shares) == min(shares):
            text = f"{node.name}: the prior is even; say in a `note` why, or give what is known"
            yield Problem(("nodes", node.name, "rows", 0), text)


def prior_nearly_settled(model: Model) -> Iterator[Problem]:
    """A prior above 0.99 answers before anything is seen; it takes a ratio of 100 to turn it."""
    for node in model.nodes:
        shares = (node.rows[0].p or {}) if node.rows and not node.parents else {}
        for state, share in shares.items():
            if NEARLY < share < 1:
                text = f"{node.name}: prior {share:g} for {state}; say in a `note` who counted that"
                if not node.rows[0].note:
                    yield Problem(("nodes", node.name, "rows", 0, "p"), text)


def row_for_what_cannot_occur(model: Model) -> Iterator[Problem]:
    """A row names parents that never occur together, so its numbers are never used."""
    for name, family in families(model).items():
        node = model.node(name)
        if node.rows and node.parents:
            index = _row_index(model, node)
            used = set(np.unique(index[tuple(family.parents.T)]).tolist())
            for i, row in enumerate(node.rows):
                if row.given and i not in used and (index == i).any():
                    text = f"{subject(name, row.given)}these never occur together; drop the row"
                    yield Problem(("nodes", name, "rows", i), text)


def state_never_occurs(model: Model) -> Iterator[Problem]:
    """A state has probability 0 under all parents that can occur."""
    for name, family in families(model).items():
        node = model.node(name)
        for k, state in enumerate(node.state_names):
            if (node.parents or node.noisy) and not family.states[:, k].any():
                text = f"{name}: nothing that can occur gives {state}; drop it or give it a share"
                yield Problem(("nodes", name, "states", state), text)


def zero_that_a_finding_could_contradict(model: Model) -> Iterator[Problem]:
    """A trait can never be read so under parents that can occur: one slip would exclude them."""
    for name, family in families(model).items():
        node = model.node(name)
        if node.examine:
            occurs = family.states.any(axis=0)
            for k in np.flatnonzero(occurs & ~family.states.all(axis=0)):
                yield from _zeros(model, node, family, int(k))


def _zeros(model: Model, node: Node, family: Family, k: int) -> Iterator[Problem]:
    """Yield the rows that give state number *k* a zero; the first parents of a noisy gate."""
    empty = family.parents[~family.states[:, k]]
    names = [model.node(parent).state_names for parent in node.parents]
    state = node.state_names[k]
    advice = f"{state} has probability 0; a slip of the eye would exclude these parents"
    if node.noisy:
        given = {p: s[i] for p, s, i in zip(node.parents, names, empty[0], strict=True)}
        text = f"{subject(node.name, given)}{advice}, so give the leak a little"
        yield Problem(("nodes", node.name, node.noisy_key, "leak"), text)
        return
    index = match(node.parents, names, node.rows).rows
    for i in np.unique(index[tuple(empty.T)]):
        said = subject(node.name, node.rows[i].given)
        path = ("nodes", node.name, "rows", int(i))
        yield Problem(path, f"{said}{advice}, so leave it a little")


def default_never_used(model: Model) -> Iterator[Problem]:
    """The default row holds for nothing, since other rows name every configuration."""
    for node in model.nodes:
        if node.rows and node.parents:
            index = _row_index(model, node)
            for i, row in enumerate(node.rows):
                if not row.given and not (index == i).any():
                    text = f"{node.name}: the row without `given` holds for nothing; drop it"
                    yield Problem(("nodes", node.name, "rows", i), text)


def parent_without_effect(model: Model) -> Iterator[Problem]:
    """The numbers of a node are the same whatever state this parent is in, and no note says why."""
    for node in model.nodes:
        for k, parent in enumerate(node.parents):
            if not _depends(model, node, parent):
                said = f"{node.name}: {parent} changes nothing; drop it, say what it changes"
                text = f"{said}, or in a row's note that cases are to say"
                yield Problem(("nodes", node.name, "parents", k), text)


def _depends(model: Model, node: Node, parent: str) -> bool:
    if node.noisy:
        return any(parent in c.given and any(c.p.values()) for c in node.noisy.causes)
    if not node.rows or node.is_noted:
        return True
    kinds = [_numbers(row) for row in node.rows]
    kind = np.array([kinds.index(one) for one in kinds])[_row_index(model, node)]
    first = np.take(kind, [0], axis=node.parents.index(parent))
    return bool((kind != first).any())


def sum_was_rounded(model: Model) -> Iterator[Problem]:
    """The shares of a row miss 1 by more than a billionth; they are scaled, but say so."""
    for node in model.nodes:
        for i, row in enumerate(node.rows):
            total = fsum((row.p or {"": 1.0}).values())
            if abs(total - 1) > 1e-9:
                said = subject(node.name, row.given)
                text = f"{said}sums to {total:.9g}, not 1; it is scaled, so mend the last digit"
                yield Problem(("nodes", node.name, "rows", i), text)


def _numbers(row: Row) -> object:
    """Return what a row states, zeros left out, to be compared with another's."""
    return row.density or {state: share for state, share in (row.p or {}).items() if share}


def _row_index(model: Model, node: Node) -> np.ndarray[tuple[int, ...], np.dtype[np.intp]]:
    states = [model.node(parent).state_names for parent in node.parents]
    return match(node.parents, states, node.rows).rows
