"""Networks for tests: published ones from their JSON, and random ones from a seed.

The oracles are built from the model's rows, not from claywit's arrays.
"""

import itertools
import json
from math import fsum
from pathlib import Path

import numpy as np

from claywit.evidence.findings import Finding
from claywit.inference.network import compile_network
from claywit.model.schema import Model
from claywit.model.soundness import sound

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
            "targets": [next(iter(nodes))], "status": "elicited", "nodes": nodes, **more}  # fmt: skip
    return sound(Model.model_validate(data), name)


def random_model(rng, size, *, zeros=0.15, hideable=0.2, gates=0.2):
    """Return a random model: 2 to 4 states, up to 3 parents among near predecessors.

    Some rows have structural zeros, some nodes can be hidden by another, some are noisy-MAX.
    """
    names = [f"n{i}" for i in range(size)]
    nodes = {}
    for i, name in enumerate(names):
        states = [f"s{k}" for k in range(rng.integers(2, 5))]
        near = names[max(0, i - 6) : i]
        parents = sorted(rng.permutation(near)[: rng.integers(0, min(3, len(near)) + 1)].tolist())
        node = {"states": states, "parents": parents}
        hidden_by = next((n for n in near if n not in parents), None)
        if hidden_by and rng.random() < hideable:
            shares = {
                s: round(float(rng.uniform(0.01, 0.8)), 3) for s in nodes[hidden_by]["states"]
            }
            node["visibility"] = {"parent": hidden_by, "p": shares}
        if parents and rng.random() < gates and not any("visibility" in nodes[p] for p in parents):
            node["noisy_max"] = random_gate(rng, states, {p: nodes[p]["states"] for p in parents})
        else:
            node["rows"] = [
                {
                    "given": dict(zip(parents, given, strict=True)),
                    "p": random_row(rng, states, zeros),
                }
                for given in itertools.product(*[nodes[p]["states"] for p in parents])
            ]
        nodes[name] = node
    for node in nodes.values():  # a node that can be hidden has one more state than its rows name
        if any("visibility" in nodes[p] for p in node["parents"]):
            node["parents"] = [p for p in node["parents"] if "visibility" not in nodes[p]]
            given = itertools.product(*[nodes[p]["states"] for p in node["parents"]])
            node["rows"] = [{"given": dict(zip(node["parents"], g, strict=True)),
                             "p": random_row(rng, node["states"], zeros)} for g in given]  # fmt: skip
            node.pop("noisy_max", None)
        if "visibility" in node and "visibility" in nodes[node["visibility"]["parent"]]:
            node.pop("visibility")
    return build(f"random-{size}", nodes)


def random_row(rng, states, zeros):
    shares = rng.dirichlet(np.ones(len(states)))
    kept = rng.random(len(states)) >= zeros
    kept[rng.integers(len(states))] = True
    shares = np.where(kept, np.maximum(shares, 1e-3), 0)
    shares = shares / shares.sum()
    return {s: float(p) for s, p in zip(states, shares, strict=True) if p > 0}


def random_gate(rng, states, parents):
    def proposal():
        shares = rng.dirichlet(np.ones(len(states))) * rng.uniform(0.2, 1)
        return {s: float(p) for s, p in zip(states[1:], shares[1:], strict=True)}

    causes = [{"given": {p: s}, "p": proposal()} for p, names in parents.items() for s in names[1:]]
    return {"leak": {"p": proposal()}, "causes": causes}


def tables(model):
    """Return P(node | parents) of every node as {configuration: {state: p}}, from its rows."""
    states = {
        n.name: [*n.state_names, *(["not_visible"] if n.visibility else [])] for n in model.nodes
    }
    found = {}
    for node in model.nodes:
        parents = node.all_parents
        table = {}
        for given in itertools.product(*[states[p] for p in parents]):
            held = dict(zip(parents, given, strict=True))
            shares = _gate_row(node, held) if node.noisy else _row(node, held)
            if node.visibility:
                hidden = node.visibility.p[held[node.visibility.parent]]
                shares = {s: p * (1 - hidden) for s, p in shares.items()} | {"not_visible": hidden}
            table[given] = shares
        found[node.name] = (parents, states[node.name], table)
    return found


def _row(node, held):
    row = next(r for r in node.rows if all(held[p] in names for p, names in r.given.items()))
    total = fsum(row.p.values())
    return {s: row.p.get(s, 0.0) / total for s in node.state_names}


def _gate_row(node, held):
    """P(highest proposal), by going through what every cause may propose."""
    levels = node.state_names
    raised = [node.noisy.leak.p] + [
        c.p for c in node.noisy.causes if all(held[p] in s for p, s in c.given.items())
    ]
    shares = dict.fromkeys(levels, 0.0)
    for proposed in itertools.product(range(len(levels)), repeat=len(raised)):
        p = 1.0
        for level, cause in zip(proposed, raised, strict=True):
            rest = 1 - sum(cause.values())
            p *= cause.get(levels[level], 0.0) if level else rest
        shares[levels[max(proposed)]] += p
    return shares


def likelihoods(model, findings):
    """Return for each finding P(what was seen | state of its node), as {node: {state: value}}."""
    found = {}
    for finding in findings:
        node = model.node(finding.node)
        if finding.not_visible:
            found[finding.node] = {"not_visible": 1.0}
        elif finding.likelihood:
            found[finding.node] = dict(finding.likelihood)
        elif finding.sure is not None:
            wrong = (1 - finding.sure) / (len(node.state_names) - 1)
            found[finding.node] = {
                s: finding.sure if s == finding.state else wrong for s in node.state_names
            }
        else:
            found[finding.node] = {finding.state: 1.0}
    return found


def enumerate_joint(model, findings, asked):
    """Return P(evidence) and the posteriors of *asked*, by going through every joint state."""
    known, seen = tables(model), likelihoods(model, findings)
    names = list(known)
    axes = {name: i for i, name in enumerate(names)}
    total = np.ones([len(known[n][1]) for n in names])
    for name, (parents, states, table) in known.items():
        family = [*parents, name]
        sizes = [len(known[n][1]) for n in family]
        values = np.array([[row.get(s, 0.0) for s in states] for row in table.values()]).reshape(
            sizes
        )
        if name in seen:
            values = values * np.array([seen[name].get(s, 0.0) for s in states])
        order = np.argsort([axes[n] for n in family])
        shape = np.ones(len(names), dtype=int)
        shape[[axes[n] for n in family]] = sizes
        total = total * np.transpose(values, order).reshape(shape)
    evidence = total.sum()
    posteriors = {}
    for name in asked:
        others = tuple(i for n, i in axes.items() if n != name)
        posteriors[name] = dict(
            zip(known[name][1], (total.sum(axis=others) / evidence).tolist(), strict=True)
        )
    return float(evidence), posteriors


def a_piece(rng, model):
    """Draw a joint state of every node from the model, so that it can surely occur."""
    drawn = {}
    for name, (parents, states, table) in tables(model).items():
        shares = table[tuple(drawn[p] for p in parents)]
        p = np.array([shares.get(s, 0.0) for s in states])
        drawn[name] = states[rng.choice(len(states), p=p / p.sum())]
    return drawn


def random_findings(rng, model, share=0.4, truth=None):
    """Return findings of every form on random nodes, leaves and inner ones alike.

    With the *truth* of a piece the findings are such that they could be made on it.
    """
    found = []
    for node in model.nodes:
        if rng.random() > share:
            continue
        states = node.state_names
        kind = rng.integers(4)
        state = truth[node.name] if truth else str(rng.choice(states))
        if state == "not_visible" or (node.visibility and kind == 0 and not truth):
            found.append(Finding(node.name, not_visible=True))
        elif kind == 1:
            values = rng.uniform(0.05, 1, len(states))
            values = values / values.max()
            likelihood = dict(zip(states, values.tolist(), strict=True))
            found.append(Finding(node.name, likelihood=likelihood))
        elif kind == 2:
            sure = float(rng.uniform(1 / len(states), 1))
            found.append(Finding(node.name, state=state, sure=sure))
        else:
            found.append(Finding(node.name, state=state))
    return found


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
