"""The order of events: what lies over what, and what that says of a trait."""

from collections.abc import Sequence
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from itertools import pairwise

from claywit.errors import did_you_mean
from claywit.model.schema import Model

Pair = tuple[str, str]
MOST_EVENTS = 500  # all pairs of them are worked out


@dataclass(frozen=True)
class Implied:
    """What one pair of events, earliest first, says of one node: it is in one of *states*."""

    pair: Pair
    node: str
    states: tuple[str, ...]


@dataclass(frozen=True)
class Ordered:
    """What an order of events says, and the stated pairs of which the model knows nothing.

    unknown: events that no entry of the model names, each with a hint.
    """

    implied: tuple[Implied, ...]
    not_used: tuple[Pair, ...]
    unknown: tuple[tuple[str, str], ...]


def order_of_events(sequence: Sequence[Sequence[str]], model: Model) -> Ordered:
    """Return what *sequence* says of the model's nodes, each node once.

    A list states that each event lies under the next. What follows from two statements
    together (dirt under coating, coating under crack, so dirt under crack) counts as
    stated, since an order is transitive.

    Raises:
        ValueError: the events go round in a circle, a list names fewer than two events,
            two pairs say different things of one node, or there are more than 500 events.
    """
    named = dict.fromkeys(event for events in sequence for event in events)
    if len(named) > MOST_EVENTS:
        raise ValueError(f"{len(named):,} events; at most {MOST_EVENTS} can be put in order")
    stated: list[Pair] = []
    for events in sequence:
        if len(events) < 2:
            raise ValueError(f"[{', '.join(events)}] orders nothing; name two events or more")
        stated += pairwise(events)
    under = _everything_under(stated)
    implied: dict[str, Implied] = {}
    used: set[Pair] = set()
    for entry in model.order:
        pair = (entry.before, entry.after)
        if entry.before not in under.get(entry.after, ()):
            continue
        used.add(pair)
        said = Implied(pair, entry.node, entry.state)
        earlier = implied.setdefault(entry.node, said)
        if set(earlier.states) != set(said.states):
            raise ValueError(
                f"{_text(earlier.pair)} says {entry.node} is {' or '.join(earlier.states)}, "
                f"{_text(pair)} says {' or '.join(said.states)}; look again at both"
            )
    not_used = tuple(pair for pair in dict.fromkeys(stated) if pair not in used)
    known = {event for entry in model.order for event in (entry.before, entry.after)}
    names = sorted(known)
    unknown = tuple((event, did_you_mean(event, names)) for event in named if event not in known)
    return Ordered(tuple(implied.values()), not_used, unknown)


def _everything_under(stated: Sequence[Pair]) -> dict[str, set[str]]:
    """Return for each event all events that lie under it, near or far."""
    near: dict[str, set[str]] = {}
    for before, after in stated:
        near.setdefault(after, set()).add(before)
        near.setdefault(before, set())
    try:
        order = list(TopologicalSorter(near).static_order())
    except CycleError as wrong:
        around = " under ".join(wrong.args[1])
        raise ValueError(f"the order goes round in a circle: {around}; one pair is wrong") from None
    under: dict[str, set[str]] = {}
    for event in order:
        under[event] = near[event].union(*(under[below] for below in near[event]))
    return under


def _text(pair: Pair) -> str:
    return f"{pair[0]} under {pair[1]}"
