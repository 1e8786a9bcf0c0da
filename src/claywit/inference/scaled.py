"""Columns of findings whose probabilities may lie anywhere, each column with some of them.

Each message is scaled by its largest entry, column by column, so that measured values far out
need no logarithms; columns that agree on everything below a bucket share the work there.
"""

from collections.abc import Sequence
from functools import reduce

import numpy as np

from claywit.inference.network import Floats
from claywit.inference.piece import log_total
from claywit.inference.propagation import load, propagate
from claywit.inference.routes import stops_of
from claywit.inference.totals import Factor, linear_total
from claywit.inference.tree import Ints, Tree
from claywit.inference.varied import SAFE


def run_scaled(tree: Tree, tables: Sequence[Floats], picks: Ints) -> Floats:
    """Return log P(root state, evidence), column by column.

    A root state that lies hundreds of nats below the total of its column may come out as
    excluded; where the total itself could be lost the column is run again in logarithms.

    Args:
        tree: the compiled tree.
        tables: the logarithms of each slot's tables to pick from, shape (states, tables).
        picks: which of a slot's tables each column uses, shape (slots, columns).

    Returns:
        Shape (root states, columns).
    """
    highest = [table.max(axis=0) for table in tables]
    tops = [np.where(top > -np.inf, top, 0.0) for top in highest]
    values = [np.exp(table - top) for table, top in zip(tables, tops, strict=True)]
    stops = stops_of(tree, picks, shared=True)
    messages: list[Floats] = []
    scales: list[Floats] = []
    for bucket, stop in zip(tree.buckets, stops, strict=True):
        factors: list[Factor] = []
        for (members, _), chosen in zip(bucket.slots, stop.chosen, strict=True):
            said = (values[slot][:, which] for slot, which in zip(members, chosen, strict=True))
            factors.append(Factor(reduce(np.multiply, said)))
        below = list(zip(bucket.children, stop.taken, strict=True))
        factors += [Factor(messages[child], taken) for (child, _), taken in below]
        total = linear_total(bucket, factors, stop.count)
        top = total.max(axis=0)
        top = np.where(top > 0, top, 1.0)
        total /= top
        messages.append(total)
        scales.append(np.log(top) + sum(scales[child][taken] for (child, _), taken in below))
    with np.errstate(divide="ignore"):
        joint = (np.log(messages[-1]) + scales[-1])[:, stops[-1].own]
    lost = np.flatnonzero(log_total(joint) < -SAFE)
    joint += sum(top[pick] for top, pick in zip(tops, picks, strict=True))
    if lost.size:
        joint[:, lost] = propagate(load(tree, tables), picks[:, lost])
    return joint
