"""Rules about time and descent: periods that follow each other, moulds taken off pieces."""

from collections.abc import Iterator
from itertools import pairwise

from claywit.model.dates import years
from claywit.model.graph import reached
from claywit.model.problems import Problem, of_node
from claywit.model.schema import Model, Node, State


def _periods(model: Model) -> Iterator[tuple[Node, State, State]]:
    """Yield neighbours among the dated states of a root: what has no cause is time itself."""
    for node in model.nodes:
        dated = [state for state in node.states if state.date]
        for before, after in pairwise(dated) if not node.parents else ():
            yield node, before, after


def dates_out_of_order(model: Model) -> Iterator[Problem]:
    """Periods do not stand in the order of time, and charts and ranges follow the file."""
    for node, before, after in _periods(model):
        if years(after.date)[0] < years(before.date)[0]:
            text = f"{after.name} ({after.date}) stands after {before.name} ({before.date})"
            yield of_node(node.name, f"{text}; list the earliest first", "states", after.name)


def dates_overlap(model: Model) -> Iterator[Problem]:
    """Two periods share a year, so a piece of that year belongs to both."""
    for node, before, after in _periods(model):
        (begun, ended), (start, _) = years(before.date), years(after.date)
        if begun <= start <= ended:
            text = f"{before.name} ({before.date}) and {after.name} ({after.date}) share {start:g}"
            yield of_node(node.name, f"{text}; end the one before the other", "states", after.name)


def dates_leave_a_gap(model: Model) -> Iterator[Problem]:
    """Years between two periods belong to neither, so a piece of those years has no place."""
    for node, before, after in _periods(model):
        ended, start = years(before.date)[1], years(after.date)[0]
        if start > ended + 1:
            text = f"no period holds {ended + 1:g} to {start - 1:g}; extend {before.name} or"
            yield of_node(node.name, f"{text} {after.name}", "states", after.name)


def cast_before_its_model(model: Model) -> Iterator[Problem]:
    """A mould taken off a finished piece is dated before the mould of that piece."""
    for node in model.nodes:
        for state in node.states:
            source = node.state(state.after) if state.after else state
            if state.date and source.date and years(state.date)[0] < years(source.date)[0]:
                text = f"{state.name} ({state.date}) is after {source.name} ({source.date})"
                yield of_node(node.name, f"{text}; one of the dates is wrong", "states", state.name)


def casts_in_a_circle(model: Model) -> Iterator[Problem]:
    """A mould is taken off a piece that descends from that very mould."""
    for node in model.nodes:
        source = {state.name: state.after for state in node.states if state.after}
        for name, after in source.items():
            if name in reached([after], lambda one, known=source: filter(None, [known.get(one)])):  # type: ignore[misc]
                text = f"{name} is taken off a piece that descends from {name}; mend `after`"
                yield of_node(node.name, text, "states", name, "after")


def cast_larger_than_its_model(model: Model) -> Iterator[Problem]:
    """A mould taken off a piece is larger than any paste lets that piece be: pastes shrink."""
    for node in model.nodes:
        mould = model.node(node.parents[0]) if node.dimensions else None
        for state in mould.states if mould else ():
            yield from _too_large(node, state)


def _too_large(node: Node, state: State) -> Iterator[Problem]:
    sizes = node.dimensions
    if sizes and state.name in sizes.cavity and state.after in sizes.cavity:
        least = min(paste.mean for paste in sizes.shrinkage.values())
        for measure, size in sizes.cavity[state.name].items():
            limit = sizes.cavity[state.after][measure] * (1 - least)
            if size > limit:
                text = (
                    f"{state.name}, after {state.after}: {measure} {size:g}, but a piece of"
                    f" {state.after} has {limit:.4g} at most"
                )
                yield of_node(node.name, text, "dimensions", "cavity", state.name)
