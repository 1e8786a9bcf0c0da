"""Pieces drawn from the demo model as evidence, for tests that need many of them.

Everything is drawn from the rows by numpy alone, never by claywit's own simulation.
"""

import numpy as np
from oracles import oracle

from claywit.evidence.findings import Finding, Measure


class Drawer:
    """Draws whole pieces from a model with one joint leaf `size` and single measured leaves."""

    def __init__(self, model, rng):
        self.model, self.rng = model, rng
        self.tables = oracle(model).tables

    def states(self):
        """Return a state of every discrete node, drawn in the order in which parents come first."""
        truth = {}
        waiting = list(self.tables)
        while waiting:
            name = next(n for n in waiting if all(p in truth for p in self.tables[n][0]))
            parents, states, table = self.tables[name]
            row = table[tuple(truth[p] for p in parents)]
            p = np.array([max(row.get(s, 0.0), 0.0) for s in states])
            truth[name] = str(self.rng.choice(states, p=p / p.sum()))
            waiting.remove(name)
        return truth

    def size(self, mould, paste):
        """Return a height and a width as the model has them."""
        leaf = self.model.node("size")
        sizes = leaf.dimensions
        u = np.array([leaf.u[d] for d in leaf.measured])
        if mould in sizes.unfiled:
            entry = sizes.unfiled[mould]
            sd = np.array([entry.dimensions[d].sd for d in leaf.measured])
            together = np.where(np.eye(len(sd)) == 1, 1.0, entry.correlation)
            at = np.array([entry.dimensions[d].mean for d in leaf.measured])
            scale, df = together * np.outer(sd, sd) + np.diag(u**2), float(entry.tails)
        else:
            cavity = np.array([sizes.cavity[mould][d] for d in leaf.measured])
            shrinkage = sizes.shrinkage[paste]
            at = cavity * (1 - shrinkage.mean)
            scale, df = (
                np.diag(u**2) + shrinkage.sd**2 * np.outer(cavity, cavity),
                float(sizes.tails),
            )
        step = self.rng.multivariate_normal(np.zeros(len(at)), scale)
        value = at + step / np.sqrt(self.rng.chisquare(df) / df)
        return {d: Measure(value=float(v)) for d, v in zip(leaf.measured, value, strict=True)}

    def measure(self, name, truth):
        """Return a value of a leaf with one measure."""
        node = self.model.node(name)
        row = next(r for r in node.rows if all(truth[p] in s for p, s in r.given.items()))
        key = next(iter(node.measured))
        u = node.u.get(key, 0.0)
        if row.log_normal:
            value = row.log_normal.median * np.exp(row.log_normal.log_sd * self.rng.normal())
        elif row.normal:
            value = self.rng.normal(row.normal.mean, np.hypot(row.normal.sd, u))
        else:
            t = row.student_t
            value = t.location + np.hypot(t.scale, u) * self.rng.standard_t(t.df)
        return {key: Measure(value=float(value))}

    def piece(self, traits):
        """Return the truth of a drawn piece, and its findings on *traits* by name."""
        truth = self.states()
        found = {}
        for name in traits:
            node = self.model.node(name)
            if node.dimensions:
                found[name] = Finding(name, measures=self.size(truth["mould"], truth["paste"]))
            elif node.measured:
                found[name] = Finding(name, measures=self.measure(name, truth))
            elif truth[name] == "not_visible":
                found[name] = Finding(name, not_visible=True)
            else:
                found[name] = Finding(name, state=truth[name])
        return truth, found
