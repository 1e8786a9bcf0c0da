"""How often each entry of each table is expected to have been at work, given many pieces.

The expected count of an entry is the sum over the pieces of P(entry | findings), which is also
the entry times the slope of log P(findings) in it. It comes from one pass up the bucket tree
and one pass down: on the way up each bucket keeps its product, on the way down it receives how
likely each state of its separator is and shares that out over its entries (Lauritzen &
Spiegelhalter 1988; Darwiche 2003; both from memory).

Every table enters through a slot of its own over the states that the model allows, so one
compiled tree serves all numbers that a fit tries. Pieces that agree on everything below a
bucket share the work there, up and down, since what comes down may be added up first.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix

from claywit.inference.network import Floats, Network
from claywit.inference.routes import Route, routed
from claywit.inference.tree import Ints, Tree, compile_tree

LEAST = 1e-300  # a message below it counts as excluded


@dataclass(frozen=True)
class Machine:
    """A compiled tree with a slot for the table of each of *nodes*, then those of the evidence.

    scopes: of each slot. spreads: for each bucket and each of its groups of slots the matrix
    that adds up the bucket's entries onto the slots' scope; likewise onto its children.
    """

    nodes: tuple[str, ...]
    scopes: tuple[tuple[str, ...], ...]
    tree: Tree
    spreads: tuple[tuple[csr_matrix, ...], ...]
    below: tuple[tuple[csr_matrix, ...], ...]


def compile_machine(
    network: Network, scopes: Sequence[tuple[str, ...]], versions: Sequence[int]
) -> Machine:
    """Compile *network* with a slot for evidence on each of *scopes*, of so many *versions*.

    Nodes above which nothing asks are left out. What the rows exclude stays excluded, whatever
    tables are given later.

    Raises:
        ModelError: the network is too entangled to be held in memory.
    """
    asked = frozenset(name for scope in scopes for name in scope)
    nodes = tuple(sorted(network.ancestors(asked)))
    cards = {name: len(network.states[name]) for name in nodes}
    families = [network.table(name) for name in nodes]
    allowed = [(scope, (table > 0).astype(np.float64)) for scope, table in families]
    every = (*(scope for scope, _ in families), *scopes)
    tree = compile_tree(cards, allowed, every, (), [*[1] * len(families), *versions])
    sizes = [int(np.prod([cards[name] for name in scope])) for scope in every]
    spreads = tuple(
        tuple(_onto(index, sizes[members[0]]) for members, index in bucket.slots)
        for bucket in tree.buckets
    )
    below = tuple(
        tuple(_onto(index, len(tree.buckets[child].weights)) for child, index in bucket.children)
        for bucket in tree.buckets
    )
    return Machine(nodes, every, tree, spreads, below)


def _onto(index: Ints, size: int) -> csr_matrix:
    ones = np.ones(len(index))
    return csr_matrix((ones, (index, np.arange(len(index)))), shape=(size, len(index)))


def routes(machine: Machine, picks: Ints, weights: Floats, *, shared: bool = True) -> list[Route]:
    """Return columns of evidence in blocks, ready to run.

    Args:
        machine: the compiled tree.
        picks: which table of each evidence slot each column uses, shape (evidence slots, columns).
        weights: how many pieces each column stands for.
        shared: whether columns that agree below a bucket are worked as one there.
    """
    fixed = np.zeros((len(machine.nodes), picks.shape[1]), np.intp)
    return routed(machine.tree, np.concatenate([fixed, picks]), weights, shared=shared)


@dataclass(frozen=True)
class Slotted:
    """What enters the slots of a machine: the tables of its nodes, then those of the evidence.

    Each has shape (entries, tables to pick from) and is scaled to a largest entry of 1 in each
    table; log_tops: the logarithms of what was divided by, for the evidence.
    """

    tables: tuple[Floats, ...]
    log_tops: tuple[Floats, ...]


def slotted(network: Network, machine: Machine, evidence: Sequence[Floats]) -> Slotted:
    """Return the tables of *network* and log tables of *evidence*, ready to run.

    What lies more than 150 nats below the largest entry of its table is lifted to there, so
    that no product of a few can leave the range of a double; what is impossible stays so.
    """
    inner = [network.table(name)[1].reshape(-1, 1) for name in machine.nodes]
    tops, scaled = [], []
    for table in evidence:
        top = table.max(axis=0)
        top = np.where(top > -np.inf, top, 0.0)
        low = np.maximum(table - top, -150.0)
        scaled.append(np.where(table > -np.inf, np.exp(low), 0.0))
        tops.append(top)
    return Slotted((*inner, *scaled), tuple(tops))


@dataclass(frozen=True)
class _Climbed:
    """What one bucket keeps of the way up, for its distinct columns.

    product: of all that enters, shape (entries, columns). message: what it hands on, its largest
    entry 1. top: what the message was divided by; log_scale: the logarithm of all such below.
    """

    product: Floats
    message: Floats
    top: Floats
    log_scale: Floats


def _up(machine: Machine, route: Route, tables: Sequence[Floats]) -> list[_Climbed]:
    done: list[_Climbed] = []
    for bucket, stop in zip(machine.tree.buckets, route.stops, strict=True):
        fixed = bucket.weights.ravel()
        product = np.empty((len(fixed), stop.count))
        factors = []
        for (members, index), chosen in zip(bucket.slots, stop.chosen, strict=True):
            varied = [i for i, slot in enumerate(members) if tables[slot].shape[1] > 1]
            for i in set(range(len(members))) - set(varied):
                fixed = fixed * tables[members[i]][index, 0]
            if varied:
                own = [tables[members[i]][:, chosen[i]] for i in varied]
                factors.append((np.multiply.reduce(own), index))
        scale = np.zeros(stop.count)
        for (child, index), taken in zip(bucket.children, stop.taken, strict=True):
            factors.append((done[child].message[:, taken], index))
            scale += done[child].log_scale[taken]
        product[:] = fixed[:, np.newaxis]
        entry = np.empty_like(product)  # fresh temporaries would cost more than the product
        for table, index in factors:
            product *= np.take(table, index, axis=0, out=entry, mode="clip")
        total = product.reshape(*bucket.weights.shape, -1).sum(axis=1)
        top = total.max(axis=0)
        top[top < LEAST] = 1.0
        done.append(_Climbed(product, total / top, top, scale + np.log(top)))
    return done


def _log_evidence(route: Route, given: Slotted, last: _Climbed) -> Floats:
    with np.errstate(divide="ignore"):
        found = np.log(np.where(last.message[0] > LEAST, last.message[0], 0.0)) + last.log_scale
    found = found[route.stops[-1].own]
    first = len(given.tables) - len(given.log_tops)
    for i, top in enumerate(given.log_tops):
        found = found + top[route.picks[first + i]]
    return found


@dataclass(frozen=True)
class Block:
    """What one block of columns says.

    log_evidence: log P(findings) of each column. beliefs: from the last bucket to the first,
    P(entries | findings) summed over the pieces that share a distinct column.
    """

    route: Route
    log_evidence: Floats
    beliefs: Iterator[tuple[int, Floats]]


def run(machine: Machine, route: Route, given: Slotted) -> Block:
    """Run one block up, and down as its beliefs are asked for."""
    done = _up(machine, route, given.tables)
    return Block(route, _log_evidence(route, given, done[-1]), _down(machine, route, done))


def _down(machine: Machine, route: Route, done: list[_Climbed]) -> Iterator[tuple[int, Floats]]:
    """Yield each bucket's beliefs, the last bucket first; they take the products' place."""
    stops, buckets = route.stops, machine.tree.buckets
    weights = np.bincount(stops[-1].own, route.weights, stops[-1].count)
    arrived = {len(buckets) - 1: weights[np.newaxis]}
    for b in range(len(buckets) - 1, -1, -1):
        here = done.pop()
        whole = here.message * here.top
        share = np.divide(arrived.pop(b), whole, out=np.zeros_like(whole), where=whole > LEAST)
        belief = here.product
        shaped = belief.reshape(*buckets[b].weights.shape, -1)
        shaped *= share[:, np.newaxis]
        for (child, _), taken, onto in zip(
            buckets[b].children, stops[b].taken, machine.below[b], strict=True
        ):
            arrived[child] = (onto @ belief) @ _picked(taken, stops[child].count)
        yield b, belief


def _picked(taken: Ints, size: int) -> csr_matrix:
    """Return the matrix that adds up columns that took the same column or table."""
    count = len(taken)
    return csr_matrix((np.ones(count), taken, np.arange(count + 1)), shape=(count, size))


def counts(machine: Machine, block: Block, given: Slotted) -> list[Floats]:
    """Return for each slot the expected count of each entry by the table picked.

    Shape (entries, tables) each; a table that stands for "not examined" is counted too.
    """
    found = [np.zeros_like(table) for table in given.tables]
    for b, belief in block.beliefs:
        bucket, stop = machine.tree.buckets[b], block.route.stops[b]
        total = None
        for (members, index), chosen, onto in zip(
            bucket.slots, stop.chosen, machine.spreads[b], strict=True
        ):
            varied = [i for i, slot in enumerate(members) if found[slot].shape[1] > 1]
            if len(varied) < len(members):
                total = belief.sum(axis=1) if total is None else total
                fixed = np.bincount(index, total, onto.shape[0])[:, np.newaxis]
                for i, slot in enumerate(members):
                    if i not in varied:
                        found[slot] += fixed
            if varied:
                own = onto @ belief
                for i in varied:
                    size = found[members[i]].shape[1]
                    found[members[i]] += own @ _picked(chosen[i], size)
    return found


def posteriors(machine: Machine, block: Block) -> Iterator[tuple[int, Floats]]:
    """Yield each slot with P(its entries | findings) for each column, shape (entries, columns).

    The block must not share columns, and its weights must be 1.
    """
    for b, belief in block.beliefs:
        for (members, _), onto in zip(
            machine.tree.buckets[b].slots, machine.spreads[b], strict=True
        ):
            own = onto @ belief
            for slot in members:
                yield slot, own
