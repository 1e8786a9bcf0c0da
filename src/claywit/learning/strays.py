"""Pieces of a reference file that lie far from every size in the model: slips, or strangers."""

from dataclasses import dataclass

import numpy as np

from claywit.evidence.cases import Cases
from claywit.learning.fit import Fit
from claywit.learning.slots import MeasureSlot, SizeSlot
from claywit.reasoning.misfits import far_measures

LOW = 8.0  # nats below the usual density, from which a piece is looked at more closely
MOST = 200  # pieces looked at closely for one node, the worst first


@dataclass(frozen=True)
class Stray:
    """A piece whose sizes lie so many scale units from all that the elicited model predicts."""

    piece: str
    line: int
    node: str
    scales: float


def strays(fit: Fit, cases: Cases) -> tuple[Stray, ...]:
    """Return the pieces with a measure that no filed state predicts, the farthest first.

    They were counted all the same: a piece may be a stranger. One slip of the unit can move a
    normal row a long way, so they are the first thing to look at again.
    """
    network, found = fit.start.numbers.network, []
    for slot in fit.start.slots:
        if not isinstance(slot, MeasureSlot | SizeSlot):
            continue
        best = slot.logs(network)[:, :-1].max(axis=0)
        read = np.flatnonzero(slot.picks < best.size)
        if not read.size:
            continue
        heights = best[slot.picks[read]]
        low = np.flatnonzero(heights < np.median(heights) - LOW)
        for row in read[low[np.argsort(heights[low], kind="stable")[:MOST]]].tolist():
            own = [f for f in cases.findings(row) if f.node == slot.node.name]
            found += [
                Stray(cases.names[row], int(cases.lines[row]), far.node, far.scales)
                for far in far_measures(network, own)
            ]
    return tuple(sorted(found, key=lambda one: (-one.scales, one.line)))
