"""A proposition about a piece: `mould=M04`, `period=P1|P2,class=C1`."""

from collections.abc import Iterable, Mapping

from claywit.errors import did_you_mean
from claywit.model.schema import Model

Proposition = Mapping[str, tuple[str, ...]]
Pair = tuple[Proposition, Proposition]  # what is weighed for, and against what


def proposition(text: str, model: Model) -> Proposition:
    """Return the states that *text* allows each node it names; all nodes hold together.

    Raises:
        ValueError: it is not of the form `node=state|state,node=state`, or names a node or
            state that the model does not have.
    """
    allowed: dict[str, tuple[str, ...]] = {}
    for part in text.split(","):
        name, equals, states = (piece.strip() for piece in part.partition("="))
        if not equals or not name or not states:
            raise ValueError(f"'{text}' is not a proposition; write node=state, as mould=M04")
        if name not in model.by_name:
            raise ValueError(f"'{text}': no node {name}; {did_you_mean(name, model.by_name)}")
        if name in allowed:
            raise ValueError(f"'{text}' names {name} twice; join its states with |")
        if model.node(name).measured:
            raise ValueError(f"'{text}': {name} is measured; a proposition is about states")
        chosen = tuple(state.strip() for state in states.split("|"))
        if not all(chosen):
            raise ValueError(f"'{text}': a state is missing beside |")
        known = model.node(name).state_names
        for state in chosen:
            if state not in known:
                hint = did_you_mean(state, known)
                raise ValueError(f"'{text}': {name} has no state {state}; {hint}")
        allowed[name] = tuple(s for s in known if s in chosen)
    return allowed


def overlap(one: Proposition, other: Proposition) -> bool:
    """Return whether a piece could be both."""
    shared: Iterable[str] = set(one) & set(other)
    return all(set(one[name]) & set(other[name]) for name in shared)


def text_of(allowed: Proposition) -> str:
    """Return the proposition in the form in which it is typed."""
    return ",".join(f"{name}={'|'.join(states)}" for name, states in allowed.items())
