"""Pieces drawn from the small model, and that model measured on them."""

import numpy as np
from counted import learn
from small import model

from claywit.evidence.cases import joined
from claywit.inference.network import compile_network
from claywit.inference.simulation import forward
from claywit.measuring import Plan, measure
from claywit.records.cases import read_cases

TRAITS = ("rim", "mark", "seal", "wear")


def drawn(folder, count=60, seed=5, known=None, groups=8):
    """Return pieces drawn from the small model, each from one of some collections."""
    known = known or model()
    network = compile_network(known)
    rng = np.random.default_rng(seed)
    states = forward(network, frozenset(network.states), count, rng)
    group = rng.integers(0, groups, count) if groups else None
    lines = ["id,group,shop," + ",".join(TRAITS)]
    for i in range(count):
        cells = [network.states[n][states[n][i]] for n in ("shop", *TRAITS)]
        lines.append(f"p{i:03d},{'' if group is None else f'g{group[i]}'}," + ",".join(cells))
    path = folder / "drawn.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return joined(known, read_cases(path, known))


def measured(known, cases, **plan):
    return measure(known, cases, Plan(**plan), learn=learn)
