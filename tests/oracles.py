"""Models as other engines take them, built from the rows and never from claywit's arrays.

A measured leaf with a finding becomes a node of two states, *so* and *not*, whose share of
*so* under each state of the parents is the density by scipy, scaled to a largest of 1.
"""

import itertools
from dataclasses import dataclass
from math import fsum, hypot

import numpy as np
from scipy import stats


@dataclass(frozen=True)
class Oracle:
    """tables: {node: (parents, states, {configuration: {state: p}})}.

    seen: {node: {state: P(what was seen | state)}}; factor: what scaling took out.
    """

    tables: dict
    seen: dict
    factor: float


def oracle(model, findings=()):
    by_node = {finding.node: finding for finding in findings}
    found, factor = {}, 1.0
    for node in model.nodes:
        if node.measured and node.name not in by_node:
            continue
        rows = _rows(model, node, by_node.get(node.name))
        if node.measured:
            top = max(rows.values())
            factor *= 1 if by_node[node.name].not_visible else top
            rows = {given: {"so": p / top, "not": 1 - p / top} for given, p in rows.items()}
        found[node.name] = _with_hiding(model, node, rows)
    return Oracle(found, {f.node: _seen(model, f) for f in findings}, factor)


def _rows(model, node, finding):
    """Return {states of the node's own parents: its row}."""
    listed = [model.node(p).state_names for p in node.parents]
    rows = {}
    for given in itertools.product(*listed):
        held = dict(zip(node.parents, given, strict=True))
        if node.noisy:
            rows[given] = _gate_row(node, held)
            continue
        row = _matching(node, held)
        total = fsum((row.p or {}).values())
        rows[given] = (
            _density(node, row, finding)
            if node.measured
            else {s: row.p.get(s, 0.0) / total for s in node.state_names}
        )
    return rows


def _matching(node, held):
    named = [r for r in node.rows if r.given or not node.parents]
    default = [r for r in node.rows if not r.given]
    return next(
        r for r in [*named, *default] if all(held[p] in states for p, states in r.given.items())
    )


def _gate_row(node, held):
    """Return P(highest proposal), by going through what every cause may propose."""
    levels = node.state_names
    raised = [node.noisy.leak.p] + [
        c.p for c in node.noisy.causes if all(held[p] in s for p, s in c.given.items())
    ]
    shares = dict.fromkeys(levels, 0.0)
    for proposed in itertools.product(range(len(levels)), repeat=len(raised)):
        p = 1.0
        for level, cause in zip(proposed, raised, strict=True):
            p *= cause.get(levels[level], 0.0) if level else 1 - sum(cause.values())
        shares[levels[max(proposed)]] += p
    return shares


def _density(node, row, finding):
    """Return the density of a value, or the probability between two limits, by scipy."""
    if finding.not_visible:
        return 1.0
    measure = finding.measures["size"]
    u = 0.0 if measure.value is None else measure.u or node.u["size"]
    if row.normal:
        frozen = stats.norm(row.normal.mean, hypot(row.normal.sd, u))
    elif row.student_t:
        t = row.student_t
        frozen = stats.t(t.df, t.location, hypot(t.scale, u))
    else:
        on_log = u / measure.value if measure.value else 0
        frozen = stats.lognorm(hypot(row.log_normal.log_sd, on_log), scale=row.log_normal.median)
    if measure.value is not None:
        return float(frozen.pdf(measure.value))
    low = -np.inf if measure.low is None else measure.low
    if low > frozen.median():
        return float(frozen.sf(low) - frozen.sf(measure.high))
    return float(frozen.cdf(measure.high) - frozen.cdf(low))


def _with_hiding(model, node, rows):
    states = list(node.state_names) or ["so", "not"]
    if not node.visibility:
        return node.parents, states, rows
    hiding = model.node(node.visibility.parent).state_names
    hidden = {
        (*given, by): {s: p * (1 - node.visibility.p[by]) for s, p in row.items()}
        | {"not_visible": node.visibility.p[by]}
        for given, row in rows.items()
        for by in hiding
    }
    return (*node.parents, node.visibility.parent), [*states, "not_visible"], hidden


def _seen(model, finding):
    states = model.node(finding.node).state_names
    if finding.not_visible:
        return {"not_visible": 1.0}
    if finding.measures:
        return {"so": 1.0}
    if finding.likelihood:
        return dict(finding.likelihood)
    if finding.matrix:
        rows = model.reading_matrices[finding.matrix].p
        return {s: rows[s].get(finding.state, 0.0) for s in states}
    if finding.sure is None:
        return {finding.state: 1.0}
    wrong = (1 - finding.sure) / (len(states) - 1)
    return {s: finding.sure if s == finding.state else wrong for s in states}


def a_piece(rng, model):
    """Draw a state of every discrete node from the model, so that they surely can occur."""
    known, truth = oracle(model).tables, {}
    for name in sorted(known, key=lambda n: int(n[1:])):
        parents, states, table = known[name]
        row = table[tuple(truth[p] for p in parents)]
        p = np.array([max(row.get(s, 0.0), 0.0) for s in states])
        truth[name] = str(rng.choice(states, p=p / p.sum()))
    return truth


def joint_table(known):
    """Return P(joint state, evidence), one axis for each node in the order of the tables."""
    axes = {name: i for i, name in enumerate(known.tables)}
    total = np.ones([len(states) for _, states, _ in known.tables.values()])
    for name, (parents, states, table) in known.tables.items():
        family = [*parents, name]
        sizes = [len(known.tables[n][1]) for n in family]
        values = np.array([[row.get(s, 0.0) for s in states] for row in table.values()])
        if name in known.seen:
            values = values * np.array([known.seen[name].get(s, 0.0) for s in states])
        shape = np.ones(len(axes), dtype=int)
        shape[[axes[n] for n in family]] = sizes
        order = np.argsort([axes[n] for n in family])
        total = total * np.transpose(values.reshape(sizes), order).reshape(shape)
    return total


def enumerate_joint(known):
    """Return P(evidence) and the posterior of every node, by going through every joint state."""
    total = joint_table(known)
    evidence = total.sum()
    posteriors = {}
    for i, (name, (_, states, _)) in enumerate(known.tables.items()):
        others = tuple(j for j in range(total.ndim) if j != i)
        shares = total.sum(axis=others) / evidence
        posteriors[name] = dict(zip(states, shares.tolist(), strict=True))
    return float(evidence) * known.factor, posteriors
