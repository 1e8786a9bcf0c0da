"""The plainest learner: rows counted from pieces on which everything was seen.

An oracle for what `fit` does on such pieces, and a stand-in that folds can be tested with.
"""

from functools import partial

import numpy as np

from claywit.inference.network import compile_network


def learn(model, cases):
    """Return the network of *model* with each row moved to what the pieces of its states say."""
    nodes = tuple(_node(model, node, cases) for node in model.nodes)
    return compile_network(model.model_copy(update={"nodes": nodes}))


def _node(model, node, cases):
    under = partial(_under, model, cases)
    return node.model_copy(
        update={"rows": tuple(_row(node, row, cases, under(row)) for row in node.rows)}
    )


def _under(model, cases, row):
    held = np.ones(len(cases), dtype=bool)
    for parent, states in row.given.items():
        held &= np.isin(
            cases.codes[parent], [model.node(parent).all_states.index(s) for s in states]
        )
    return held


def _row(node, row, cases, held):
    if row.p is not None:
        column = cases.codes.get(node.name)
        if column is None:
            return row
        counts = np.array([(held & (column == k)).sum() for k in range(len(node.state_names))])
        prior = np.array([row.p.get(s, 0.0) for s in node.state_names])
        share = (row.n * prior + counts * (prior > 0)) / (row.n + counts[prior > 0].sum())
        return row.model_copy(
            update={"p": dict(zip(node.state_names, share.tolist(), strict=True))}
        )
    x = cases.values[node.name][held, 0]
    x = x[~np.isnan(x)]
    if not len(x):
        return row
    at, scale, df, n = row.student_t.location, row.student_t.scale, row.student_t.df, row.n
    kappa, nu = n + len(x), df + len(x)
    mean = (n * at + x.sum()) / kappa
    squares = (
        df * scale**2 + ((x - x.mean()) ** 2).sum() + n * len(x) / kappa * (x.mean() - at) ** 2
    )
    spread = float(np.sqrt(squares / nu * (kappa + 1) / kappa))
    density = row.student_t.model_copy(update={"location": float(mean), "scale": spread})
    return row.model_copy(update={"student_t": density})
