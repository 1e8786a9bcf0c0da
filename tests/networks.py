"""Networks for tests: published ones from their JSON, and random ones from a seed."""

import itertools
import json
from pathlib import Path

import numpy as np
from oracles import a_piece

from claywit.evidence.findings import Finding, Measure
from claywit.inference.network import compile_network
from claywit.model.schema import Model
from claywit.model.soundness import sound
from claywit.report.digest import plain

PUBLISHED = Path(__file__).parent / "published"


def published(name):
    """Return a published network as a model, with the checks that come with it."""
    data = json.loads((PUBLISHED / f"{name}.json").read_text(encoding="utf-8"))
    nodes = {}
    for node, entry in data["nodes"].items():
        given = itertools.product(*[data["nodes"][p]["states"] for p in entry["parents"]])
        rows = [
            {"given": dict(zip(entry["parents"], states, strict=True)),
             "p": dict(zip(entry["states"], shares, strict=True)), "source": "published", "n": 1}
            for states, shares in zip(given, entry["cpt"], strict=True)
        ]  # fmt: skip
        nodes[node] = {"states": entry["states"], "parents": entry["parents"], "rows": rows}
    return build(name, nodes), data["checks"]


def build(name, nodes, **more):
    data = {"format": "claywit-model/1", "name": name.replace("_", "-"), "version": "1.0.0",
            "targets": [next(n for n, v in nodes.items() if "states" in v)], "status": "elicited",
            "nodes": nodes, **more}  # fmt: skip
    return sound(Model.model_validate(data), name)


def random_model(rng, size, *, zeros=0.15, hideable=0.2, gates=0.2, measured=0.0):
    """Return a random model: 2 to 4 states, up to 4 parents among the six nodes before it.

    Some rows have structural zeros, some hold for several states or for all that is left;
    some nodes are noisy-MAX, can be hidden by another, or are measured. What can be hidden
    or is measured is nobody's parent. The nodes stand in any order.
    """
    nodes, inner, matrices = {}, {}, {}
    for name in [f"n{i}" for i in range(size)]:
        near = list(inner)[-6:]
        parents = {p: inner[p] for p in random_parents(rng, near)}
        hiders = [n for n in near if n not in parents]
        node = {"parents": list(parents)}
        if hiders and rng.random() < hideable:
            seen = {s: round(float(rng.uniform(0.01, 0.8)), 3) for s in inner[hiders[0]]}
            node["visibility"] = {"parent": hiders[0], "p": seen}
        if parents and rng.random() < measured:
            node |= {"measured": {"size": "mm"}, "u": {"size": 0.2},
                     "rows": random_rows(rng, parents, random_density)}  # fmt: skip
        else:
            states = [f"s{k}" for k in range(rng.integers(2, 5))]
            node |= {"states": states} | random_table(rng, states, parents, zeros, gates)
            if rng.random() < 0.2:
                rows = {s: random_row(rng, states, zeros) for s in states}
                matrices[f"read_{name}"] = {"node": name, "p": rows}
        if "states" in node and "visibility" not in node:
            inner[name] = node["states"]
        nodes[name] = node
    shuffled = {name: nodes[name] for name in rng.permutation(list(nodes)).tolist()}
    return build(f"random-{size}", shuffled, reading_matrices=matrices)


def random_parents(rng, near):
    count = rng.choice(5, p=[0.1, 0.3, 0.35, 0.2, 0.05])
    return sorted(rng.permutation(near)[:count].tolist())


def random_table(rng, states, parents, zeros, gates):
    if parents and rng.random() < gates:
        return {"noisy_max": random_gate(rng, states, parents)}
    return {"rows": random_rows(rng, parents, lambda r: {"p": random_row(r, states, zeros)})}


def random_rows(rng, parents, entry):
    """Return rows that match every configuration once: each alone, in pairs, or by default."""
    kind = rng.integers(3) if parents else 0
    choices = [[[s] for s in states] for states in parents.values()]
    if kind == 1:
        choices[0] = [choices[0][0], [s for (s,) in choices[0][1:]]]
    given = [dict(zip(parents, held, strict=True)) for held in itertools.product(*choices)]
    if kind == 2 and len(given) > 2:
        spared = set(rng.permutation(len(given))[: len(given) // 3].tolist())
        given = [{} if i == min(spared) else g for i, g in enumerate(given) if i not in spared - {min(spared)}]  # fmt: skip
    return [{"given": g} | entry(rng) for g in given]


def random_row(rng, states, zeros):
    shares = rng.dirichlet(np.ones(len(states)))
    kept = rng.random(len(states)) >= zeros
    kept[rng.integers(len(states))] = True
    shares = np.where(kept, np.maximum(shares, 1e-3), 0)
    shares = shares / shares.sum()
    return {s: float(p) for s, p in zip(states, shares, strict=True) if p > 0}


def random_density(rng):
    at, spread = float(rng.uniform(4, 9)), float(rng.uniform(0.5, 1.5))
    return [
        {"normal": {"mean": at, "sd": spread}},
        {"student_t": {"location": at, "scale": spread, "df": float(rng.uniform(1, 9))}},
        {"log_normal": {"median": at, "log_sd": spread / 6}},
    ][rng.integers(3)]


def random_gate(rng, states, parents):
    def proposal():
        shares = rng.dirichlet(np.ones(len(states))) * rng.uniform(0.2, 1)
        return {s: float(p) for s, p in zip(states[1:], shares[1:], strict=True)}

    causes = [{"given": {p: s}, "p": proposal()} for p, names in parents.items() for s in names[1:]]
    return {"leak": {"p": proposal()}, "causes": causes}


def random_findings(rng, model, share=0.4, truth=None):
    """Return findings of every form on random nodes, leaves and inner ones alike.

    They can stand together if *truth*, a state of every discrete node, is given.
    """
    drawn = [node for node in model.nodes if rng.random() < share]
    return [random_finding(rng, model, node, (truth or {}).get(node.name)) for node in drawn]


def random_finding(rng, model, node, true):
    hidden = rng.random() < 0.2 if true is None else true == "not_visible"
    if node.visibility and hidden:
        return Finding(node.name, not_visible=True)
    if node.measured:
        return Finding(node.name, measures={"size": random_measure(rng)})
    states, kind = node.state_names, rng.integers(4)
    state = true or str(rng.choice(states))
    if kind == 1:
        values = rng.uniform(0.05, 1, len(states))
        found = dict(zip(states, (values / values.max()).tolist(), strict=True))
        return Finding(node.name, likelihood=found)
    if kind == 2:
        guess = str(rng.choice(states))
        return Finding(node.name, state=guess, sure=float(rng.uniform(1 / len(states), 1)))
    matrix = model.reading_matrices.get(f"read_{node.name}")
    if kind == 3 and matrix:
        read = str(rng.choice(list(matrix.p[state])))
        return Finding(node.name, state=read, matrix=f"read_{node.name}")
    return Finding(node.name, state=state)


def random_measure(rng):
    value = float(rng.uniform(3, 12))
    return [
        Measure(value=value),
        Measure(value=value, u=0.5),
        Measure(low=value, high=value + 0.7),
        Measure(high=value),
    ][rng.integers(4)]


def entangled(roots):
    """Return a network too entangled to be held: each of many traits hangs on four of the roots."""
    rng = np.random.default_rng(roots)
    nodes = {
        f"r{i}": {"states": ["a", "b"], "rows": [{"p": {"a": 0.5, "b": 0.5}}]} for i in range(roots)
    }
    for i in range(3 * roots):
        parents = [f"r{j}" for j in sorted(rng.permutation(roots)[:4].tolist())]
        rows = [{"p": {"x": 0.5, "y": 0.5}}]
        nodes[f"t{i}"] = {"states": ["x", "y"], "parents": parents, "rows": rows}
    findings = [Finding(f"t{i}", state="x") for i in range(3 * roots)]
    return compile_network(build("entangled", nodes)), findings


def with_n(known, n):
    """Return the model with *n* behind every row, cause and visibility."""
    data = plain(known)
    for node in data["nodes"]:
        gate = node.get("noisy_max") or node.get("noisy_or")
        rows = [*node.get("rows", ()), *([gate["leak"], *gate.get("causes", ())] if gate else ())]
        rows += [node[key] for key in ("visibility", "dimensions") if key in node]
        for row in rows:
            row["n"] = n
    return Model.model_validate(data)


def a_case(rng, known):
    """Return findings that can stand together, and a node without one to ask about."""
    root = next(n for n in known.by_name if known.node(n).states and not known.node(n).visibility)
    findings = random_findings(rng, known, truth=a_piece(rng, known))
    return [f for f in findings if f.node != root], root
