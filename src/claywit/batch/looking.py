"""What to look at next on many pieces: the single trait that is worth most for its minutes."""

from dataclasses import dataclass

import numpy as np

from claywit.batch.questions import question_logs
from claywit.batch.scorer import Scorer
from claywit.evidence.cases import Cases
from claywit.inference.network import Floats
from claywit.inference.sheet import Laid
from claywit.inference.tree import Bools, Ints
from claywit.model.schema import Node
from claywit.reasoning.advice import entropy

AT_ONCE = 40_000  # columns of evidence
NOTHING = 1e-12  # bits; what rounding leaves of nothing


@dataclass(frozen=True)
class Looks:
    """The best trait to look at next, a row a piece.

    trait: its place among `candidates`, -1 where nothing is open. bits: the expected gain on
    the question. doubt: the entropy of the question in bits.
    """

    trait: Ints
    bits: Floats
    doubt: Floats


def candidates(scorer: Scorer) -> list[Node]:
    """Return the traits that may be looked at, by name, so that the first of equals is named."""
    nodes = (scorer.network.model.node(name) for name in sorted(scorer.wanted.weighed))
    return [node for node in nodes if node.examine]


def look(scorer: Scorer, cases: Cases, laid: Laid, logs: Floats) -> Looks:
    """Return the best single look at each piece, as `advise` ranks them.

    Args:
        scorer: the model.
        cases: the pieces.
        laid: the pieces on the sheet of the question.
        logs: log P(state of the question, findings), shape (states, pieces).
    """
    shares = np.exp(logs - logs.max(axis=0)).T
    doubt = entropy(shares)
    count = len(cases)
    best = np.full(count, -1, dtype=np.intp)
    bits, worth = np.zeros(count), np.full(count, -np.inf)
    for number, node in enumerate(candidates(scorer)):
        rows = np.flatnonzero(_is_open(cases, laid, node))
        if not rows.size or node.examine is None:
            continue
        parts = 1 + rows.size * laid.sheet.readings[node.name] // AT_ONCE
        left = [_left(scorer, laid, node, part, logs) for part in np.array_split(rows, parts)]
        gain = doubt[rows] - np.concatenate(left)
        gain = np.where(gain > NOTHING, gain, 0.0)
        better = gain / node.examine.minutes > worth[rows]
        chosen = rows[better]
        best[chosen], bits[chosen] = number, gain[better]
        worth[chosen] = gain[better] / node.examine.minutes
    return Looks(best, bits, doubt)


def _is_open(cases: Cases, laid: Laid, node: Node) -> Bools:
    """Return where a trait was not read, and another says that there is something to read."""
    found: Bools = ~laid.found(node.name)
    for parent, allowed in node.applies_if.items():
        above = cases.model.node(parent)
        met = [above.all_states.index(state) for state in allowed]
        codes = cases.codes.get(parent)
        applies: Bools = np.isin(codes, met) if codes is not None else np.zeros(len(cases), bool)
        for row, special in cases.special.items():
            if parent in special:
                applies[row] = special[parent].state in allowed
        found &= applies
    return found


def _left(scorer: Scorer, laid: Laid, node: Node, rows: Ints, logs: Floats) -> Floats:
    """Return the doubt in bits expected to be left once a trait has been read."""
    slots, readings = list(laid.sheet.slots[node.name]), laid.sheet.readings[node.name]
    picks = np.tile(laid.picks[:, rows], readings)
    picks[slots] = np.repeat(np.arange(1, readings + 1), len(rows))
    found = question_logs(laid, picks, np.tile(rows, readings), scorer.wanted.question)
    scaled = np.exp(found - np.tile(logs[:, rows].max(axis=0), readings))
    total = np.exp(logs[:, rows] - logs[:, rows].max(axis=0)).sum(axis=0)
    chances = scaled.sum(axis=0).reshape(readings, -1) / total
    left = entropy(scaled.T).reshape(readings, -1)
    expected: Floats = (chances * left).sum(axis=0)
    return expected
