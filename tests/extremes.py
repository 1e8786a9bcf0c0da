"""Models and pieces at the edge of what a file may say: tiny shares, zeros, absurd measures."""

import itertools

import numpy as np
from networks import build, random_parents

from claywit.evidence.cases import Cases
from claywit.evidence.findings import Finding, Measure
from claywit.inference.network import compile_network
from claywit.inference.rehearsal import Plan, rehearse
from claywit.model.tables import SMALLEST

FAR = 9  # powers of ten either way that a measure or a spread may have


def extreme_model(rng, size):
    """Return a random model: shares down to 1e-30, zeros, any spread, gates, sizes, matrices."""
    nodes, inner, matrices = {}, {}, {}
    for name in [f"n{i}" for i in range(size)]:
        near = list(inner)[-6:]
        parents = {p: inner[p] for p in random_parents(rng, near)[:3]}
        node = {"parents": list(parents)}
        hiders = [n for n in near if n not in parents]
        if hiders and rng.random() < 0.2:
            seen = {s: float(rng.choice([0, SMALLEST, 0.5, 1])) for s in inner[hiders[0]]}
            node["visibility"] = {"parent": hiders[0], "p": seen}
        if parents and rng.random() < 0.25:
            node |= {"measured": {"size": "mm"}, "u": {"size": spread(rng)},
                     "rows": rows(rng, parents, density)}  # fmt: skip
        elif len(parents) == 2 and "visibility" not in node and rng.random() < 0.3:
            node |= sizes(rng, parents)
        else:
            states = [f"s{k}" for k in range(rng.integers(2, 5))]
            least = 1 if inner else 2
            node |= {"states": states} | table(rng, states, parents, least)
            if rng.random() < 0.3:
                read = {s: shares(rng, states) for s in states}
                matrices[f"read_{name}"] = {"node": name, "p": read}
            if inner and rng.random() < 0.2:
                node["reading_error"] = "in_rows"
        if "states" in node and not node.keys() & {"visibility", "reading_error"}:
            inner[name] = node["states"]
        if name != "n0" and rng.random() < 0.7:
            node["examine"] = {"minutes": float(rng.choice([1e-9, 1, 1e9]))}
        nodes[name] = node
    traits = [name for name, node in nodes.items() if "examine" in node]
    groups = {"first": traits[::2]} if len(traits) > 1 else {}
    return build(f"extreme-{size}", nodes, reading_matrices=matrices, groups=groups)


def spread(rng, low=-FAR, high=FAR):
    """Return a positive number of any size that a file may hold, half of them ordinary."""
    power = rng.uniform(low, high) if rng.random() < 0.5 else rng.uniform(-1, 1)
    return float(np.clip(10**power, 10.0**-FAR, 10.0**FAR))


def shares(rng, states, least=1):
    """Return shares of which at least *least* are above 0, some as small as may be written."""
    weights = [
        rng.dirichlet(np.ones(len(states))),
        10 ** rng.uniform(-30, 0, len(states)),
        np.where(rng.random(len(states)) < 0.5, SMALLEST, 1.0),
        np.where(rng.random(len(states)) < 0.5, 0.0, 1.0),
    ][rng.integers(4)]
    for i in rng.permutation(len(states))[:least]:
        weights[i] = max(weights[i], rng.uniform(0.1, 1))
    held = weights / weights.sum()
    held = np.where(held > 0, np.maximum(held, SMALLEST), 0)
    return {s: float(p) for s, p in zip(states, held, strict=True) if p > 0}


def rows(rng, parents, entry):
    """Return a row for every configuration of the parents."""
    given = itertools.product(*parents.values())
    return [{"given": dict(zip(parents, held, strict=True)), "n": spread(rng)} | entry(rng)
            for held in given]  # fmt: skip


def table(rng, states, parents, least):
    if parents and rng.random() < 0.15:
        raised = [{"given": {p: s}, "p": proposal(rng, states), "n": spread(rng)}
                  for p, names in parents.items() for s in names[1:]]  # fmt: skip
        leak = {"p": proposal(rng, states), "n": spread(rng)}
        return {"noisy_max": {"leak": leak, "causes": raised}}
    return {"rows": rows(rng, parents, lambda r: {"p": shares(r, states, least)})}


def proposal(rng, states):
    return {s: p for s, p in shares(rng, states).items() if s != states[0]}


def density(rng):
    at, width = spread(rng), spread(rng)
    return [
        {"normal": {"mean": at * float(rng.choice([-1, 1])), "sd": width}},
        {"student_t": {"location": at, "scale": width, "df": float(rng.choice([1, 1.5, 4, 1000]))}},
        {"log_normal": {"median": at, "log_sd": width}},
    ][rng.integers(3)]


def sizes(rng, parents):
    """Return a leaf of two sizes that shrink together, of moulds filed and not filed."""
    (_, moulds), (_, pastes) = parents.items()
    names = ("tall", "wide")
    unfiled = {
        "tall": {"mean": spread(rng), "sd": spread(rng)},
        "wide": {"mean": spread(rng), "sd": spread(rng)},
        "correlation": float(rng.choice([-0.999999, 0, 0.7, 0.999999])),
        "tails": [1.0, 4.0, 1000.0, "normal"][rng.integers(4)],
    }
    held = {
        "cavity": {m: {n: spread(rng) for n in names} for m in moulds[1:]},
        "unfiled": {moulds[0]: unfiled},
        "shrinkage": {
            p: {"mean": float(rng.uniform(-0.2, 1.2)), "sd": spread(rng)} for p in pastes
        },
        "tails": [1.0, 4.0, 1000.0, "normal"][rng.integers(4)],
        "n": spread(rng),
    }
    return {"measured": dict.fromkeys(names, "mm"), "u": {n: spread(rng) for n in names},
            "dimensions": held}  # fmt: skip


def extreme_cases(rng, model, count, special=0.1):
    """Return pieces with findings of every form: half drawn from the model, half from nowhere.

    Those from nowhere may well be impossible. *special* is the share with findings that are
    half-certain, of an examiner with a matrix, likelihoods, limits or not visible.
    """
    drawn = rehearse(compile_network(model), Plan(missing=0.4), 1, count, rng)
    nowhere = rng.random(count) < 0.5
    codes, values, doubts = {}, {}, {}
    for name, column in drawn.codes.items():
        anything = rng.integers(-1, len(model.node(name).all_states), count)
        codes[name] = np.where(nowhere, anything, column).astype(np.int16)
    for name, column in drawn.values.items():
        far = 10 ** rng.uniform(-FAR, FAR, column.shape)
        held = np.where(nowhere[:, np.newaxis], far, np.clip(column, 10.0**-FAR, 10.0**FAR))
        values[name] = np.where((rng.random(count) < 0.3)[:, np.newaxis], np.nan, held)
        fine = np.clip(held * 10 ** rng.uniform(-6, 3, column.shape), 10.0**-FAR, 10.0**FAR)
        doubts[name] = np.where(rng.random(column.shape) < 0.7, np.nan, fine)
    found = dict(drawn.special)
    for row in np.flatnonzero(rng.random(count) < special).tolist():
        some = rng.permutation(list(model.nodes))[: rng.integers(1, 4)]
        found[row] = found.get(row, {}) | {n.name: finding(rng, model, n) for n in some}
    for row, by_node in found.items():
        for name in by_node:
            if name in codes:
                codes[name][row] = -1
            else:
                values[name][row] = np.nan
    return Cases(model, drawn.names, drawn.groups, drawn.lines, codes, values, doubts, found)


def finding(rng, model, node):
    """Return a finding in a form that no plain column holds, as extreme as evidence may be."""
    if node.visibility and rng.random() < 0.3:
        return Finding(node.name, not_visible=True)
    if node.measured:
        return Finding(node.name, measures={next(iter(node.measured)): measure(rng)})
    states = node.state_names
    state = str(rng.choice(states))
    matrix = model.reading_matrices.get(f"read_{node.name}")
    if matrix and rng.random() < 0.5:
        return Finding(node.name, state=state, matrix=f"read_{node.name}")
    if rng.random() < 0.5:
        surest = [1 / len(states), 0.5 + 0.5 / len(states), 1 - 1e-16, 1 - 1e-9]
        return Finding(node.name, state=state, sure=float(rng.choice(surest)))
    told = shares(rng, states) | {states[0]: 10.0 ** float(rng.choice([-300, -30, 0]))}
    largest = max(told.values())
    return Finding(node.name, likelihood={s: told.get(s, 0.0) / largest for s in states})


def measure(rng):
    low, high = sorted((spread(rng), spread(rng) * (1 + 1e-9)))
    return [
        Measure(value=low, u=max(spread(rng), 1e-6 * low)),
        Measure(low=low, high=high),
        Measure(low=high),
        Measure(high=low),
    ][rng.integers(4)]
