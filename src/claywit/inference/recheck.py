"""The same question put to another engine, so that a signed number rests on two.

The tables are worked out again from the model's rows, one configuration at a time, with
densities by scipy, and the network is given to pgmpy. Nothing here uses claywit's own
arrays, likelihoods or propagation. Only the meaning of a finding (`evidence.binding`) is
shared, since it is part of what is checked.

pgmpy and scipy take seconds to import, so they are imported inside the functions.
"""

import itertools
import logging
import math
import warnings
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from claywit.evidence.findings import Finding
from claywit.inference.retold import Retold, retell
from claywit.model.propositions import Proposition
from claywit.model.schema import Model

SEEN = "seen: "  # no node of a model can have this name


@dataclass(frozen=True)
class Rechecked:
    """What the second engine says, in the units of a report.

    prior, posterior: {node: {state: p}} of the nodes asked for.
    log10_evidence: log10 P(findings); densities per the node's unit.
    prior_bans, total_bans, left_out_bans: weights of the one proposition against the other;
        infinite where a side is excluded, nan where both are.
    """

    prior: Mapping[str, Mapping[str, float]]
    posterior: Mapping[str, Mapping[str, float]]
    log10_evidence: float
    prior_bans: float
    total_bans: float
    left_out_bans: Mapping[str, float]


def recheck(
    model: Model,
    findings: Sequence[Finding],
    asked: Sequence[str],
    for_: Proposition,
    against: Proposition,
    *,
    priors: Mapping[str, Mapping[str, float]] | None = None,
) -> Rechecked:
    """Return what pgmpy says of *findings*: of the nodes *asked*, and of two propositions.

    Raises:
        ZeroDivisionError: the findings cannot stand together.
    """
    with _quiet():
        retold = retell(model, findings, priors or {})
        engine = _Engine(retold)
        every = list(retold.seen)
        none: list[str] = []
        before, after = (engine.odds(seen, for_, against) for seen in (none, every))
        left_out = {
            name: after - engine.odds([n for n in every if n != name], for_, against)
            for name in every
        }
        return Rechecked(
            {name: engine.shares(name, none) for name in asked},
            {name: engine.shares(name, every) for name in asked},
            retold.log10_factor + engine.log10_evidence(every),
            before,
            after - before,
            left_out,
        )


class _Engine:
    """pgmpy's variable elimination on the network, with a yes-or-no child for each finding."""

    def __init__(self, retold: Retold) -> None:
        from pgmpy.inference import VariableElimination
        from pgmpy.models import DiscreteBayesianNetwork

        self.retold = retold
        network = DiscreteBayesianNetwork()
        for name, table in retold.tables.items():
            columns = [[row.get(s, 0.0) for s in table.states] for row in table.rows]
            sizes = [len(retold.tables[p].states) for p in table.parents]
            _add(network, name, columns, table.parents, sizes)
        for name, shares in retold.seen.items():
            states = retold.tables[name].states
            columns = [[1 - shares.get(s, 0.0), shares.get(s, 0.0)] for s in states]
            _add(network, SEEN + name, columns, [name], [len(states)])
        self.elimination = VariableElimination(network)

    def joint(self, asked: Sequence[str], seen: Sequence[str]) -> Any:
        """Return the joint of *asked*, axes in their order, given the findings on *seen*."""
        factor = self.elimination.query(
            list(asked), evidence={SEEN + name: 1 for name in seen} or None, show_progress=False
        )
        order = [factor.variables.index(name) for name in asked]
        return factor.values.transpose(order)

    def shares(self, name: str, seen: Sequence[str]) -> dict[str, float]:
        """Return P(state | findings on *seen*) of one node."""
        values = self.joint([name], seen).tolist()
        return dict(zip(self.retold.tables[name].states, values, strict=True))

    def odds(self, seen: Sequence[str], for_: Proposition, against: Proposition) -> float:
        """Return the log10 odds of one proposition against the other."""
        asked = list(dict.fromkeys([*for_, *against]))
        joint = self.joint(asked, seen)
        sides = [self._held(joint, asked, proposition) for proposition in (for_, against)]
        one, other = (math.log10(p) if p > 0 else -math.inf for p in sides)
        return one - other if math.isfinite(one) or math.isfinite(other) else math.nan

    def _held(self, joint: Any, asked: Sequence[str], proposition: Proposition) -> float:
        places = itertools.product(*(range(size) for size in joint.shape))
        states = [self.retold.tables[name].states for name in asked]
        return math.fsum(
            float(joint[place])
            for place in places
            if all(
                states[axis][place[axis]] in proposition.get(name, states[axis])
                for axis, name in enumerate(asked)
            )
        )

    def log10_evidence(self, seen: Sequence[str]) -> float:
        """Return log10 P(all of *seen*), one finding after the other by the chain rule.

        pgmpy has no other way to ask for it, and no product of many findings runs out of
        range this way.
        """
        steps = [float(self.joint([SEEN + name], seen[:i])[1]) for i, name in enumerate(seen)]
        return math.fsum(math.log10(step) if step > 0 else -math.inf for step in steps)


def _add(
    network: Any,
    name: str,
    columns: Sequence[Sequence[float]],
    parents: Sequence[str],
    sizes: Sequence[int],
) -> None:
    """Add a node with one column of probabilities for each configuration of its parents."""
    from pgmpy.factors.discrete import TabularCPD

    network.add_node(name)
    network.add_edges_from((parent, name) for parent in parents)
    values = [list(row) for row in zip(*columns, strict=True)]
    network.add_cpds(TabularCPD(name, len(values), values, list(parents) or None, sizes or None))


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep pgmpy from printing: it logs and warns of what does not concern a reader."""
    logger = logging.getLogger("pgmpy")
    level = logger.level
    logger.setLevel(logging.ERROR)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    finally:
        logger.setLevel(level)
