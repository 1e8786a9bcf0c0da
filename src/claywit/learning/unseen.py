"""How often a piece is not in the file: the share of an open state, from what a file covers.

Counting alone would tell a model that nothing lies outside its reference file, since most files
were made of pieces whose moulds could be named. The share of moulds seen once says how much is
still missing (Good 1953), so it sets a floor under the open state.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq

from claywit.evidence.cases import Cases
from claywit.inference.network import Floats, Network
from claywit.inference.piece import compile_piece
from claywit.learning.moulds import Coverage, Sightings, coverage, sightings
from claywit.learning.numbers import Numbers
from claywit.model.schema import Model, Node

FEWEST = 20  # pieces of named states, below which coverage says too little


@dataclass(frozen=True)
class Open:
    """What a file says of the open state of one node.

    named: the pieces whose state is not open. recorded: pieces recorded as open.
    counted: the open state's share as the rows were counted; target: what it should be at
    least; share: what it is now.
    """

    node: str
    state: str
    named: Sightings
    recorded: int
    covered: Coverage
    elicited: float
    counted: float
    target: float
    share: float


def opened(before: Numbers, now: Numbers, cases: Cases) -> tuple[Numbers, tuple[Open, ...]]:
    """Return numbers whose open states have at least the share that the file leaves uncovered.

    An open state is raised by one factor on its odds, in all rows that have an n, until its
    share of all pieces is (n q + f1 + k) / (n + pieces): q its elicited share, worth n pieces,
    f1 the states seen once, k the pieces recorded as open. A state that counting already holds
    higher is left alone.
    """
    found = []
    for node in now.network.model.nodes:
        names = [state.name for state in node.states if state.open]
        if len(names) != 1 or node.name not in now.shares or node.name not in cases.codes:
            continue
        place = node.state_names.index(names[0])
        tally = np.bincount(
            cases.codes[node.name][cases.codes[node.name] >= 0], minlength=len(node.all_states)
        )
        recorded = int(tally[place])
        named = sightings(int(c) for i, c in enumerate(tally[: len(node.states)]) if i != place)
        if named.pieces < FEWEST:
            continue
        now, one = _raised(before, now, node, (named, recorded))
        found.append(one)
    return now, tuple(found)


def _raised(
    before: Numbers, now: Numbers, node: Node, counted: tuple[Sightings, int]
) -> tuple[Numbers, Open]:
    named, recorded = counted
    state = next(s.name for s in node.states if s.open)
    place = node.state_names.index(state)
    was, share = (_share(numbers, node, place) for numbers in (before, now))
    n = float(np.median([row.n for row in node.rows if row.n] or [0.0]))
    pieces = named.pieces + recorded
    target = (n * was + named.left(1) + recorded) / (n + pieces)
    one = Open(node.name, state, named, recorded, coverage(named), was, share, target, share)
    if not named.left(1) or target <= share:
        return now, one
    weights = _row_weights(now.network, node)
    rows = now.shares[node.name]
    movable = (rows[:, place] > 0) & (rows[:, place] < 1)
    movable &= [row.n is not None for row in node.rows]  # what is exact stays, in the file too

    def raised(log_factor: float) -> Floats:
        moved = rows.copy()
        moved[movable, place] *= np.exp(log_factor)
        scaled: Floats = moved / moved.sum(axis=1, keepdims=True)
        return scaled

    def short(log_factor: float) -> float:
        return float(weights @ raised(log_factor)[:, place]) - target

    if short(20.0) <= 0:
        return now, one
    rows = raised(brentq(short, 0.0, 20.0, xtol=1e-12))
    shares = {**now.shares, node.name: rows}
    tables = {**now.network.rows, node.name: rows[now.network.row_index[node.name]]}
    moved = replace(now, network=replace(now.network, rows=tables), shares=shares)
    return moved, replace(one, share=_share(moved, node, place))


def _share(now: Numbers, node: Node, place: int) -> float:
    return float(_row_weights(now.network, node) @ now.shares[node.name][:, place])


def _row_weights(network: Network, node: Node) -> Floats:
    """Return how often each row of a node is at work."""
    index = network.row_index[node.name]
    if not node.parents:
        return np.ones(1)
    piece = compile_piece(network, (), node.parents)
    joint = np.exp(piece.log_joint(np.zeros((1, 0), dtype=np.bool_)))[:, 0]
    rows = index[tuple(piece.tree.root_states.T)]
    return np.bincount(rows, joint, len(node.rows)).astype(np.float64)


def by_state(model: Model, cases: Cases) -> Mapping[str, Mapping[str, int]]:
    """Return for each target how many pieces are recorded to be in each of its states."""
    found: dict[str, dict[str, int]] = {}
    for name in model.targets:
        if name in cases.codes:
            codes = cases.codes[name]
            tally = np.bincount(codes[codes >= 0], minlength=len(model.node(name).states))
            found[name] = {
                state: int(count)
                for state, count in zip(model.node(name).state_names, tally, strict=False)
                if count
            }
    return found
