"""Rules about numbers: rows, their sources, zeros, spreads and tails."""

from collections.abc import Callable, Iterator
from itertools import pairwise
from math import fsum, inf, prod

import numpy as np

from claywit.model.matching import match
from claywit.model.problems import Problem
from claywit.model.schema import Model, Node
from claywit.model.source import Path, subject
from claywit.model.tables import Cause, Dimensions, Row, Visibility

NEARLY = 0.99
TINY = 5
FAMILY = 200_000  # configurations of parents and grandparents looked at by the zero rule

Stated = Row | Cause | Visibility | Dimensions


def _stated(model: Model) -> Iterator[tuple[Node, Path, str, Stated]]:
    """Yield everything that states numbers, with its path and how a message names it."""
    for node in model.nodes:
        at: Path = ("nodes", node.name)
        for i, row in enumerate(node.rows):
            yield node, (*at, "rows", i), subject(node.name, row.given), row
        if node.noisy:
            yield node, at, f"{node.name}, leak: ", node.noisy.leak
            for cause in node.noisy.causes:
                yield node, at, subject(node.name, cause.given), cause
        if node.visibility:
            yield node, (*at, "visibility"), f"{node.name}, visibility: ", node.visibility
        if node.dimensions:
            yield node, (*at, "dimensions"), f"{node.name}, dimensions: ", node.dimensions


def row_without_source(model: Model) -> Iterator[Problem]:
    """A row does not say on what its numbers rest."""
    for _, path, said, stated in _stated(model):
        if not stated.source:
            yield Problem(path, f"{said}no source; say on what it rests")


def row_without_n(model: Model) -> Iterator[Problem]:
    """A row does not say how many pieces its numbers are worth."""
    for _, path, said, stated in _stated(model):
        if stated.n is None:
            yield Problem(path, f"{said}no n; say how many pieces it is worth")


def nearly_certain_on_few(model: Model) -> Iterator[Problem]:
    """A row claims 99 % or more, without being a plain rule, on fewer than five pieces."""
    for node in model.nodes:
        for i, row in enumerate(node.rows):
            largest = max((row.p or {"": 0.0}).values())
            if NEARLY <= largest < 1 and row.n is not None and row.n < TINY:
                said = subject(node.name, row.given)
                yield Problem(
                    ("nodes", node.name, "rows", i),
                    f"{said}{largest:g} on n = {row.n:g}; few pieces cannot say so much",
                )


def prior_leaves_out_a_state(model: Model) -> Iterator[Problem]:
    """The prior of a node without parents gives a state probability 0: nothing can raise it."""
    for node in model.nodes:
        if not node.parents and len(node.rows) == 1 and node.rows[0].p:
            for state in node.state_names:
                if node.rows[0].p.get(state, 0.0) == 0:
                    yield Problem(
                        ("nodes", node.name, "rows", 0, "p"),
                        f"{node.name}: no prior for {state}; nothing seen can raise a 0",
                    )


def state_never_used(model: Model) -> Iterator[Problem]:
    """Every row gives this state probability 0, so it can never occur."""
    for node in model.nodes:
        if node.parents and node.rows and node.states:
            for state in node.state_names:
                if not any((row.p or {}).get(state, 0.0) > 0 for row in node.rows):
                    yield Problem(
                        ("nodes", node.name, "states", state),
                        f"{node.name}: no row ever gives {state}; drop it or give it a row",
                    )


def zero_that_a_finding_could_contradict(model: Model) -> Iterator[Problem]:
    """A trait can never be read so under parents that can occur: one reading excludes them."""
    for node in model.nodes:
        if node.examine and node.rows and node.states:
            yield from _zeros(model, node)


def _zeros(model: Model, node: Node) -> Iterator[Problem]:
    states = [model.node(parent).state_names for parent in node.parents]
    index = match(node.parents, states, node.rows).rows
    possible = index[_possible(model, node.parents)]
    for i in sorted(set(possible.ravel().tolist())):
        row = node.rows[i]
        for state in node.state_names:
            if (row.p or {}).get(state, 0.0) == 0:
                said = subject(node.name, row.given)
                yield Problem(
                    ("nodes", node.name, "rows", i),
                    f"{said}{state} has probability 0; a slip of the eye would exclude "
                    "these parents, so leave it a little",
                )


def _possible(
    model: Model, names: tuple[str, ...]
) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Return which joint states of *names* can occur, by their own rows and one step above.

    A zero further up may make more of them impossible; taking those for possible can only
    warn too often, never too seldom.
    """
    cards = [len(model.node(name).states) for name in names]
    mask = np.ones(cards, dtype=np.bool_)
    for child in names:
        node = model.node(child)
        shared = [parent for parent in node.parents if parent in names]
        if not node.rows or prod([len(model.node(p).states) for p in node.parents]) > FAMILY:
            continue
        states = [model.node(parent).state_names for parent in node.parents]
        index = match(node.parents, states, node.rows).rows
        listed = np.array(
            [[(row.p or {}).get(s, 0.0) > 0 for s in node.state_names] for row in node.rows]
        )
        table = listed[index]
        gone = tuple(i for i, parent in enumerate(node.parents) if parent not in names)
        table = np.any(table, axis=gone) if gone else table
        axes = [*shared, child]
        order = [axes.index(name) for name in names if name in axes]
        shape = [len(model.node(n).states) if n in axes else 1 for n in names]
        mask &= np.transpose(table, order).reshape(shape)
    return mask


def sum_was_rounded(model: Model) -> Iterator[Problem]:
    """The shares of a row miss 1 by more than a billionth; they are scaled, but say so."""
    for node in model.nodes:
        for i, row in enumerate(node.rows):
            total = fsum((row.p or {"": 1.0}).values())
            if abs(total - 1) > 1e-9:
                said = subject(node.name, row.given)
                yield Problem(("nodes", node.name, "rows", i), f"{said}sums to {total:.9g}, not 1")


def default_never_used(model: Model) -> Iterator[Problem]:
    """The default row holds for nothing, since other rows name every configuration."""
    for node in model.nodes:
        states = [model.node(parent).state_names for parent in node.parents]
        index = match(node.parents, states, node.rows).rows if node.rows and node.parents else None
        for i, row in enumerate(node.rows):
            if index is not None and not row.given and not (index == i).any():
                yield Problem(
                    ("nodes", node.name, "rows", i),
                    f"{node.name}: the row without `given` holds for nothing; drop it",
                )


def visibility_falls(model: Model) -> Iterator[Problem]:
    """A trait is hidden less often under a later state of the obstruction node."""
    for node in model.nodes:
        if node.visibility:
            shares = [node.visibility.p[s] for s in model.node(node.visibility.parent).state_names]
            if any(later < earlier for earlier, later in pairwise(shares)):
                yield Problem(
                    ("nodes", node.name, "visibility"),
                    f"{node.name}: visibility falls from {shares[0]:g} to {shares[-1]:g} "
                    f"along the states of {node.visibility.parent}; check their order",
                )


def always_visible_or_never(model: Model) -> Iterator[Problem]:
    """A visibility of 0 or 1 makes one look exclude a state of the obstruction node."""
    for node in model.nodes:
        for state, share in (node.visibility.p if node.visibility else {}).items():
            if share in (0.0, 1.0):
                yield Problem(
                    ("nodes", node.name, "visibility", "p", state),
                    f"{node.name}: visibility {share:g} under {state} allows no exception",
                )


def open_state_with_lighter_tails(model: Model) -> Iterator[Problem]:
    """What is not in the file has lighter tails than a filed mould: a stranger gets a name."""
    for node in model.nodes:
        if node.dimensions:
            filed = _tails(node.dimensions.tails)
            for state, entry in node.dimensions.unfiled.items():
                if _tails(entry.tails) > filed:
                    yield Problem(
                        ("nodes", node.name, "dimensions", "unfiled", state),
                        f"{node.name}: {state} has tails {entry.tails}, filed moulds "
                        f"{node.dimensions.tails}; give it {node.dimensions.tails} or fewer",
                    )


def _tails(tails: float | str) -> float:
    return inf if tails == "normal" else float(tails)


NUMBER_RULES: tuple[Callable[[Model], Iterator[Problem]], ...] = (
    row_without_source,
    row_without_n,
    nearly_certain_on_few,
    prior_leaves_out_a_state,
    state_never_used,
    zero_that_a_finding_could_contradict,
    sum_was_rounded,
    default_never_used,
    visibility_falls,
    always_visible_or_never,
    open_state_with_lighter_tails,
)
