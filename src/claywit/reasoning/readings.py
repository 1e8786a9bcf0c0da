"""Everything that may be read of a trait, as tables that evidence can enter."""

from collections.abc import Collection
from itertools import pairwise
from math import log

import numpy as np

from claywit.evidence.findings import Finding, Measure
from claywit.inference.network import Network
from claywit.inference.piece import tables_of
from claywit.inference.sheet import Reading
from claywit.model.quantities import MOST
from claywit.model.schema import Node
from claywit.model.tables import LogNormal, Normal

PARTS = 12  # into which the readings of a measure are sorted


def readings_of(network: Network, node: Node, asked: Collection[str]) -> list[Reading]:
    """Return all that may be read of a trait, as tables over its parents, or itself if *asked*."""
    findings = [Finding(node.name, state=state) for state in node.state_names]
    if node.measured:
        name = next(iter(node.measured))
        limits = [
            Measure(low=low, high=high) for low, high in pairwise([None, *_edges(node), None])
        ]
        findings = [Finding(node.name, measures={name: one}) for one in limits]
    if node.visibility:
        findings.append(Finding(node.name, not_visible=True))
    return [tables_of(network, finding, asked) for finding in findings]


def _edges(node: Node) -> list[float]:
    """Return limits that part the expected readings of a leaf's first measure about evenly."""
    spread = np.linspace(-2, 2, 9)
    points: list[float] = []
    if node.dimensions:
        name = next(iter(node.measured))
        for cavity in node.dimensions.cavity.values():
            points += [cavity[name] * (1 - s.mean) for s in node.dimensions.shrinkage.values()]
        for entry in node.dimensions.unfiled.values():
            points += list(entry.dimensions[name].mean + entry.dimensions[name].sd * spread)
    for density in (row.density for row in node.rows):
        if isinstance(density, LogNormal):
            most = log(MOST / density.median)  # nothing larger is ever read
            points += list(density.median * np.exp(np.minimum(density.log_sd * spread, most)))
        elif isinstance(density, Normal):
            points += list(density.mean + density.sd * spread)
        elif density:
            points += list(density.location + density.scale * spread)
    edges = np.quantile(points, np.linspace(0, 1, PARTS + 1)[1:-1])
    return sorted({float(edge) for edge in edges})
