"""Whole pieces drawn from a model, as a file of cases would hold them."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from claywit.evidence.cases import Cases, Codes, Floats
from claywit.evidence.findings import Finding, Measure
from claywit.inference.likelihood import size_places, uncertainty
from claywit.inference.network import Network
from claywit.inference.simulation import Chance, draw_single, draw_sizes, forward
from claywit.inference.tree import Bools
from claywit.model.quantities import UNITS
from claywit.model.schema import Node

DIGITS = 6  # of a measured value
_TRIES = 100
_DRAWN = re.compile(r"sim-\d{7,}")  # the ids that drawn pieces have


@dataclass(frozen=True)
class Plan:
    """What is drawn.

    missing: the share of readings of traits that were not examined, each on its own.
    without: nodes that are left out, with no column at all.
    groups: how many source collections the pieces come from, evenly; 0 for no groups.
    """

    missing: float = 0.0
    without: frozenset[str] = frozenset()
    groups: int = 0


def drawn_among(names: Iterable[str]) -> int:
    """Return how many pieces have an id as `rehearse` gives it, so that nobody ever held them."""
    return sum(_DRAWN.fullmatch(name) is not None for name in names)


def rehearse(
    network: Network, plan: Plan, first: int, count: int, rng: np.random.Generator
) -> Cases:
    """Return *count* pieces drawn from the model, the first of them piece number *first*.

    Every hidden node is a column too, so that the truth is known. What does not apply to a
    piece is not examined, and a measure is rounded to 6 significant digits.
    """
    chance = Chance(forward(network, frozenset(network.states), count, rng), count, rng)
    codes: dict[str, Codes] = {}
    values: dict[str, Floats] = {}
    for node in network.model.nodes:
        if node.name in network.states:
            codes[node.name] = chance.drawn[node.name].astype(np.int16)
        else:
            values[node.name] = _rounded(_values(network, node, chance))
    hidden = {name: _hidden(network, network.model.node(name), chance) for name in values}
    blanks = {node.name: _blank(network, node, chance, plan) for node in network.model.nodes}
    for name, column in codes.items():
        column[blanks[name]] = -1
    for name, measures in values.items():
        measures[blanks[name] | hidden[name]] = np.nan
    special: dict[int, dict[str, Finding]] = {}
    for name in sorted(values.keys() - plan.without):
        for row in np.flatnonzero(hidden[name] & ~blanks[name]).tolist():
            special.setdefault(row, {})[name] = Finding(name, not_visible=True)
    numbers = range(first, first + count)
    return Cases(
        network.model,
        tuple(f"sim-{i:07d}" for i in numbers),
        tuple(
            f"collection-{rng.integers(plan.groups) + 1}" if plan.groups else "" for _ in numbers
        ),
        np.arange(first, first + count, dtype=np.int64),
        {name: column for name, column in codes.items() if name not in plan.without},
        {name: column for name, column in values.items() if name not in plan.without},
        {n: np.full_like(c, np.nan) for n, c in values.items() if n not in plan.without},
        special,
    )


def _values(network: Network, node: Node, chance: Chance) -> Floats:
    """Return the measures of every piece, drawn again where a long tail gives a size below 0."""
    values = _once(network, node, chance)
    sizes = [UNITS[unit].kind in ("length", "mass") for unit in node.measured.values()]
    for _ in range(_TRIES):
        again = np.flatnonzero(((values <= 0) & sizes).any(axis=1))
        if not again.size:
            break
        states = {name: drawn[again] for name, drawn in chance.drawn.items()}
        values[again] = _once(network, node, Chance(states, again.size, chance.rng))
    return values


def _once(network: Network, node: Node, chance: Chance) -> Floats:
    read = [uncertainty(node, name, Measure(value=0.0)) for name in node.measured]
    if not node.dimensions:
        return draw_single(network, node, read[0], chance)[:, np.newaxis]
    places = list(size_places(network, node, list(node.measured), np.array(read)))
    return draw_sizes(node, places, chance)


def _hidden(network: Network, node: Node, chance: Chance) -> Bools:
    """Return on which pieces something is in the way of a measure."""
    if not node.visibility:
        return np.zeros(chance.count, dtype=np.bool_)
    hiding = network.hiding[node.name][chance.drawn[node.visibility.parent]]
    found: Bools = chance.rng.random(chance.count) < hiding
    return found


def _rounded(values: Floats) -> Floats:
    with np.errstate(divide="ignore"):
        places = DIGITS - 1 - np.floor(np.log10(np.abs(values)))
    ten = 10.0 ** np.where(np.isfinite(places), places, 0)
    found: Floats = np.round(values * ten) / ten
    return found


def _blank(network: Network, node: Node, chance: Chance, plan: Plan) -> Bools:
    """Return on which pieces the node says nothing: it does not apply, or nobody looked."""
    blank: Bools = np.zeros(chance.count, dtype=np.bool_)
    for parent, allowed in node.applies_if.items():
        met = [network.states[parent].index(state) for state in allowed]
        blank |= ~np.isin(chance.drawn[parent], met)
    if node.is_trait:
        blank |= chance.rng.random(chance.count) < plan.missing
    return blank
