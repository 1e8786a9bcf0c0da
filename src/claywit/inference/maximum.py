"""The single most probable state of everything: the largest product in place of the sum.

The same supported bucket tree as for posteriors, with max in place of sum on the way up and
a walk back down along the choices that gave the maximum (max-product, Dawid 1992, Statistics
and Computing 2:25-36; from memory).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from claywit.evidence.findings import Finding
from claywit.inference.network import Floats, Network
from claywit.inference.piece import TOLD, evidence_tables
from claywit.inference.tree import Ints, Tree, compile_tree


@dataclass(frozen=True)
class Configuration:
    """A state of every node in *states*, and log P(these states, the findings)."""

    states: Mapping[str, str]
    log_p: float


def most_probable(network: Network, findings: Sequence[Finding]) -> Configuration:
    """Return the most probable states of all discrete nodes but the leaves with a finding.

    A leaf with a finding speaks of its parents, and that is how it is weighed, half-certain
    readings included. Of states that make no difference the first of the model is returned,
    one node after the other. log_p is -inf where the findings cannot stand together.

    Raises:
        ModelError: the network is too entangled to be held in memory.
    """
    tables, _ = evidence_tables(network, findings, frozenset())
    folded = network.leaves & {finding.node for finding in findings}
    names = sorted(set(network.states) - folded)
    # Each node has a table of its own that says nothing: it keeps the node's bucket open,
    # and its index tells which state of the node each entry of the bucket stands for.
    scopes = [*(table.scope for table in tables), *((name,) for name in names)]
    tree = compile_tree(
        {name: len(network.states[name]) for name in names},
        [network.table(name) for name in names],
        scopes,
        (),
    )
    logs = [np.ravel(table.values) for table in tables]
    logs += [np.zeros(len(network.states[name])) for name in names]
    log_p, chosen = _upward(tree, logs)
    owners = {len(tables) + i: name for i, name in enumerate(names)}
    found = _downward(tree, chosen, owners)
    return Configuration({n: network.states[n][found[n]] for n in names}, log_p)


def _upward(tree: Tree, logs: Sequence[Floats]) -> tuple[float, list[Ints]]:
    """Return the largest log product, and for each bucket which state each row chose."""
    messages: list[Floats] = []
    chosen: list[Ints] = []
    for bucket in tree.buckets:
        with np.errstate(divide="ignore"):
            total = np.log(bucket.weights).ravel()
        for members, index in bucket.slots:
            for slot in members:
                total = total + logs[slot][index]
        for child, index in bucket.children:
            total = total + messages[child][index]
        rows = total.reshape(bucket.weights.shape)
        most = rows.max(axis=1)
        # Of equals but for rounding the first, as `piece.ranked` has it.
        chosen.append((rows >= most[:, np.newaxis] - 10.0**-TOLD).argmax(axis=1))
        messages.append(most)
    return float(messages[-1][0]), chosen


def _downward(tree: Tree, chosen: Sequence[Ints], owners: Mapping[int, str]) -> dict[str, int]:
    """Return the number of the state of each node, along the choices from the root down."""
    states: dict[str, int] = {}
    row = dict.fromkeys(range(len(tree.buckets)), 0)
    for i in reversed(range(len(tree.buckets))):
        bucket = tree.buckets[i]
        entry = row[i] * bucket.weights.shape[1] + int(chosen[i][row[i]])
        for members, index in bucket.slots:
            for slot in members:
                if slot in owners:
                    states[owners[slot]] = int(index[entry])
        for child, index in bucket.children:
            row[child] = int(index[entry])
    return states
