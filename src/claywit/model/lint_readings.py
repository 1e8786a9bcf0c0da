"""Rules about what findings are made of: reading matrices and orders of events."""

from collections.abc import Iterator

from claywit.model.problems import Problem
from claywit.model.schema import Model


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


def order_said_both_ways(model: Model) -> Iterator[Problem]:
    """One state of a node follows from either order of two events, so neither order tells."""
    said: dict[tuple[str, str, str], set[str]] = {}
    for i, entry in enumerate(model.order):
        turned = said.get((entry.after, entry.before, entry.node), set())
        for state in entry.state:
            if state in turned and entry.before != entry.after:
                text = f"order {i + 1}: {entry.node}={state} already follows from the other order"
                yield Problem(("order", i), text)
        said.setdefault((entry.before, entry.after, entry.node), set()).update(entry.state)


def reader_never_wrong(model: Model) -> Iterator[Problem]:
    """A reading matrix allows no slip at all, so one slip would exclude the truth."""
    for name, matrix in model.reading_matrices.items():
        if all(read.get(true, 0.0) == 1 for true, read in matrix.p.items()):
            text = f"{name}: every reading is right; leave a slip a little, or drop the matrix"
            yield Problem(("reading_matrices", name), text)


def reading_of_the_unseen(model: Model) -> Iterator[Problem]:
    """A reading matrix is for a node that cannot be examined, so no finding can name it."""
    for name, matrix in model.reading_matrices.items():
        if not model.node(matrix.node).examine:
            text = f"{name}: {matrix.node} has no `examine`; matrices are for traits"
            yield Problem(("reading_matrices", name, "node"), text)
