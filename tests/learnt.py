"""Cases for tests of learning, made by hand or drawn, and models that are worth something."""

import networks
import numpy as np
import small

from claywit.evidence.cases import Cases
from claywit.inference.network import compile_network
from claywit.inference.rehearsal import Plan, rehearse
from claywit.model.schema import Model


def cases(model, pieces, special=None):
    """Return *pieces*, dicts of node to state or to a number, as columns."""
    columns = {name: [] for piece in pieces for name in piece}
    codes, measures, doubts = {}, {}, {}
    for name in columns:
        node = model.node(name)
        if node.measured:
            rows = [piece.get(name, np.nan) for piece in pieces]
            filled = [np.atleast_1d(r) if np.ndim(r) else [r] * len(node.measured) for r in rows]
            measures[name] = np.array(filled, dtype=float)
            doubts[name] = np.full_like(measures[name], np.nan)
        else:
            states = node.all_states
            codes[name] = np.array(
                [states.index(p[name]) if p.get(name) else -1 for p in pieces], dtype=np.int16
            )
    return Cases(
        model,
        tuple(f"p-{i}" for i in range(len(pieces))),
        ("",) * len(pieces),
        np.arange(2, 2 + len(pieces)),
        codes,
        measures,
        doubts,
        special or {},
    )


def drawn(model, count, seed, *, missing=0.0, without=()):
    network = compile_network(model)
    plan = Plan(missing, frozenset(without))
    return rehearse(network, plan, 1, count, np.random.default_rng(seed))


def worth(model, n):
    """Return *model* with an n for everything that states numbers."""
    data = model.model_dump(mode="json", exclude_defaults=True)
    for node in data["nodes"]:
        gate = node.get("noisy_max") or node.get("noisy_or") or {}
        parts = [*node.get("rows", ()), *gate.get("causes", ()), gate.get("leak")]
        for part in [*parts, node.get("visibility"), node.get("dimensions")]:
            if part is not None:
                part["n"] = n
    return Model.model_validate(data)


def random_fit(seed, *, size=8, count=60, n=6.0, **more):
    """Return a random model worth something, and pieces drawn from another like it."""
    rng = np.random.default_rng([13, seed])
    truth = networks.random_model(rng, size, zeros=0.15, measured=0.3, gates=0.3, **more)
    return worth(truth, n), drawn(truth, count, seed, missing=0.3)


SHOPS = small.model()
