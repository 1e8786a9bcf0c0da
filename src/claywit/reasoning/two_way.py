"""Two numbers of the model at once: what the answer would be for any values of both."""

from dataclasses import dataclass

import numpy as np

from claywit.errors import EvidenceError, did_you_mean
from claywit.inference.drawing import Drawn
from claywit.inference.network import Floats
from claywit.inference.setting import with_share
from claywit.inference.varied import Varied, entering, run
from claywit.reasoning.sensitivity import Number, OneWay

LONGEST = 1000  # characters


@dataclass(frozen=True)
class TwoWay:
    """P(state of the question, findings) as both numbers take any value.

    corners: shape (2, 2, states): at 0 and 1 of the first and of the second, on one scale.
    Between the corners it is bilinear, since no joint state uses two shares of one row.
    """

    numbers: tuple[Number, Number]
    states: tuple[str, ...]
    corners: Floats

    def posterior(self, x: float, y: float) -> Floats:
        """Return the posterior of the question with the numbers at *x* and *y*; shape (states,)."""
        across = (1 - x) * self.corners[0] + x * self.corners[1]
        joint = (1 - y) * across[0] + y * across[1]
        shares: Floats = joint / joint.sum()
        return shares


def find_number(ways: OneWay, text: str) -> int:
    """Return which of the numbers *text* means, as `shell=present,paste=A`.

    The first part names the node and its state, the others for which states of the parents.

    Raises:
        EvidenceError: it means none of the numbers, or several.
    """
    if len(text) > LONGEST:
        raise EvidenceError(f"'{text[:60]}…' is too long to name a number of the model")
    parts = [part.partition("=") for part in text.split(",")]
    pairs = [(name.strip(), state.strip()) for name, _, state in parts]
    if not all(name and state for name, state in pairs):
        raise EvidenceError(f"'{text}' names no number; write node=state,parent=state")
    (node, state), given = pairs[0], dict(pairs[1:])
    if len(given) < len(pairs) - 1:
        raise EvidenceError(f"'{text}' names a parent twice; name each once")
    own = [i for i, number in enumerate(ways.numbers) if number.node == node]
    if not own:
        nodes = list(dict.fromkeys(number.node for number in ways.numbers))
        hint = did_you_mean(node, nodes)
        raise EvidenceError(f"'{text}': the answer rests on no number of {node}; {hint}")
    of_state = [i for i in own if ways.numbers[i].state == state]
    if not of_state:
        states = list(dict.fromkeys(ways.numbers[i].state for i in own))
        hint = did_you_mean(state, states)
        raise EvidenceError(f"'{text}': {node} has no share of {state} to vary; {hint}")
    held = [i for i in of_state if _holds(ways.numbers[i], given)]
    exact = [i for i in held if set(ways.numbers[i].given) == set(given)] or held
    if len(exact) != 1:
        shown = ", ".join(_named(ways.numbers[i]) for i in (held or of_state)[:4])
        found = "none" if not exact else f"{len(exact)}"
        raise EvidenceError(f"'{text}' means {found} of the numbers, must be one: as {shown}")
    return exact[0]


def _holds(number: Number, given: dict[str, str]) -> bool:
    return all(state in number.given.get(parent, ()) for parent, state in given.items())


def _named(number: Number) -> str:
    given = [f"{parent}={states[0]}" for parent, states in number.given.items()]
    return ",".join([f"{number.node}={number.state}", *given])


def two_way(varied: Varied, ways: OneWay, one: int, other: int) -> TwoWay:
    """Return the two-way function of two of the numbers of *ways*.

    Raises:
        EvidenceError: both are shares of one node, which give way to each other.
    """
    numbers = ways.numbers[one], ways.numbers[other]
    if numbers[0].node == numbers[1].node:
        raise EvidenceError(
            f"{numbers[0].node}: two numbers of one node cannot be varied together; choose another"
        )
    network = varied.network
    for number, values in zip(numbers, ([0.0, 0.0, 1.0, 1.0], [0.0, 1.0, 0.0, 1.0]), strict=True):
        share = (number.node, number.kind, number.given, number.state)
        network = with_share(network, share, np.array(values))
    logs = run(varied.tree, entering(varied, Drawn(network)))
    column = varied.tree.root_states[:, varied.tree.roots.index(ways.question)]
    joint = np.eye(len(ways.states))[column].T @ np.exp(logs - logs.max())
    return TwoWay(numbers, ways.states, joint.T.reshape(2, 2, -1))
